//! What can go wrong with a host.

use std::io;
use std::net::SocketAddr;

use fifthpeg_lesson::message::Refusal;

/// Why a host did not start or did not end as it should.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum HostError {
    /// No address was given to listen on.
    #[error("there is no address to listen on: give at least one, such as 0.0.0.0:0")]
    NoAddress,
    /// An address could not be listened on.
    #[error(
        "cannot listen on {address} ({source}): choose another address or port, or stop the program that uses it"
    )]
    Listen {
        /// Which address.
        address: SocketAddr,
        /// What the system said.
        source: io::Error,
    },
    /// The lesson cannot be held as set up.
    #[error("this lesson cannot start: {0}")]
    Lesson(Refusal),
    /// The lesson's rules do not fit into a message, so nobody could join.
    #[error(
        "no terminal could be told of this lesson ({0}): give it a smaller neck, a simpler reach or shorter names"
    )]
    Unsendable(String),
    /// No secure randomness.
    #[error("this system gives no random numbers ({0}): restart it, then start the lesson again")]
    Random(getrandom::Error),
    /// The host's speakers did not close well.
    #[error("the lesson ended, but its sound did not close well: {0}")]
    Sound(fifthpeg_sound::SoundError),
}

/// Why an order was not carried out.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum OrderError {
    /// The lesson refuses.
    #[error(transparent)]
    Refused(#[from] Refusal),
    /// The host is no longer running.
    #[error("the lesson is over: start a new one")]
    Over,
}
