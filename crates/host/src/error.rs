//! What can go wrong with a host.

use std::io;
use std::net::SocketAddr;

use fifthpeg_core::Cause;
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
    Lesson(#[source] Refusal),
    /// The lesson's rules do not fit into a message, so nobody could join.
    #[error(
        "no terminal could be told of this lesson ({0}): give it a smaller neck, a simpler reach or shorter names"
    )]
    Unsendable(#[source] fifthpeg_link::LinkError),
    /// No secure randomness.
    #[error(
        "this system has no random numbers to give ({0}): restart it, then start the lesson again"
    )]
    Random(#[source] getrandom::Error),
    /// The host's speakers did not close well.
    #[error("the lesson ended, but its sound did not close well: {0}")]
    Sound(#[source] fifthpeg_sound::SoundError),
    /// The end of the lesson is not in its book.
    #[error("the lesson ended, but its last lines are not in the lesson book: {0}")]
    Book(#[source] Cause),
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
    /// There are no class keys in an open lesson.
    #[error(
        "this lesson is open, where nobody proves who they are: class keys are for locked lessons"
    )]
    KeysNeedLock,
    /// Nor in one that is not written down.
    #[error("class keys are kept in the lesson book, and this lesson is not being written down")]
    KeysNeedBook,
    /// The book could not say who is known.
    #[error("{0}")]
    Book(String),
    /// There is no book to go on without.
    #[error("this lesson is not being written down, so there is nothing to go on without")]
    NoBook,
    /// There is no need for a new book.
    #[error("the lesson book is where it belongs, so there is no need for a new one")]
    BookIsThere,
}
