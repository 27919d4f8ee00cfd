//! What both sides say once the hello is through: the machinery's own words,
//! and what the lesson says and hears.

use fifthpeg_core::bounded::{Shown, Within};
use fifthpeg_vocab::written::Name;
use fifthpeg_vocab::{FromStudent, Hall, Moment, SeatKey, ToStudent};
use serde::{Deserialize, Serialize};

/// A frame from student to host, after the hello. The first is `Join`, or `Watch`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum ClientFrame {
    /// Take me in.
    Join {
        /// The student's name, as typed.
        #[serde(with = "Within::<Name>")]
        name: String,
        /// The key from an earlier welcome, to get the old seat back.
        key: Option<SeatKey>,
        /// The key of the seat where it is a new one: made at random by the
        /// student's terminal, which sends the same until this host has
        /// welcomed it, so that asking twice gets one seat.
        new_key: SeatKey,
    },
    /// What does your clock say?
    ClockAsk {
        /// When this was sent, on the student's clock.
        t1: Moment,
    },
    /// Whether the student takes the class key that was offered.
    KeyAnswer {
        /// The public half (Ed25519) of a key that the terminal has made;
        /// nothing to do without.
        public: Option<[u8; 32]>,
    },
    /// For the lesson.
    Lesson(FromStudent),
    /// In place of `Join`: show me the lesson for everybody's eyes. Whoever says
    /// it is no student.
    Watch,
}

/// A frame from host to student, after the hello.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum HostFrame {
    /// The answer to `ClockAsk`.
    ClockAnswer {
        /// As asked, on the student's clock.
        t1: Moment,
        /// When the asking arrived, on the host's clock.
        t2: Moment,
        /// When this was sent, on the host's clock.
        t3: Moment,
    },
    /// In a locked lesson: you are offered a class key, which lets this
    /// machine in without the passphrase.
    KeyOffered(KeyOffer),
    /// The class key is in the lesson book: it holds from the next lesson
    /// on.
    KeyKept,
    /// For the student's terminal.
    Lesson(ToStudent),
    /// To who watches: the lesson as it is now, told anew when it changes. At its end
    /// comes `ToStudent::Ended`.
    Hall(Box<Hall>),
}

/// What a class key is offered for.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct KeyOffer {
    /// The class it is for.
    #[serde(with = "Shown::<Name>")]
    pub class: String,
    /// Your name in it.
    #[serde(with = "Shown::<Name>")]
    pub name: String,
    /// The public key (Ed25519) by which the host proves itself to whoever
    /// comes with a class key.
    pub host: [u8; 32],
}

impl From<FromStudent> for ClientFrame {
    fn from(message: FromStudent) -> Self {
        ClientFrame::Lesson(message)
    }
}

impl From<ToStudent> for HostFrame {
    fn from(message: ToStudent) -> Self {
        HostFrame::Lesson(message)
    }
}

impl ClientFrame {
    /// A join: with the `key` of an old seat, or for a new one, whose key is
    /// then `new_key`.
    pub fn join(name: &str, key: Option<SeatKey>, new_key: SeatKey) -> Self {
        ClientFrame::Join {
            name: name.to_owned(),
            key,
            new_key,
        }
    }
}
