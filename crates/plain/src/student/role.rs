//! Who gives the commands in a student's plain mode, and which ones they have.

use fifthpeg_core::Cause;
use fifthpeg_front::SHORT_HELP;
use fifthpeg_host::Host;
use fifthpeg_host::alone::Gap;
use fifthpeg_lock::Passphrase;

use crate::alone::{ALONE_COMMANDS, ALONE_HOST_WORDS, AloneLine};
use crate::host_lines::{HostLine, host_commands};
use crate::student_lines::{self, StudentLine};
use crate::table;
use fifthpeg_vocab::rules::{ChangedBy, RULES, Rule};

/// The host's commands that a hosting friend has as well, beside those of the rules.
pub const FRIEND_HOST_WORDS: &[&str] = &[
    "reach",
    "without-book",
    "new-book",
    "suggest",
    "who",
    // Whoever called.
    "reveal",
    "close",
    "pass",
    "remove",
    "known",
    "class-key",
    "page",
    "end",
];

/// Who gives the commands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SeatKind {
    /// A student.
    Student,
    /// The friend who hosts.
    Friend,
    /// Who is alone.
    Alone,
}

impl SeatKind {
    /// The commands that the short help says; among `friends`, where these call.
    pub(super) fn first_words(self, friends: bool) -> [&'static str; SHORT_HELP] {
        match self {
            Self::Alone => [
                "next", "hear", "try", "answer", "reveal", "where", "tally", "leave",
            ],
            _ if friends => [
                "pick", "hear", "try", "answer", "reveal", "where", "tally", "leave",
            ],
            Self::Student | Self::Friend => [
                "hear", "try", "answer", "where", "tally", "neck", "rules", "leave",
            ],
        }
    }
}

/// One command of a student, or of the friend who hosts.
#[derive(Debug, Clone, PartialEq)]
pub enum FriendLine {
    /// A student's.
    Student(StudentLine),
    /// A host's.
    Host(HostLine),
    /// Of who is alone.
    Alone(AloneLine),
}

/// Reads a line of a student; with `hosting`, also of a host.
///
/// # Errors
/// One sentence that says what to type instead.
pub fn read_line(line: &str, hosting: bool) -> Result<Option<FriendLine>, Cause> {
    read(
        line,
        if hosting {
            SeatKind::Friend
        } else {
            SeatKind::Student
        },
    )
}

/// A line; where the passphrase is asked for, what is no command is that.
pub(super) fn read_asked(
    text: &str,
    role: SeatKind,
    asked: bool,
) -> Result<Option<FriendLine>, Cause> {
    read(text, role).or_else(|sentence| match Passphrase::typed(text) {
        Ok(words) if asked => Ok(Some(FriendLine::Student(StudentLine::Passphrase(words)))),
        _ => Err(sentence),
    })
}

/// Reads a line of a student, with what else the role allows.
///
/// # Errors
/// As [`read_line`].
pub fn read(line: &str, role: SeatKind) -> Result<Option<FriendLine>, Cause> {
    let word = line.split_whitespace().next().unwrap_or("");
    if role == SeatKind::Alone && table::find(ALONE_COMMANDS, word).is_some() {
        let read = table::read_line(ALONE_COMMANDS, line)?;
        return Ok(read.map(FriendLine::Alone));
    }
    let of_host = host_words(role)
        .iter()
        .any(|known| known.eq_ignore_ascii_case(word));
    if of_host {
        let read = table::read_line(host_commands(), line)?;
        return Ok(read.map(FriendLine::Host));
    }
    let read = student_lines::read(line)?;
    Ok(read.map(FriendLine::Student))
}

/// The host's commands of a role: those of the rules first.
pub fn host_words(role: SeatKind) -> Vec<&'static str> {
    let (others, own): (_, &[_]) = match role {
        SeatKind::Student => return Vec::new(),
        SeatKind::Friend => (true, FRIEND_HOST_WORDS),
        SeatKind::Alone => (false, ALONE_HOST_WORDS),
    };
    let has = |rule: &&Rule| match rule.who {
        ChangedBy::Host => true,
        ChangedBy::HostOfOthers => others,
        ChangedBy::HostOfClass => false,
    };
    let rules = RULES.iter().filter(has).map(|rule| rule.word);
    rules.chain(own.iter().copied()).collect()
}

/// What else than a student one is.
#[derive(Clone, Copy)]
pub struct HostingSide<'a> {
    /// The lesson's host.
    pub host: &'a Host,
    /// When the next note comes, where nobody else is in the lesson.
    pub pace: Option<&'a Gap>,
}

impl HostingSide<'_> {
    pub(super) fn role(self) -> SeatKind {
        self.pace.map_or(SeatKind::Friend, |_| SeatKind::Alone)
    }
}
