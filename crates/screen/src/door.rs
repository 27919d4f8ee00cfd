//! Who gets in, as the screens of those who host show it all the time.

use fifthpeg_front::OPEN;
use fifthpeg_host::{Host, Lock};

use super::theme::Tint;

/// What a host's screen shows of the lock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DoorShown {
    /// The lesson is open.
    Open,
    /// It is locked.
    Passphrase {
        /// With these words.
        words: String,
        /// What the host is known by, in short.
        key: String,
    },
}

impl DoorShown {
    /// That of a running host.
    pub fn of(host: &Host) -> Self {
        match host.lock() {
            Lock::Open => Self::Open,
            Lock::Passphrase { key, passphrase } => Self::Passphrase {
                words: passphrase.shown().to_owned(),
                key: key.fingerprint().to_string(),
            },
        }
    }

    /// One line.
    pub fn line(&self) -> (String, Tint) {
        match self {
            Self::Open => (format!("This lesson is {OPEN}."), Tint::Caution),
            Self::Passphrase { words, .. } => (format!("Passphrase: {words}"), Tint::Strong),
        }
    }

    /// The line, and what a student whose passphrase is refused compares with.
    pub fn in_full(&self) -> String {
        let (line, _) = self.line();
        match self {
            Self::Open => line,
            Self::Passphrase { key, .. } => format!("{line}. This host's key: {key}"),
        }
    }
}
