//! How a terminal stands with its lesson.

use core::fmt;
use core::time::Duration;
use std::net::SocketAddr;

use fifthpeg_lesson::message::Refusal;

use crate::Wanted;
use fifthpeg_lesson::backoff::LONGEST;

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
        /// Whether it is locked, and all that is said encrypted.
        locked: bool,
    },
    /// The lesson is locked; it goes on once a passphrase is given.
    PassphraseWanted {
        /// What the host calls its lesson.
        lesson: String,
        /// Why.
        wanted: Wanted,
    },
    /// The passphrase waits in line to be looked at: many wrong ones come in.
    InLine,
    /// The host's key is not the one remembered; it goes on once the student
    /// says yes to it.
    KeyChanged {
        /// What the host calls its lesson.
        lesson: String,
        /// The key it shows, in short.
        now: String,
        /// The key remembered, in short.
        before: String,
    },
    /// A locked lesson was expected, and the one that answers is open. Final.
    OpenInstead,
    /// In a lesson of this same program.
    Inside,
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
    /// The host took this student out of the lesson. Final.
    Removed,
    /// This terminal has left. Final.
    Left,
}

impl Status {
    /// How long the host has it wait before it is let in, if it does: in line, or
    /// longer than a terminal waits by itself.
    pub fn told_to_wait(&self) -> Option<Duration> {
        match self {
            Self::InLine => Some(LONGEST),
            Self::Lost { retry_in, .. } if *retry_in > LONGEST => Some(*retry_in),
            _ => None,
        }
    }

    /// Whether nothing more will happen.
    pub fn is_final(&self) -> bool {
        matches!(
            self,
            Self::TooOld { .. }
                | Self::Refused(_)
                | Self::OpenInstead
                | Self::Ended
                | Self::Removed
                | Self::Left
        )
    }
}

/// After so long of looking for a lesson it is said what to do.
pub const LOOKS_LONG: Duration = Duration::from_secs(5);

/// What to do where no lesson is found for some seconds.
pub const NOT_FOUND: &str = "No lesson found so far. Has the host started it, and are you on the same network? \
    If so, leave, and join by the address on the host's screen: fifthpeg join ADDRESS. Guest \
    networks keep machines apart: then use another network.";

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
                write!(f, "Connecting")?;
                for (i, a) in addresses.iter().enumerate() {
                    write!(f, "{}{a}", if i == 0 { " to " } else { ", " })?;
                }
                write!(f, ".")
            }
            Self::Inside => write!(f, "In the lesson on this machine."),
            Self::In {
                address,
                locked: true,
            } => write!(f, "In the lesson at {address}, locked and encrypted."),
            Self::In {
                address,
                locked: false,
            } => write!(
                f,
                "In the lesson at {address}, which is open: anyone on this network can join it and listen in."
            ),
            Self::PassphraseWanted { lesson, wanted } => match wanted {
                Wanted::First => {
                    write!(f, "The lesson '{lesson}' is locked: it takes a passphrase.")
                }
                Wanted::KeyGone => write!(
                    f,
                    "This machine's class key does not open '{lesson}' (it was taken back, or not used for 90 days): type the passphrase."
                ),
                Wanted::Wrong => write!(
                    f,
                    "That is not the passphrase of '{lesson}': read it from the host's screen once more."
                ),
                Wanted::WrongAgain(key) => write!(
                    f,
                    "That is not the passphrase of '{lesson}' either. If you typed it with care, \
                     somebody may stand between you and the host. Compare: this terminal sees the \
                     key {key}, and the host's screen shows its own under j. If the two differ, \
                     type no passphrase here and tell your teacher."
                ),
                Wanted::NotProved => write!(
                    f,
                    "Whoever answers as '{lesson}' could not show that they know the passphrase: ask your teacher before you type it again."
                ),
            },
            Self::InLine => write!(
                f,
                "Somebody is trying many passphrases, so newcomers wait in line. Yours is checked \
                 automatically, usually within half a minute."
            ),
            Self::KeyChanged {
                lesson,
                now,
                before,
            } => write!(
                f,
                "The host of '{lesson}' shows another key ({now}) than last time ({before}). It may be \
                 another or a new computer of your teacher's; it may be somebody in between. Ask the \
                 teacher before you go on: the right passphrase opens only at a host that knows it."
            ),
            Self::OpenInstead => write!(
                f,
                "A locked lesson was expected here, and an open one answers: ask your teacher. If it \
                 is to be open, join with --open and without a passphrase."
            ),
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
                "The host has taken you out of this lesson: ask the host before you come back, and \
                 then under another name."
            ),
            Self::Left => write!(f, "You have left the lesson."),
        }
    }
}
