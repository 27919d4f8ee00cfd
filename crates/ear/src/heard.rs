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
pub enum Doubt {
    /// Two or more notes began together.
    SeveralNotes,
    /// The pitch moved away after the onset.
    Slide,
    /// Far softer than the player's own notes, or lost in the room's noise.
    TooQuiet,
    /// A sharp onset in which no one note stands out.
    NoClearPitch,
    /// A voice, a knock, a clap: it did not behave as a plucked string does.
    NotAPluck,
}

impl fmt::Display for Doubt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Doubt::SeveralNotes => "several notes at once",
            Doubt::Slide => "the note slid",
            Doubt::TooQuiet => "too quiet to be yours",
            Doubt::NoClearPitch => "no clear note",
            Doubt::NotAPluck => "not a plucked string",
        })
    }
}

/// One thing the ear has to tell.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Heard {
    /// A pluck whose pitch is decided.
    Pluck(Pluck),
    /// Where a pluck's intonation has settled. No pluck is withdrawn after this.
    Settled(Settled),
    /// What was taken for a pluck was none after all.
    Withdrawn {
        /// Which pluck this takes back.
        id: PluckId,
        /// Why.
        why: Doubt,
    },
    /// An onset for which no note is named.
    Unsure {
        /// Sample position of the onset.
        onset: f64,
        /// Level, in dB re full scale.
        level_db: f64,
        /// Why no note is named.
        why: Doubt,
    },
}
