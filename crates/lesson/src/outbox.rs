//! Messages waiting to be sent.

use std::collections::{BTreeMap, VecDeque};

use crate::message::{StudentId, ToStudent};

/// Messages that may wait for one student before the student counts as having
/// fallen behind. A driver that sends after every input never comes near it:
/// one input makes at most half a dozen messages for one student.
pub const MAX_WAITING: usize = 64;

/// A first-in first-out queue that never holds more than [`MAX_WAITING`]
/// messages for one student.
#[derive(Debug, Clone, Default)]
pub(crate) struct Outbox {
    queue: VecDeque<(StudentId, ToStudent)>,
    /// How many of them are for whom; nobody has none.
    waiting: BTreeMap<StudentId, usize>,
}

impl Outbox {
    /// Queues a message. If the student has too many waiting already, all of
    /// them are dropped and `false` is returned: part of a conversation is
    /// worse than a fresh start.
    #[must_use]
    pub fn push(&mut self, to: StudentId, message: ToStudent) -> bool {
        let waiting = self.waiting.entry(to).or_default();
        if *waiting >= MAX_WAITING {
            self.forget(to);
            return false;
        }
        *waiting += 1;
        self.queue.push_back((to, message));
        true
    }

    /// Drops everything that waits for a student.
    pub fn forget(&mut self, student: StudentId) {
        if self.waiting.remove(&student).is_some() {
            self.queue.retain(|(id, _)| *id != student);
        }
    }

    /// The next message to send.
    pub fn pop(&mut self) -> Option<(StudentId, ToStudent)> {
        let (to, message) = self.queue.pop_front()?;
        if let Some(waiting) = self.waiting.get_mut(&to) {
            *waiting -= 1;
            if *waiting == 0 {
                self.waiting.remove(&to);
            }
        }
        Some((to, message))
    }
}
