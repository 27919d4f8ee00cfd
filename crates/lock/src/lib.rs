//! Who gets in: the passphrase of a lesson, the proof that both sides know it,
//! and how often it may be guessed.
//!
//! The proof is SPAKE2 over Ed25519 with key confirmation both ways, bound to
//! one encrypted channel and to the host's certificate ([`ChannelBinding`]), so that
//! a machine in between, which has two channels, proves nothing. What travels
//! is [`fifthpeg_wire::LockAsk`] and [`fifthpeg_wire::LockReply`];
//! `PROTOCOL.md` has the bytes.
//!
//! This crate is pure: no sockets, no clock, randomness is handed in.

mod binding;
mod class_key;
mod guesses;
mod host;
mod line;
mod passphrase;
mod proof;
mod puzzle;
mod student;
mod words;

#[cfg(test)]
mod key_runs;
#[cfg(test)]
mod runs;

pub use binding::{ChannelBinding, Fingerprint, SeatSecret};
pub use class_key::{ClassKey, MOST_KEYS, PrivateKey, PublicKey, UNUSED_DAYS};
pub use guesses::{GuessLimits, Guesses, Verdict};
pub use host::{HostLock, HostStep};
pub use line::{Line, LineLimits, Standing, Ticket};
pub use passphrase::{Passphrase, PassphraseError};
pub use puzzle::Puzzle;
pub use student::{Knows, StudentLock, StudentStep};
pub use words::{PASSPHRASES, WORDS};

/// Why a proof came to nothing.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LockError {
    /// The other side said what does not come now, or is no point of the curve.
    #[error("the other end does not keep to the lock's order ({0}): make sure that it is fifthpeg")]
    OutOfOrder(&'static str),
    /// The host says that the passphrase is not the lesson's.
    #[error("that is not the passphrase of this lesson")]
    Wrong,
    /// The host's own proof is wrong: it does not know the passphrase.
    #[error(
        "the host could not prove that it knows the passphrase: it may not be the one you mean; ask your teacher"
    )]
    NotTheHost,
    /// Too many were tried.
    #[error("too many wrong passphrases were tried: the host lets none be tried for {seconds} s")]
    Wait {
        /// When to try again at the earliest, from now.
        seconds: u32,
    },
    /// The seat is not known, and the passphrase is not given.
    #[error("the host knows no such seat")]
    NoSeat,
    /// The class key does not hold here, and the passphrase is not given.
    #[error("the class key of this machine does not open this lesson")]
    NoKey,
}
