//! What can go wrong with sound, told to a musician.

use std::path::PathBuf;

use fifthpeg_core::Cause;
use fifthpeg_tone::ToneError;

/// Why a tone could not be made or played. Each reads as one sentence with what
/// to do next.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum SoundError {
    /// The tone itself cannot be made.
    #[error(transparent)]
    Tone(#[from] ToneError),
    /// An output or input that is not in the table.
    #[error("there is no {what} called '{choice}': choose one of {known}")]
    UnknownChoice {
        /// Output or input.
        what: &'static str,
        /// What was typed.
        choice: String,
        /// Those there are, with their arguments.
        known: String,
    },
    /// One that needs an argument and got none, or the other way round.
    #[error("the {what} '{name}' is written '{example}'")]
    ChoiceArgument {
        /// Output or input.
        what: &'static str,
        /// Its name.
        name: &'static str,
        /// How it is written.
        example: &'static str,
    },
    /// No sound device at all.
    #[error(
        "no sound device was found: plug one in, or choose the output 'none' or 'wav:FILE' instead"
    )]
    NoDevice,
    /// The system's sound library is not installed, or this program was made without it.
    #[error(
        "{}, or choose the output 'none' or 'wav:FILE' and answer on the screen",
        crate::system::NO_LIBRARY
    )]
    NoLibrary,
    /// No sound device of this name.
    #[error("no sound device is called '{name}': the ones here are {known}")]
    UnknownDevice {
        /// What was asked for.
        name: String,
        /// The names there are.
        known: String,
    },
    /// The device is there but would not open.
    #[error(
        "the sound device would not open ({reason}): close programs that hold it, or choose another output"
    )]
    Device {
        /// What the sound system said.
        #[source]
        reason: Cause,
    },
    /// The device went away while in use.
    #[error(
        "the sound device stopped ({reason}): plug it in again, it is tried again by itself; or choose another output"
    )]
    DeviceLost {
        /// What the sound system said.
        #[source]
        reason: Cause,
    },
    /// The WAV file could not be made or written.
    #[error("the sound file {} could not be written ({reason}): choose another place for it", path.display())]
    File {
        /// The file.
        path: PathBuf,
        /// What the system said.
        #[source]
        reason: Cause,
    },
    /// The WAV file has reached the length that its format can hold.
    #[error("the sound file {} is full: end the lesson and start another file", path.display())]
    FileFull {
        /// The file.
        path: PathBuf,
    },
    /// A file that is there already and holds something else than sound.
    #[error("{} is there already and is no WAV file: choose another name, so that nothing is lost", path.display())]
    NotOurs {
        /// The file.
        path: PathBuf,
    },
    /// A tone asked for more than [`MAX_AHEAD`](crate::MAX_AHEAD) from now.
    #[error("a tone was asked for too far ahead: check that the clocks of both machines run")]
    TooFarAhead,
    /// More than [`MAX_TONES`](crate::MAX_TONES) tones at once.
    #[error("too many tones are waiting to sound: wait until some have died away")]
    TooManyTones,
    /// No microphone at all.
    #[error(
        "no microphone was found: plug one in, or choose the input 'none' and answer on the screen"
    )]
    NoMicrophone,
    /// No microphone of this name.
    #[error("no microphone is called '{name}': the ones here are {known}")]
    UnknownMicrophone {
        /// What was asked for.
        name: String,
        /// The names there are.
        known: String,
    },
    /// The system keeps the microphone from this program.
    #[error(
        "this program may not listen to the microphone ({reason}): see that the sound system runs, allow the microphone in its privacy settings, or choose the input 'none'"
    )]
    MicrophoneDenied {
        /// What the sound system said.
        #[source]
        reason: Cause,
    },
    /// Somebody else has the microphone.
    #[error(
        "another program holds the microphone ({reason}): close that program, or choose another input"
    )]
    MicrophoneBusy {
        /// What the sound system said.
        #[source]
        reason: Cause,
    },
    /// The microphone is there but would not open.
    #[error(
        "the microphone would not open ({reason}): see that it is plugged in and chosen in the system's sound settings, or choose another input"
    )]
    Microphone {
        /// What the sound system said.
        #[source]
        reason: Cause,
    },
    /// A microphone with no sample rate in
    /// [`SAMPLE_RATES_HZ`](crate::SAMPLE_RATES_HZ).
    #[error(
        "the microphone gives {sample_rate_hz} samples a second, and notes are heard well from {} on: set it to 44100 or 48000 in the system's sound settings, or choose another input",
        crate::SAMPLE_RATES_HZ.start()
    )]
    MicrophoneRate {
        /// What it offers, in hertz.
        sample_rate_hz: u32,
    },
    /// The microphone went away while in use.
    #[error("the microphone stopped ({reason}): plug it in again; it is tried again by itself")]
    MicrophoneLost {
        /// What the sound system said.
        #[source]
        reason: Cause,
    },
    /// A sound file that cannot be listened to.
    #[error("the sound file {} could not be listened to ({reason}): choose a WAV file at 44100 or 48000 samples a second", path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What is wrong with it.
        #[source]
        reason: Cause,
    },
    /// The ear cannot work with these settings.
    #[error(transparent)]
    Ear(#[from] fifthpeg_ear::EarError),
    /// The loop test heard nothing of its own sound.
    #[error(
        "the microphone did not hear the test sound: turn the loudspeaker up, put the microphone near it, and measure again"
    )]
    LoopNotHeard,
    /// The loop test needs an output and an input that are heard.
    #[error(
        "the loop test needs a loudspeaker and a microphone: choose an output and an input other than 'none'"
    )]
    LoopSilent,

    /// An output's trim that makes no sense.
    #[error(
        "a trim is so many milliseconds, from -200 to 1000: how much later sound leaves the output than the sound system says"
    )]
    Trim,
}
