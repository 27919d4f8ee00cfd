//! Why an ear cannot be made.

use fifthpeg_core::{Pitch, Spelling};

/// Settings that no ear can work with.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum EarError {
    /// A sample rate outside what the analysis is built for.
    #[error(
        "the microphone gives {rate_hz} samples a second, which is outside 16000 to 192000: choose another input, or set it to 48000"
    )]
    Rate {
        /// What was given, in hertz.
        rate_hz: u32,
    },
    /// The lowest note lies above the highest.
    #[error(
        "the lowest note to listen for, {}, lies above the highest, {}: swap them",
        lowest.name(Spelling::Sharps),
        highest.name(Spelling::Sharps)
    )]
    Range {
        /// The lowest note asked for.
        lowest: Pitch,
        /// The highest note asked for.
        highest: Pitch,
    },
    /// A note that is too low to be heard in time.
    #[error(
        "the ear hears notes from {} up to {}, and {} is outside that: choose another neck or capo",
        super::settings::LOWEST.name(Spelling::Sharps),
        super::settings::HIGHEST.name(Spelling::Sharps),
        pitch.name(Spelling::Sharps)
    )]
    OutOfHearing {
        /// The note asked for.
        pitch: Pitch,
    },
}
