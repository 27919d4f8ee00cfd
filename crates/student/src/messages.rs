//! What driver and network tell each other, and how much of it may wait.

use core::time::Duration;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{FromStudent, ToStudent};
use fifthpeg_link::secure::Fingerprint;
use fifthpeg_lock::PublicKey;
use fifthpeg_wire::KeyOffer;

use crate::Status;

/// Events that may wait for the driver.
pub(crate) const EVENTS: usize = 256;
/// Messages that may wait for the host.
pub(crate) const OUTBOX: usize = 256;
/// How long a host may take to answer at one address.
pub(crate) const ANSWER_WITHIN: Duration = Duration::from_secs(4);
/// Decisions that may wait for the network.
pub(crate) const DECISIONS: usize = 4;

/// To the driver.
#[derive(Debug)]
pub(crate) enum FromNetwork {
    /// How it stands.
    Status(Status),
    /// A connection is up and the host has let this terminal in; its welcome
    /// follows.
    Connected,
    /// From the host.
    Message(ToStudent),
    /// It was a class key that let this terminal in.
    CameInByKey { name: String },
    /// The host of this key offers a class key.
    KeyOffered(KeyOffer, Fingerprint),
    /// The host has its half of it.
    KeyKept,
    /// One clock exchange.
    Clock {
        t1: Moment,
        t2: Moment,
        t3: Moment,
        t4: Moment,
    },
    /// The connection is gone.
    Disconnected,
}

/// To the host.
#[derive(Debug)]
pub(crate) enum ToHost {
    Message(FromStudent),
    /// Whether the class key that was offered is taken.
    KeyAnswer(Option<PublicKey>),
    /// Asks for the host's clock; stamped when it is written.
    AskClock,
}
