//! How a terminal stands with its lesson.

use core::fmt;
use core::time::Duration;
use std::net::SocketAddr;

use fifthpeg_lesson::message::Refusal;

/// How a terminal stands with its lesson. Displays as one sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum Status {
    /// Looking for the lesson on the network.
    Finding {
        /// Its name, if one was given.
        lesson: Option<String>,
    },
    /// The lesson's host is being reached.
    Connecting {
        /// At these addresses.
        addresses: Vec<SocketAddr>,
    },
    /// In the lesson.
    In {
        /// The address that worked.
        address: SocketAddr,
    },
    /// The connection is lost, or was never made; it is tried again.
    Lost {
        /// What happened.
        why: String,
        /// When the next try is due.
        retry_in: Duration,
    },
    /// Several lessons are announced and none was named. It goes on looking.
    Several {
        /// Their names.
        lessons: Vec<String>,
    },
    /// The program here or there is too old. Final.
    TooOld {
        /// Which side to update, as a sentence.
        advice: String,
    },
    /// The lesson did not take this student in. Final.
    Refused(Refusal),
    /// The lesson is over. Final.
    Ended,
    /// The host took this student off the roster. Final.
    Removed,
    /// This terminal has left. Final.
    Left,
}

impl Status {
    /// Whether nothing more will happen.
    pub fn is_final(&self) -> bool {
        matches!(
            self,
            Self::TooOld { .. } | Self::Refused(_) | Self::Ended | Self::Removed | Self::Left
        )
    }
}

impl fmt::Display for Status {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Finding { lesson: None } => {
                write!(f, "Looking for a lesson on this network.")
            }
            Self::Finding { lesson: Some(name) } => {
                write!(f, "Looking for the lesson '{name}' on this network.")
            }
            Self::Connecting { addresses } => {
                write!(f, "Connecting to ")?;
                for (i, a) in addresses.iter().enumerate() {
                    write!(f, "{}{a}", if i == 0 { "" } else { ", " })?;
                }
                write!(f, ".")
            }
            Self::In { address } => write!(f, "In the lesson at {address}."),
            Self::Lost { why, retry_in } => {
                let seconds = retry_in.as_secs_f64();
                write!(f, "{why}; trying again in {seconds:.1} s.")
            }
            Self::Several { lessons } => write!(
                f,
                "Several lessons are on this network ({}): join again with the name of yours.",
                lessons.join(", ")
            ),
            Self::TooOld { advice } => write!(f, "{advice}"),
            Self::Refused(why) => write!(f, "The lesson did not let you in: {why}."),
            Self::Ended => write!(f, "The lesson has ended."),
            Self::Removed => write!(
                f,
                "The host took you off the roster: join again if that was a mistake."
            ),
            Self::Left => write!(f, "You have left the lesson."),
        }
    }
}
