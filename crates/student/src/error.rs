//! What can go wrong with a student's terminal.

use fifthpeg_lesson::message::Refusal;

/// Why something could not be done.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StudentError {
    /// The terminal or the lesson refuses.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// The terminal has left, or the lesson has ended.
    #[error("this terminal is no longer in a lesson: join one again")]
    Over,
    /// No microphone was asked for.
    #[error("no microphone was asked for: start again with --microphone")]
    NoMicrophone,
    /// No class key is offered.
    #[error("no class key is offered just now")]
    NoKeyOffered,
    /// The microphone does not listen now.
    #[error("the microphone is not listening: turn it on, and see what it says")]
    NotListening,
    /// The address is not one.
    #[error(
        "'{given}' is not an address: write the host's address and port, such as 192.168.1.20:4750"
    )]
    NotAnAddress {
        /// What was given.
        given: String,
    },
    /// The name of the machine is not known.
    #[error(
        "no machine called '{given}' was found ({source}): check the spelling, or give its number, such as 192.168.1.20:4750"
    )]
    UnknownMachine {
        /// What was given.
        given: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// Lessons cannot be looked for.
    #[error("lessons cannot be looked for on this network ({0}): give the host's address by hand")]
    Find(#[source] fifthpeg_link::LinkError),
    /// Sound did not start or close well.
    #[error("the sound output did not work to the end: {0}")]
    Sound(#[source] fifthpeg_sound::SoundError),
    /// The system has no room for another thread.
    #[error("this system cannot start another thread ({0}): close other programs and try again")]
    Thread(#[source] std::io::Error),
}
