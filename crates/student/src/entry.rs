//! What a terminal knows of the lock before it is there, and what the student
//! decides when it is asked.

use std::path::PathBuf;

use fifthpeg_lock::{Fingerprint, Passphrase};

/// What a terminal knows of the lock.
#[derive(Debug, Clone, Default)]
pub struct Entry {
    /// The passphrase, if the student has given it already. Who has one does
    /// not join an open lesson.
    pub passphrase: Option<Passphrase>,
    /// Join an open lesson even where a locked one was expected.
    pub open: bool,
    /// Take whatever key the host has for the right one, where another was
    /// remembered.
    pub new_key: bool,
    /// The folder in which hosts' keys are remembered, and class keys kept.
    /// `None` forgets them, and has none.
    pub hosts: Option<PathBuf>,
}

impl Entry {
    /// With this passphrase, and nothing remembered.
    pub fn with(passphrase: Passphrase) -> Self {
        Self {
            passphrase: Some(passphrase),
            ..Self::default()
        }
    }
}

/// What a student decides while the terminal waits at the lock.
#[derive(Debug)]
pub(crate) enum Decision {
    /// Try this passphrase.
    Passphrase(Passphrase),
    /// Take the host's new key.
    NewKey,
}

/// Why the passphrase is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Wanted {
    /// The lesson is locked.
    First,
    /// The class key of this machine does not hold here any more.
    KeyGone,
    /// The last one was wrong.
    Wrong,
    /// And so was the one before: perhaps somebody stands in between. This is the
    /// key that the terminal sees.
    WrongAgain(Fingerprint),
    /// The host took it but could not show that it knows it too.
    NotProved,
}
