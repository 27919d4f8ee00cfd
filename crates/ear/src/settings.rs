//! What an ear is told before it listens: the rate of the samples, and which
//! notes the neck has. Never which note is wanted.

use fifthpeg_core::{Pitch, Reference};

use crate::EarError;

/// The lowest note that may be asked for: B0, the low string of a five-string
/// bass.
pub const LOWEST: Pitch = fixed(23);
/// The highest note that may be asked for: C7.
pub const HIGHEST: Pitch = fixed(96);
/// How far beyond the neck the ear still names notes, in semitones: a note that
/// is there is told as what it is, not forced onto the neck.
pub const BEYOND: i32 = 3;

const fn fixed(midi: u8) -> Pitch {
    match Pitch::new(midi) {
        Some(pitch) => pitch,
        None => panic!("a MIDI number is at most 127"),
    }
}

/// What an [`Ear`](crate::Ear) listens for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EarSettings {
    /// Samples a second, 16000 to 192000.
    pub sample_rate_hz: u32,
    /// Lowest note of the neck.
    pub lowest: Pitch,
    /// Highest note of the neck.
    pub highest: Pitch,
    /// What the instrument is tuned to.
    pub reference: Reference,
}

impl EarSettings {
    /// The settings themselves, if an ear can work with them.
    ///
    /// # Errors
    /// [`EarError`] for a rate or notes outside what the ear is built for.
    pub fn checked(self) -> Result<EarSettings, EarError> {
        if !(16_000..=192_000).contains(&self.sample_rate_hz) {
            return Err(EarError::Rate {
                rate_hz: self.sample_rate_hz,
            });
        }
        if self.lowest > self.highest {
            return Err(EarError::Range {
                lowest: self.lowest,
                highest: self.highest,
            });
        }
        for pitch in [self.lowest, self.highest] {
            if !(LOWEST..=HIGHEST).contains(&pitch) {
                return Err(EarError::OutOfHearing { pitch });
            }
        }
        Ok(self)
    }

    /// The lowest and highest MIDI number that is heard as a note.
    pub fn hearing(&self) -> (i32, i32) {
        let low = i32::from(self.lowest.midi()) - BEYOND;
        let high = i32::from(self.highest.midi()) + BEYOND;
        (
            low.max(i32::from(LOWEST.midi()) - 1),
            high.min(i32::from(HIGHEST.midi()) + 1),
        )
    }
}
