//! The first frame of either side. Its layout is fixed for ever: a program of
//! any version must read it from a program of any other, to say which of the
//! two wants updating. What a later version adds goes behind the fields here,
//! and whoever does not know it leaves it unread.

/// How the first frame begins, whatever the version.
pub const MAGIC: [u8; 8] = *b"fifthpeg";

/// The oldest protocol version this program still speaks.
pub const PROTOCOL_OLDEST: u16 = 6;

/// The newest protocol version this program speaks.
pub const PROTOCOL_NEWEST: u16 = 6;

/// The first frame, from student to host. Fixed for ever; bytes behind it
/// are left unread.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Hello {
    /// The ASCII letters `fifthpeg`.
    pub magic: [u8; 8],
    /// The oldest protocol version the student speaks.
    pub oldest: u16,
    /// The newest protocol version the student speaks.
    pub newest: u16,
    /// The student's program version, for people.
    #[serde(with = "Within::<ProgramBytes>")]
    pub program: String,
}

/// The host's answer to it. Fixed for ever; bytes behind it are left
/// unread.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum HelloReply {
    /// The two can talk.
    Ready {
        /// The protocol version both speak from here on: the newest that
        /// both know.
        version: u16,
        /// The host's program version, for people.
        #[serde(with = "Within::<ProgramBytes>")]
        program: String,
    },
    /// The two share no version; the host closes the connection.
    Outdated {
        /// Whose program is too old.
        update: UpdateSide,
        /// The oldest protocol version the host speaks.
        oldest: u16,
        /// The newest protocol version the host speaks.
        newest: u16,
        /// The host's program version, for people.
        #[serde(with = "Within::<ProgramBytes>")]
        program: String,
    },
    /// The lesson is locked and the student came without encryption; the
    /// host closes the connection.
    Locked {
        /// The host's program version, for people.
        #[serde(with = "Within::<ProgramBytes>")]
        program: String,
    },
}

/// The side whose program wants updating.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum UpdateSide {
    /// The host's.
    Host,
    /// The student's.
    Student,
}

impl Hello {
    /// This program's own, as `program` (a version such as `0.1.0`).
    pub fn ours(program: &str) -> Self {
        Self {
            magic: MAGIC,
            oldest: PROTOCOL_OLDEST,
            newest: PROTOCOL_NEWEST,
            program: program.to_owned(),
        }
    }
}

use fifthpeg_core::bounded::Within;
use serde::{Deserialize, Serialize};

use crate::limits::ProgramBytes;

/// What a host that speaks the versions `oldest..=newest` answers to a hello.
pub fn agree(hello: &Hello, oldest: u16, newest: u16, program: &str) -> HelloReply {
    let version = hello.newest.min(newest);
    if version >= hello.oldest && version >= oldest {
        return HelloReply::Ready {
            version,
            program: program.to_owned(),
        };
    }
    let update = if hello.newest < oldest {
        UpdateSide::Student
    } else {
        UpdateSide::Host
    };
    HelloReply::Outdated {
        update,
        oldest,
        newest,
        program: program.to_owned(),
    }
}

/// The path at which a host takes frames as they are.
pub const OPEN_PATH: &str = "/";

/// The path at which a host takes encryption within the WebSocket, for a page:
/// a browser shows a page nothing of the encryption of its own.
pub const WITHIN_PATH: &str = "/within";

/// The path for a page's WebSocket.
pub fn path_of(locked: bool) -> &'static str {
    if locked { WITHIN_PATH } else { OPEN_PATH }
}
