//! What a driver's ear reports, and what is shown of it.

pub use fifthpeg_core::Doubt;
use fifthpeg_core::Pitch;

use crate::Moment;

/// What the driver's ear reports, with moments on the student's clock.
pub type HeardNote = fifthpeg_core::HeardNote<Moment>;

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
