//! What comes to the lesson's task: from the connections, and from whoever holds
//! the lesson.

use fifthpeg_book::{KeyHolder, Recalled};
use fifthpeg_lesson::message::{FromStudent, Refusal, SeatKey, StudentId};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lock::PublicKey;
use tokio::sync::oneshot;

use crate::OrderError;
use crate::connections::Outlet;
use crate::engine::{ConnectionId, GoneWhy, JoinRequest};
use crate::known::KnownPerson;
use crate::recalling::NameInBook;

/// From the connections.
#[derive(Debug)]
pub(crate) enum Inbound {
    /// Someone wants in, or back.
    Join {
        asking: JoinRequest,
        connection: ConnectionId,
        outlet: Outlet,
        reply: oneshot::Sender<Result<StudentId, Refusal>>,
    },
    /// Someone at the lock says that this student's seat is theirs: its key.
    SeatKey {
        student: StudentId,
        reply: oneshot::Sender<Option<SeatKey>>,
    },
    /// Someone at the lock says that this class key is theirs: whom it lets in.
    ClassKey {
        public: PublicKey,
        reply: oneshot::Sender<Option<KeyHolder>>,
    },
    /// It was theirs.
    KeyUsed(PublicKey),
    /// A student takes a class key, or does not.
    KeyAnswer {
        student: StudentId,
        connection: ConnectionId,
        public: Option<PublicKey>,
    },
    /// A student says something.
    Message {
        student: StudentId,
        connection: ConnectionId,
        message: FromStudent,
    },
    /// A student sends more than the limit, and is told of once.
    TooFast { student: StudentId },
    /// A connection has ended.
    Gone {
        student: StudentId,
        connection: ConnectionId,
        why: Option<GoneWhy>,
    },
}

/// An order with the way to its answer.
#[derive(Debug)]
pub(crate) enum TaskOrder {
    /// Draw the lesson as it is now.
    Look(oneshot::Sender<()>),
    /// For the lesson.
    Lesson(HostOrder, oneshot::Sender<Result<(), Refusal>>),
    /// Go on without the lesson book; the answer is whether there was one.
    WithoutBook(oneshot::Sender<bool>),
    /// Go on in a new lesson book; the answer is whether the old one is lost.
    NewBook(oneshot::Sender<bool>),
    /// What the book has of that name, apart from what the lesson knows itself.
    Named(StudentId, String, oneshot::Sender<NameInBook>),
    /// This student is who has that name.
    KnownAs {
        student: StudentId,
        name: String,
        recalled: Option<Recalled>,
        reply: oneshot::Sender<Result<(), Refusal>>,
    },
    /// Everyone whom the book knows in this class.
    Everyone(oneshot::Sender<Result<Vec<KnownPerson>, String>>),
    /// Offer this student a class key.
    OfferKey(StudentId, oneshot::Sender<Result<(), OrderError>>),
}
