//! What the ear tells.

use std::fmt;

use fifthpeg_core::Pitch;

/// Names one pluck, so that what comes later can be put to it. Counts up from
/// nought for each ear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PluckId(pub u64);

/// A pluck whose pitch is decided.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pluck {
    /// Which pluck this is.
    pub id: PluckId,
    /// Where the string was let go, as a sample position.
    pub onset: f64,
    /// How far `onset` may be out either way, in samples.
    pub onset_uncertainty: f64,
    /// The note.
    pub pitch: Pitch,
    /// How far the note lies from `pitch`, in cents, roughly: within about 10.
    pub cents: f64,
    /// Level of the pluck, in dB re full scale (a full-scale sine is -3.01 dB).
    pub level_db: f64,
    /// Sample position up to which the ear had heard when it decided.
    pub decided_at: u64,
}

/// Where the intonation of a pluck has settled, read 150 to 250 ms after the
/// onset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settled {
    /// Which pluck this is about.
    pub id: PluckId,
    /// How far the fundamental lies from the pluck's pitch, in cents.
    pub cents: f64,
    /// How far the partials disagree, in cents (one standard deviation of
    /// `cents`).
    pub spread_cents: f64,
}

/// Why no note, or no longer a note, is named.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum EarDoubt {
    /// Two or more notes began together.
    SeveralNotes,
    /// The pitch moved away after the onset.
    Slide,
    /// Far softer than the player's own notes, or lost in the room's noise.
    TooQuiet,
    /// A sharp onset in which no one note stands out.
    NoClearPitch,
    /// The pitch wavered, or the note was cut off before it could be told what
    /// it was.
    Unsteady,
    /// A tone that is held and does not die away: a beep, a whistle.
    HeldTone,
    /// Somebody talks or sings.
    Voice,
    /// A knock, a clap, a key that is typed, the pick that touches a string.
    Knock,
    /// It did not behave as a plucked string does, in some other way.
    NotAPluck,
}

impl EarDoubt {
    /// Whether a player would call it a pluck, and so wants to know why it does
    /// not count.
    pub fn is_pluck_like(self) -> bool {
        fifthpeg_core::Doubt::from(self).is_pluck_like()
    }
}

/// As a lesson tells it apart.
impl From<EarDoubt> for fifthpeg_core::Doubt {
    fn from(why: EarDoubt) -> Self {
        match why {
            EarDoubt::SeveralNotes => Self::SeveralNotes,
            EarDoubt::Slide => Self::Slide,
            EarDoubt::TooQuiet => Self::TooQuiet,
            EarDoubt::NoClearPitch => Self::NoClearPitch,
            EarDoubt::Unsteady => Self::Unsteady,
            EarDoubt::HeldTone | EarDoubt::Voice | EarDoubt::Knock | EarDoubt::NotAPluck => {
                Self::NotAPluck
            }
        }
    }
}

impl fmt::Display for EarDoubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            EarDoubt::SeveralNotes => "several notes at once",
            EarDoubt::Slide => "the note slid",
            EarDoubt::TooQuiet => "too quiet to be yours",
            EarDoubt::NoClearPitch => "no clear note",
            EarDoubt::Unsteady => "the note did not ring steadily",
            EarDoubt::HeldTone => "a held tone",
            EarDoubt::Voice => "a voice",
            EarDoubt::Knock => "a knock",
            EarDoubt::NotAPluck => "not a plucked string",
        })
    }
}

/// One thing the ear has to tell.
///
/// After each [`Heard::Pluck`] comes exactly one of [`Heard::MayAnswer`],
/// [`Heard::MayNotAnswer`] and [`Heard::Withdrawn`], within 0.34 seconds of its onset.
/// It is final.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Heard {
    /// A pluck whose pitch is decided.
    Pluck(Pluck),
    /// Where a pluck's intonation has settled: told just before
    /// [`Heard::MayAnswer`] or [`Heard::MayNotAnswer`], where it could be read.
    Settled(Settled),
    /// What was taken for a pluck of the player's was none after all.
    Withdrawn {
        /// Which pluck this takes back.
        id: PluckId,
        /// Why.
        why: EarDoubt,
    },
    /// A pluck that sounded like a string of this instrument long enough: it may
    /// count towards an answer.
    MayAnswer {
        /// Which pluck.
        id: PluckId,
        /// Sample position up to which the ear had heard when it decided.
        at: u64,
    },
    /// A pluck that stands as a try, and may not count towards an answer.
    MayNotAnswer {
        /// Which pluck.
        id: PluckId,
        /// Why.
        why: EarDoubt,
    },
    /// An onset for which no note is named; told when it is known what it was, as
    /// late as a pluck's last word. Where a player would not call it a pluck, see
    /// [`EarDoubt::is_pluck_like`].
    Unsure {
        /// Sample position of the onset.
        onset: f64,
        /// Level, in dB re full scale.
        level_db: f64,
        /// Why no note is named.
        why: EarDoubt,
    },
}
