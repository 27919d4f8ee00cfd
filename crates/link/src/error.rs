//! What can go wrong between host and student, in words for a musician.

use core::time::Duration;
use std::io::ErrorKind;
use std::net::SocketAddr;

use fifthpeg_core::Cause;
use fifthpeg_core::text::tamed;
use fifthpeg_wire::{UpdateSide, WireError};
use tokio_tungstenite::tungstenite::Error as SocketError;
use tokio_tungstenite::tungstenite::error::ProtocolError;

/// Why a connection was not made, or is over.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum LinkError {
    /// The peer sent what is not allowed.
    #[error(transparent)]
    Wire(#[from] WireError),
    /// The connection failed.
    #[error("the connection was lost ({0}): check the network and that the host still runs")]
    Socket(#[source] Cause),
    /// The other end closed without a word, as one that is killed does.
    #[error(
        "the connection was lost (it broke off): check the network and that the host still runs"
    )]
    BrokeOff(#[source] Cause),
    /// The peer closed in the middle of the handshake.
    #[error("the other end hung up before the lesson began: try again, or check the address")]
    HungUp,
    /// The peer did not answer in time.
    #[error("no answer within {} ms: check the address and that the host runs", .0.as_millis())]
    TimedOut(Duration),
    /// The two programs speak different versions of the protocol.
    #[error("{}", outdated(*.update, .host, .student))]
    Outdated {
        /// Which side to update.
        update: UpdateSide,
        /// The host's program version.
        host: String,
        /// The student's program version.
        student: String,
    },
    /// The host's lesson is locked, and this connection is not encrypted.
    #[error("this lesson is locked: join it with its passphrase")]
    Locked,
    /// The other end does not speak the encryption that a locked lesson has.
    #[error(
        "the other end does not encrypt as a locked lesson does ({0}): check the address, and that the host's fifthpeg is of the same version"
    )]
    NotSecure(#[source] Cause),
    /// The host's key cannot be made or read.
    #[error("the host's key cannot be used ({0}): move its file away, and a new one is made")]
    Key(#[source] Cause),
    /// Whoever opened it has no business here.
    #[error("{0}")]
    Stranger(crate::origin::Stranger),
    /// The lock did not open.
    #[error(transparent)]
    Lock(#[from] fifthpeg_lock::LockError),
    /// What came can be read but is not possible, such as a MIDI number of 200.
    #[error("the other end sent {0}: make sure that it is fifthpeg, of the same version")]
    Impossible(&'static str),
    /// No address was given to connect to.
    #[error("no address to connect to: give one such as 192.168.1.20:4750")]
    NoAddress,
    /// The one address there is does not answer as a lesson.
    #[error(
        "no lesson answers at {address} ({why}): check the address that the host shows, and that both machines are on one network"
    )]
    NotReached {
        /// The address.
        address: SocketAddr,
        /// What the system says.
        #[source]
        why: Cause,
    },
    /// None of several addresses answered.
    #[error(
        "none of the lesson's addresses answered ({why}): check that the host still runs, that both machines are on one network, and that no firewall is between"
    )]
    NoneAnswered {
        /// Each reason once, with the addresses it was met at.
        why: String,
        /// The last of them.
        #[source]
        last: Option<Box<LinkError>>,
    },
    /// The network could not be searched, or the lesson not announced.
    #[error("the local network cannot be asked for lessons ({0}): give the host's address by hand")]
    Discovery(#[source] Cause),
}

impl LinkError {
    /// The same as a host is told it of somebody who came: what happened, without
    /// what a student could do about it.
    pub fn to_host(&self) -> String {
        match self {
            LinkError::HungUp | LinkError::BrokeOff(_) => "it hung up".to_owned(),
            LinkError::Socket(why) => format!("the connection was lost: {why}"),
            LinkError::TimedOut(time) => format!("it said nothing for {} ms", time.as_millis()),
            LinkError::NotSecure(why) => {
                format!("it does not encrypt as a locked lesson does: {why}")
            }
            LinkError::Impossible(what) => format!("it sent {what}"),
            other => other.to_string(),
        }
    }
}

fn outdated(update: UpdateSide, host: &str, student: &str) -> String {
    match update {
        UpdateSide::Host => format!(
            "the host's fifthpeg ({host}) is older than this student's ({student}): update the host's"
        ),
        UpdateSide::Student => format!(
            "this student's fifthpeg ({student}) is older than the host's ({host}): update the student's"
        ),
    }
}

impl From<SocketError> for LinkError {
    fn from(e: SocketError) -> Self {
        match e {
            SocketError::Io(e) => e.into(),
            e @ SocketError::Protocol(ProtocolError::ResetWithoutClosingHandshake) => {
                LinkError::BrokeOff(e.into())
            }
            // It may quote the peer.
            e => LinkError::Socket(Cause::told(tamed(&e.to_string()), e)),
        }
    }
}

impl From<std::io::Error> for LinkError {
    fn from(e: std::io::Error) -> Self {
        match e.kind() {
            // What encryption says of it is for programmers.
            ErrorKind::UnexpectedEof => LinkError::BrokeOff(e.into()),
            _ => LinkError::Socket(Cause::told(tamed(&e.to_string()), e)),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_broke_off_says_so_in_plain_words() {
        let eof = || std::io::Error::new(ErrorKind::UnexpectedEof, "no close_notify: https://...");
        let reset = SocketError::Protocol(ProtocolError::ResetWithoutClosingHandshake);
        for error in [eof().into(), SocketError::Io(eof()).into(), reset.into()] {
            let error: LinkError = error;
            let student = "the connection was lost (it broke off): check the network and that the \
                           host still runs";
            assert_eq!(error.to_string(), student);
            assert_eq!(error.to_host(), "it hung up");
            assert!(std::error::Error::source(&error).is_some(), "{error:?}");
        }
    }
}
