//! What a terminal asks its driver to sound.

use fifthpeg_core::{Pitch, Reference};

use crate::Moment;
use crate::message::{Rules, Tone};

/// One order to sound, so that the driver can say when it really started.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SoundId(pub u64);

/// Why a tone sounds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SoundKind {
    /// The first hearing of a call; response times count from here.
    Call,
    /// A later hearing of a call.
    Hearing,
    /// A place or pitch tried.
    Try,
}

/// A tone to be sounded.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SoundOrder {
    /// Names the order for
    /// [`Terminal::handle_sounded`](super::Terminal::handle_sounded).
    pub id: SoundId,
    /// What to sound.
    pub tone: Tone,
    /// When it is to leave the output, on the student's clock; not later than
    /// now means at once.
    pub at: Moment,
    /// Why.
    pub kind: SoundKind,
}

/// The tone of a place or pitch that a student tries, in the lesson's voice
/// and tuning. The pluck's seed comes from the pitch, so that the same fret
/// always sounds the same.
pub(super) fn tone_of_try(pitch: Pitch, rules: &Rules) -> Tone {
    let reference = Reference::new(rules.a4_hz).unwrap_or_default();
    Tone {
        frequency_hz: pitch.frequency_hz(reference),
        voice: rules.voice,
        pluck_seed: u32::from(pitch.midi()),
    }
}
