//! What the network's task knows of locks, and what is behind one.

use std::net::SocketAddr;

use fifthpeg_link::channel::StudentChannel;
use fifthpeg_link::secure::{Fingerprint, Stream};

use crate::Entry;
use crate::class_keys::ClassKeys;
use crate::hosts::{KnownHost, KnownHosts, Seen};

/// What the task knows of locks.
pub(crate) struct Keys {
    pub(crate) entry: Entry,
    pub(crate) hosts: KnownHosts,
    pub(crate) class_keys: ClassKeys,
    /// The key of the host that this terminal was let in by.
    pub(crate) proved: Option<Fingerprint>,
    /// The key that was shown, and that the student said yes to.
    pub(crate) agreed: Option<Fingerprint>,
    /// Passphrases that were wrong since one was right.
    pub(crate) wrong: u32,
}

impl Keys {
    pub(crate) fn new(entry: Entry) -> Self {
        Self {
            hosts: KnownHosts::open(entry.hosts.as_deref()),
            class_keys: ClassKeys::open(entry.hosts.as_deref()),
            entry,
            proved: None,
            agreed: None,
            wrong: 0,
        }
    }

    /// The host that let this terminal in is remembered under what it has told
    /// since, over the channel that it proved.
    pub(crate) fn let_in(&mut self, key: Fingerprint, address: SocketAddr, lesson: &str) {
        self.proved = Some(key);
        self.hosts.remember(KnownHost {
            key,
            address,
            lesson: lesson.to_owned(),
        });
    }

    pub(crate) fn judge(&self, key: Fingerprint, lesson: &str, typed: Option<SocketAddr>) -> Seen {
        match self.proved {
            Some(proved) if proved == key => Seen::Known,
            Some(proved) => Seen::Changed(proved),
            None => self.hosts.judge(key, lesson, typed),
        }
    }

    /// Whether an open lesson that calls itself so was a locked one before,
    /// wherever that was. Before the welcome nothing tells what it is called.
    pub(crate) fn is_open_instead(&self, lesson: &str) -> bool {
        !self.entry.open && self.hosts.expects_lock(Some(lesson), &[])
    }
}

/// What is behind the lock.
pub(crate) struct Through {
    pub(crate) channel: StudentChannel<Stream>,
    /// The key of the host that proved itself; `None` in an open lesson.
    pub(crate) host: Option<Fingerprint>,
    /// It was a class key that opened.
    pub(crate) by_key: bool,
}
