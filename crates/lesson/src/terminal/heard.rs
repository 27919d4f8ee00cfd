//! What a driver's ear reports, and what is shown of it.

use core::time::Duration;
pub use fifthpeg_core::Doubt;
use fifthpeg_core::Pitch;

use crate::Moment;

/// What the driver's ear reports, with moments on the student's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum HeardNote {
    /// A pluck whose pitch is decided.
    Pluck {
        /// Names it for [`HeardNote::Settled`] and [`HeardNote::Withdrawn`];
        /// never used again.
        id: u64,
        /// The pitch.
        pitch: Pitch,
        /// How far from it, roughly, in cents.
        cents: f32,
        /// The onset.
        at: Moment,
        /// How far the onset may be off either way.
        uncertainty: Duration,
    },
    /// Where a pluck's intonation has settled: it will not be withdrawn.
    Settled {
        /// Which pluck.
        id: u64,
        /// How far from its pitch, in cents.
        cents: f32,
        /// How far that moved, in cents.
        spread_cents: f32,
    },
    /// What was taken for a pluck was none.
    Withdrawn {
        /// Which pluck.
        id: u64,
        /// What it was.
        why: Doubt,
    },
    /// A pluck that may count towards an answer. Each pluck gets exactly one of
    /// this, [`HeardNote::MayNotAnswer`] and [`HeardNote::Withdrawn`].
    MayAnswer {
        /// Which pluck.
        id: u64,
    },
    /// A pluck that stands as a try, and may not count towards an answer.
    MayNotAnswer {
        /// Which pluck.
        id: u64,
        /// Why not.
        why: Doubt,
    },
    /// An onset that no note was named for.
    Unsure {
        /// The onset.
        at: Moment,
        /// Why not.
        why: Doubt,
    },
    /// A sung note that was held.
    Sung {
        /// The frequency, in hertz, vibrato averaged out.
        frequency_hz: f64,
        /// How far the voice moved about it, in cents either way.
        spread_cents: f32,
        /// When it began.
        at: Moment,
        /// How long it was held.
        lasted: Duration,
    },
}

/// A pluck of the open call that does not count towards an answer, for showing;
/// gone once one that counts follows, or the call does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Uncounted {
    /// Its number.
    pub id: u64,
    /// The pitch.
    pub pitch: Pitch,
    /// Why not.
    pub why: Doubt,
    /// How many of this pitch in a row did not count.
    pub in_a_row: u8,
}

/// Whether the terminal listens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Listening {
    /// No microphone.
    #[default]
    Off,
    /// Not just now: a tone of the lesson sounds.
    Muted,
    /// Yes.
    On,
}

/// The pluck heard last, for showing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeardPluck {
    /// Its number.
    pub id: u64,
    /// The pitch.
    pub pitch: Pitch,
    /// How far from it, in cents.
    pub cents: f32,
    /// Whether that has settled, or is rough still.
    pub settled: bool,
    /// The onset, on this terminal's clock.
    pub at: Moment,
}
