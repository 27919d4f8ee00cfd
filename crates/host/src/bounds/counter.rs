//! What is counted of the limits that peers met.

use crate::Notice;

/// One thing that is counted, since the host started.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Counter {
    /// Peers that connected and did not come as far as joining.
    NotJoined,
    /// Peers whose program does not fit.
    OtherVersion,
    /// Wrong passphrases.
    WrongPassphrase,
    /// Passphrases that had to wait, or were not looked at, because too many wrong
    /// ones had come.
    GuessesWait,
    /// Askings to be let in that were refused.
    TurnedAway,
    /// Connections beyond the most in all.
    TooManyConnections,
    /// Connections beyond the most from one address that have not joined.
    TooManyJoining,
    /// Times that whoever wanted to join had to wait for room at the door.
    JoinersWait,
    /// Times that encryption or a passphrase had to wait behind many others.
    KeysWait,
    /// Connections that came too soon after others.
    TooSoon,
    /// Times that the system had no room for a connection.
    CannotAccept,
    /// Students' connections closed over something that is not of a lesson.
    Garbled,
    /// Students' connections that were read more slowly.
    TooFast,
    /// Messages not taken because a student had said too much in one call.
    TooMuch,
    /// Connections closed because nothing was heard.
    Silent,
    /// Connections closed because they were not read from fast enough.
    Slow,
    /// Things too large to be told to a student.
    Unsendable,
}

impl Counter {
    /// All of them, in the order in which they are shown.
    pub const ALL: [Counter; 17] = [
        Counter::NotJoined,
        Counter::OtherVersion,
        Counter::WrongPassphrase,
        Counter::GuessesWait,
        Counter::TurnedAway,
        Counter::TooManyConnections,
        Counter::TooManyJoining,
        Counter::JoinersWait,
        Counter::KeysWait,
        Counter::TooSoon,
        Counter::CannotAccept,
        Counter::Garbled,
        Counter::TooFast,
        Counter::TooMuch,
        Counter::Silent,
        Counter::Slow,
        Counter::Unsendable,
    ];

    /// What was counted, to stand before a colon and a number.
    pub const fn title(self) -> &'static str {
        match self {
            Counter::NotJoined => "connected but did not join",
            Counter::OtherVersion => "program of another version",
            Counter::WrongPassphrase => "came with a wrong passphrase",
            Counter::GuessesWait => "held up, too many wrong passphrases",
            Counter::TurnedAway => "asked to join and was not let in",
            Counter::TooManyConnections => "turned away, too many connections in all",
            Counter::TooManyJoining => "turned away, too many from one address at once",
            Counter::JoinersWait => "the doorway was full",
            Counter::KeysWait => "waited behind many others who connected",
            Counter::TooSoon => "turned away, came too soon after others",
            Counter::CannotAccept => "the system had no room for a connection",
            Counter::Garbled => "disconnected, sent what is not of a lesson",
            Counter::TooFast => "read more slowly, sent too fast",
            Counter::TooMuch => "not taken, too many messages in one call",
            Counter::Silent => "disconnected, was silent",
            Counter::Slow => "disconnected, read too slowly",
            Counter::Unsendable => "disconnected, could not be told something",
        }
    }

    /// The name of the notice that tells of it.
    pub const fn notice(self) -> &'static str {
        match self {
            Counter::NotJoined => "Notice::NotJoined",
            Counter::OtherVersion => "Notice::WrongVersion",
            Counter::WrongPassphrase => "Notice::WrongPassphrase",
            Counter::GuessesWait => "Notice::GuessesWait",
            Counter::TurnedAway => "Notice::TurnedAway",
            Counter::TooManyConnections => "Notice::TooManyConnections",
            Counter::TooManyJoining => "Notice::TooManyJoining",
            Counter::JoinersWait => "Notice::JoinersWait",
            Counter::KeysWait => "Notice::KeysWait",
            Counter::TooSoon => "Notice::TooSoon",
            Counter::CannotAccept => "Notice::CannotAccept",
            Counter::Garbled => "Notice::Confused",
            Counter::TooFast => "Notice::TooFast",
            Counter::TooMuch => "Notice::TooMuch",
            Counter::Silent => "Notice::Silent",
            Counter::Slow => "Notice::Slow",
            Counter::Unsendable => "Notice::Unsendable",
        }
    }

    pub(super) fn index(self) -> usize {
        self as usize
    }
}

impl Notice {
    /// What it counts as, if a limit was met.
    pub fn counter(&self) -> Option<Counter> {
        Some(match self {
            Notice::NotJoined { .. } => Counter::NotJoined,
            Notice::WrongVersion { .. } => Counter::OtherVersion,
            Notice::WrongPassphrase { .. } => Counter::WrongPassphrase,
            Notice::GuessesWait { .. } | Notice::NewcomersWait => Counter::GuessesWait,
            Notice::TurnedAway { .. } => Counter::TurnedAway,
            Notice::TooManyConnections { .. } => Counter::TooManyConnections,
            Notice::TooManyJoining { .. } => Counter::TooManyJoining,
            Notice::JoinersWait { .. } => Counter::JoinersWait,
            Notice::KeysWait { .. } => Counter::KeysWait,
            Notice::TooSoon { .. } => Counter::TooSoon,
            Notice::CannotAccept(_) => Counter::CannotAccept,
            Notice::Confused { .. } => Counter::Garbled,
            Notice::TooFast { .. } => Counter::TooFast,
            Notice::TooMuch { .. } => Counter::TooMuch,
            Notice::Silent { .. } => Counter::Silent,
            Notice::Slow { .. } => Counter::Slow,
            Notice::Unsendable { .. } => Counter::Unsendable,
            _ => return None,
        })
    }

    /// The notice without what differs between two of the same peer: the port.
    pub(super) fn same(&self) -> String {
        match self {
            Notice::NotJoined { address, what } => format!("{} {what}", address.ip()),
            Notice::WrongVersion { address, what } => format!("{} {what}", address.ip()),
            Notice::TooManyConnections { .. } | Notice::NewcomersWait => String::new(),
            Notice::WrongPassphrase { ip, .. } | Notice::GuessesWait { ip, .. } => ip.to_string(),
            other => other.to_string(),
        }
    }
}
