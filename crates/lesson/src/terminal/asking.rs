//! When to ask the host for its clock.

use core::time::Duration;

use crate::Moment;

/// Exchanges in quick succession once a connection is up.
pub const QUICK_ASKS: u32 = 8;

/// Time between the first two of the quick ones; each gap after it is twice the
/// one before. A call may come as soon as a student is there, and one exchange can
/// be held up by a program that has only just started; later ones are spread, so
/// that a busy second does not spoil all of them.
pub const QUICK_GAP: Duration = Duration::from_millis(20);

/// Time between the later ones: at 100 parts per million of drift, 10 s cost
/// one millisecond.
pub const STEADY_GAP: Duration = Duration::from_secs(10);

/// The times of the clock exchanges: one at once, seven more within three seconds,
/// then steady.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Asking {
    asked: u32,
    next: Option<Moment>,
    due: bool,
}

impl Asking {
    pub fn connected(&mut self, now: Moment) {
        *self = Self {
            asked: 0,
            next: Some(now),
            due: false,
        };
        self.timeout(now);
    }

    pub fn disconnected(&mut self) {
        *self = Self::default();
    }

    pub fn deadline(&self) -> Option<Moment> {
        self.next
    }

    pub fn timeout(&mut self, now: Moment) {
        if self.next.is_some_and(|next| next <= now) {
            self.due = true;
            self.asked = self.asked.saturating_add(1);
            let gap = if self.asked < QUICK_ASKS {
                QUICK_GAP * (1 << (self.asked - 1))
            } else {
                STEADY_GAP
            };
            self.next = Some(now + gap);
        }
    }

    pub fn poll(&mut self) -> bool {
        core::mem::take(&mut self.due)
    }
}
