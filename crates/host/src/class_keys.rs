//! What the lesson's task knows of class keys.

use std::collections::BTreeSet;

use fifthpeg_lesson::message::StudentId;
use fifthpeg_link::channel::Bytes;
use fifthpeg_lock::PublicKey;

use crate::Lock;
use crate::engine::StudentConnection;

/// What the lesson's task knows of class keys.
#[derive(Debug)]
pub(crate) struct ClassKeys {
    /// What the host proves itself by; `None` in an open lesson.
    pub(crate) own: Option<PublicKey>,
    /// Who was offered one and has not answered.
    pub(crate) offered: BTreeSet<StudentId>,
    /// What is to be said once the student has the welcome, which may wait for the book.
    pub(crate) unsaid: Vec<(StudentConnection, Bytes)>,
}

impl ClassKeys {
    pub(crate) fn new(lock: &Lock) -> Self {
        let own = match lock {
            Lock::Open => None,
            Lock::Passphrase { key, .. } => Some(key.for_class_keys().public()),
        };
        Self {
            own,
            offered: BTreeSet::new(),
            unsaid: Vec::new(),
        }
    }
}
