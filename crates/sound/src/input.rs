//! Where sound is heard. Each kind of input is one file and one line in
//! [`INPUTS`].
//!
//! What an input hears is handed on as samples and kept nowhere: no input writes
//! sound anywhere.

mod capture_clock;
mod microphone;
mod mixing;
mod none;
mod tap;
mod wav;

use crate::SoundError;
use crate::choice::{Argument, Choice, Kind, Kinds};
use crate::devices::Use;
use fifthpeg_log::Chain;
use std::time::{Duration, Instant};
use tracing::{debug, warn};

/// Where and when a block of samples was taken in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Captured {
    /// The position of the block's first sample, counted from the opening of the
    /// input; samples that were lost count too.
    pub first_frame: u64,
    /// How many samples were lost just before the block.
    pub lost_frames: u64,
    /// When the first sample was in the air, as well as the input can tell, on
    /// this machine's monotonic clock.
    pub at: Instant,
    /// It was within this of `at`. Each input's page says what it counts in.
    pub uncertainty: Duration,
}

/// Something that hears: mono samples, full scale 1.0.
pub trait Input: Send {
    /// Samples a second, within [`SAMPLE_RATES_HZ`](crate::SAMPLE_RATES_HZ).
    fn rate_hz(&self) -> u32;

    /// What it is, in a few words for a screen.
    fn describe(&self) -> String;

    /// Puts the next samples into `into`, in place of what is there, waiting up
    /// to `wait` for some; `None` if none came.
    ///
    /// # Errors
    /// When the input has gone away. [`Input::reopen`] may bring it back.
    fn read(&mut self, into: &mut Vec<f32>, wait: Duration)
    -> Result<Option<Captured>, SoundError>;

    /// Opens it anew after it was lost; frames count from zero again, and the
    /// rate may be another.
    ///
    /// # Errors
    /// When it cannot be opened (yet).
    fn reopen(&mut self) -> Result<(), SoundError>;
}

/// Every kind of input.
pub const INPUTS: &[InputKind] = &[microphone::KIND, wav::KIND, none::KIND];

/// One kind of input.
pub type InputKind = Kind<dyn Input>;

/// The inputs there are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Inputs;

impl Kinds for Inputs {
    type Opened = dyn Input;
    const CALLED: &'static str = "input";
    const ALL: &'static [InputKind] = INPUTS;
}

/// An input as people write it: `microphone`, `microphone:NAME`, `wav:FILE` or
/// `none`.
pub type InputChoice = Choice<Inputs>;

/// Opens an input. Takes up to a few seconds.
///
/// # Errors
/// [`SoundError`] when it cannot be opened; never panics.
pub fn open_input(choice: &InputChoice) -> Result<Box<dyn Input>, SoundError> {
    let kind = choice.kind().name;
    let opened = choice.open();
    match &opened {
        Ok(input) => debug!(name: "input-opened", kind, rate_hz = input.rate_hz()),
        Err(error) => warn!(name: "input-not-opened", kind, error = %Chain(error)),
    }
    opened
}

/// The names that `microphone:NAME` may hold on this machine; empty if it has
/// none to tell.
pub fn input_names() -> Vec<String> {
    Use::Listen.names()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choices_are_read_as_they_are_written() {
        for text in ["microphone", "microphone:hw:0", "wav:a b/c.wav", "none"] {
            let choice: InputChoice = text.parse().unwrap();
            assert_eq!(choice.to_string(), text);
            assert_eq!(choice.to_string().parse(), Ok(choice.clone()));
            assert_eq!(choice.is_none(), text == "none");
        }
        assert!(InputChoice::none().is_none());
        assert_eq!(InputChoice::none().to_string(), "none");
        assert_eq!(InputChoice::default().to_string(), "microphone");
    }

    #[test]
    fn bad_choices_say_what_to_write_instead() {
        let known = "lute".parse::<InputChoice>().unwrap_err().to_string();
        for kind in INPUTS {
            assert!(known.contains(kind.example), "{known}");
        }
        for bad in ["wav", "wav:", "none:x", "microphone:"] {
            let error = bad.parse::<InputChoice>().unwrap_err();
            assert!(
                matches!(error, SoundError::ChoiceArgument { .. }),
                "{bad}: {error}"
            );
        }
    }
}
