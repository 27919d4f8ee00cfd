//! Who gets in, as the screens of those who host show it all the time.

use fifthpeg_host::{Host, Lock};

use super::theme::Tint;
use crate::door::OPEN;

/// What a host's screen shows of the lock.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum DoorShown {
    /// The lesson is open.
    Open,
    /// It is locked with this passphrase.
    Passphrase(String),
}

impl DoorShown {
    /// That of a running host.
    pub fn of(host: &Host) -> Self {
        match host.lock() {
            Lock::Open => Self::Open,
            Lock::Passphrase { passphrase, .. } => Self::Passphrase(passphrase.shown().to_owned()),
        }
    }

    /// One line.
    pub fn line(&self) -> (String, Tint) {
        match self {
            Self::Open => (format!("This lesson is {OPEN}."), Tint::Caution),
            Self::Passphrase(words) => (format!("Passphrase: {words}"), Tint::Strong),
        }
    }
}
