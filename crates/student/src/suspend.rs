//! Noticing that the machine was asleep.
//!
//! A monotonic clock stands still while the machine sleeps (Linux:
//! `clock_gettime(2)`, `CLOCK_MONOTONIC` does not count time suspended), and the
//! wall clock does not. Where the wall clock went further than the monotonic one,
//! the machine slept, or somebody set its clock; both are treated alike.

use core::time::Duration;
use std::time::{Instant, SystemTime};

/// How much further the wall clock must have gone. Slewing moves it by half a
/// millisecond each second at most (adjtime(3); from memory).
const NOTICED: Duration = Duration::from_millis(250);

/// Both clocks as they were last read.
#[derive(Debug)]
pub(crate) struct SuspendWatch {
    steady: Instant,
    wall: SystemTime,
}

impl SuspendWatch {
    pub(crate) fn new() -> Self {
        Self {
            steady: Instant::now(),
            wall: SystemTime::now(),
        }
    }

    /// Whether the machine slept since this was asked last.
    pub(crate) fn slept(&mut self) -> bool {
        self.slept_by(Instant::now(), SystemTime::now())
    }

    fn slept_by(&mut self, steady: Instant, wall: SystemTime) -> bool {
        let steadily = steady.saturating_duration_since(self.steady);
        // A wall clock that was put back says nothing.
        let by_wall = wall.duration_since(self.wall).unwrap_or_default();
        *self = Self { steady, wall };
        by_wall > steadily + NOTICED
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_clock_that_stood_still_is_told_from_one_that_was_put_back() {
        let mut awake = SuspendWatch::new();
        let (steady, wall) = (awake.steady, awake.wall);
        let second = Duration::from_secs(1);
        assert!(!awake.slept_by(steady + second, wall + second));
        // Ten minutes with the lid closed, of which the monotonic clock knows nothing.
        assert!(awake.slept_by(steady + second * 2, wall + second * 602));
        assert!(!awake.slept_by(steady + second * 3, wall + second * 603));
        assert!(!awake.slept_by(steady + second * 4, wall + second * 3));
        // A slow machine is not a sleeping one.
        assert!(!awake.slept_by(steady + second * 64, wall + second * 63));
    }
}
