//! What is waiting to be polled: a bounded queue that never allocates.

use crate::Heard;

/// Far more than a listener that polls after each block ever leaves.
const MOST: usize = 256;

/// A queue; when nobody polls, the oldest is dropped.
#[derive(Debug)]
pub(crate) struct Outbox {
    queue: std::collections::VecDeque<Heard>,
}

impl Outbox {
    pub fn new() -> Outbox {
        Outbox {
            queue: std::collections::VecDeque::with_capacity(MOST),
        }
    }

    pub fn push(&mut self, heard: Heard) {
        if self.queue.len() == MOST {
            self.queue.pop_front();
        }
        self.queue.push_back(heard);
    }

    pub fn pop(&mut self) -> Option<Heard> {
        self.queue.pop_front()
    }
}
