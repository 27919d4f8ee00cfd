//! Where tones go. Each kind of output is one file and one line in [`OUTPUTS`].

mod device;
mod none;
mod stream_clock;
mod trim;
mod wav;

pub use trim::{TRIMS_MS, Trim, Trimmed};

use crate::choice::{Argument, Choice, Kind, Kinds};
use crate::{Level, SoundError, ToneSpec};
use fifthpeg_log::Chain;
use std::time::{Duration, Instant};
use tracing::{info, warn};

/// When a tone leaves the output.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Started {
    /// The best estimate, on this machine's monotonic clock.
    pub at: Instant,
    /// The tone left within this of `at`, as far as the output can tell. Each
    /// output's page says what it counts in.
    pub uncertainty: Duration,
    /// Whether there is anything to hear, in the room or in a file. Without it
    /// nobody's hearing started at `at`.
    pub audible: bool,
}

/// How far ahead a tone may be asked for. Bounds what a lesson with a broken
/// clock can have an output hold or write.
pub const MAX_AHEAD: Duration = Duration::from_secs(60);

/// Something that sounds tones.
pub trait Output: Send {
    /// Sounds a tone at an instant, or at once if that has passed; when it
    /// starts (or will). Never waits for the tone.
    ///
    /// # Errors
    /// When the tone cannot be made or is asked for more than [`MAX_AHEAD`] from
    /// now, the output has failed, or too many tones are waiting.
    fn play(&mut self, tone: &ToneSpec, at: Instant) -> Result<Started, SoundError>;

    /// Samples a second that [`Output::play_samples`] takes; `None` if it plays
    /// tones only, or cannot be heard at all.
    fn sample_rate_hz(&self) -> Option<u32> {
        None
    }

    /// Plays samples of our own making (mono, full scale 1.0, at
    /// [`Output::sample_rate_hz`]) as [`Output::play`] plays a tone: within the
    /// level's ceiling, and with soft edges.
    ///
    /// # Errors
    /// As [`Output::play`]; and always, if it plays tones only.
    fn play_samples(
        &mut self,
        samples: &[f32],
        level: Level,
        at: Instant,
    ) -> Result<Started, SoundError> {
        let _ = (samples, level, at);
        Err(SoundError::LoopSilent)
    }

    /// The name that the sound system gives the device, where there is one: what a
    /// [`Trim`] is kept by.
    fn device_name(&self) -> Option<String> {
        None
    }

    /// Takes another trim from now on; false if it is no [`Trimmed`].
    fn set_trim(&mut self, trim: Trim) -> bool {
        let _ = trim;
        false
    }

    /// What it is, in a few words for a screen.
    fn describe(&self) -> String;

    /// Ends it in good order: a file is completed, with tones still sounding
    /// written to their end; a device falls silent.
    ///
    /// # Errors
    /// When what was played could not all be kept.
    fn finish(self: Box<Self>) -> Result<(), SoundError>;
}

/// Every kind of output.
pub const OUTPUTS: &[OutputKind] = &[device::KIND, wav::KIND, none::KIND];

/// One kind of output.
pub type OutputKind = Kind<dyn Output>;

/// The outputs there are.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outputs;

impl Kinds for Outputs {
    type Opened = dyn Output;
    const CALLED: &'static str = "output";
    const ALL: &'static [OutputKind] = OUTPUTS;
}

/// An output as people write it: `device`, `device:NAME`, `wav:FILE` or `none`.
pub type OutputChoice = Choice<Outputs>;

/// Opens an output.
///
/// # Errors
/// [`SoundError`] when it cannot be opened; never panics.
pub fn open(choice: &OutputChoice) -> Result<Box<dyn Output>, SoundError> {
    let kind = choice.kind().name;
    let opened = choice.open();
    match &opened {
        Ok(output) => info!(name: "output-opened", kind, rate_hz = output.sample_rate_hz()),
        Err(error) => warn!(name: "output-not-opened", kind, error = %Chain(error)),
    }
    opened
}

/// The instant at which a tone asked for `at` can start: not in the past.
fn not_past(at: Instant) -> Result<Instant, SoundError> {
    let now = Instant::now();
    if at.saturating_duration_since(now) > MAX_AHEAD {
        return Err(SoundError::TooFarAhead);
    }
    Ok(at.max(now))
}

/// Opens an output, or a silent one in its place: a lesson goes on without
/// sound. With the silent one comes what to tell the user, in one sentence.
pub fn open_or_silent(choice: &OutputChoice) -> (Box<dyn Output>, Option<String>) {
    match open(choice) {
        Ok(output) => (output, None),
        Err(error) => (
            Box::new(none::Silent),
            Some(format!("Going on without sound: {error}.")),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn choices_are_read_as_they_are_written() {
        for text in ["device", "device:hw:0", "wav:a b/c.wav", "none"] {
            let choice: OutputChoice = text.parse().unwrap();
            assert_eq!(choice.to_string(), text);
            assert_eq!(choice.to_string().parse(), Ok(choice));
        }
    }

    #[test]
    fn bad_choices_say_what_to_write_instead() {
        let known = "lute".parse::<OutputChoice>().unwrap_err().to_string();
        for kind in OUTPUTS {
            assert!(known.contains(kind.example), "{known}");
        }
        for bad in ["wav", "wav:", "none:x", "device:"] {
            let error = bad.parse::<OutputChoice>().unwrap_err();
            assert!(
                matches!(error, SoundError::ChoiceArgument { .. }),
                "{bad}: {error}"
            );
        }
    }

    #[test]
    fn an_output_that_fails_to_open_leaves_a_silent_one_and_a_sentence() {
        let choice = "wav:/dev/null/nowhere/x.wav".parse().unwrap();
        let (output, said) = open_or_silent(&choice);
        assert_eq!(output.describe(), "no sound");
        assert!(said.unwrap().starts_with("Going on without sound: "));
    }
}
