//! Messages waiting to be sent.

use std::collections::VecDeque;

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
}

impl Outbox {
    /// Queues a message. If the student has too many waiting already, all of
    /// them are dropped and `false` is returned: part of a conversation is
    /// worse than a fresh start.
    #[must_use]
    pub fn push(&mut self, to: StudentId, message: ToStudent) -> bool {
        // The whole queue is short unless the driver is not sending at all.
        if self.queue.len() >= MAX_WAITING
            && self.queue.iter().filter(|(id, _)| *id == to).count() >= MAX_WAITING
        {
            self.forget(to);
            return false;
        }
        self.queue.push_back((to, message));
        true
    }

    /// Drops everything that waits for a student.
    pub fn forget(&mut self, student: StudentId) {
        self.queue.retain(|(id, _)| *id != student);
    }

    /// The next message to send.
    pub fn pop(&mut self) -> Option<(StudentId, ToStudent)> {
        self.queue.pop_front()
    }
}
