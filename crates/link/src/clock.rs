//! This process's monotonic clock, as moments; and the time of day.

use core::time::Duration;
use std::time::{Instant, SystemTime, UNIX_EPOCH};

use fifthpeg_lesson::Moment;

/// How long before its making a clock counts from, so that moments a little
/// before the first reading exist as well.
const LEAD_IN: Duration = Duration::from_secs(3600);

/// A monotonic clock whose moments are whole microseconds, counted from an
/// hour before it was made unless it goes on from another. Copies agree with
/// one another.
#[derive(Debug, Clone, Copy)]
pub struct LocalClock {
    made: Instant,
    /// What it read when it was made.
    read: Duration,
}

impl LocalClock {
    /// A clock that starts now.
    pub fn new() -> Self {
        Self {
            made: Instant::now(),
            read: LEAD_IN,
        }
    }

    /// A clock that reads `now` now: one that goes on where another, of a
    /// program that was killed, stood still.
    pub fn going_on_from(now: Moment) -> Self {
        Self {
            made: Instant::now(),
            read: Duration::from_micros(now.micros()),
        }
    }

    /// Now.
    pub fn now(self) -> Moment {
        self.moment(Instant::now())
    }

    /// An instant as a moment; to the microsecond below.
    pub fn moment(self, at: Instant) -> Moment {
        let since_origin = match at.checked_duration_since(self.made) {
            Some(after) => self.read + after,
            None => self.read.saturating_sub(self.made.duration_since(at)),
        };
        Moment::default() + since_origin
    }

    /// A moment as an instant; one that lies beyond what the system's clock
    /// can hold becomes the moment the clock was made.
    pub fn instant(self, at: Moment) -> Instant {
        let since_origin = Duration::from_micros(at.micros());
        match since_origin.checked_sub(self.read) {
            Some(after) => self.made.checked_add(after),
            None => self.made.checked_sub(self.read - since_origin),
        }
        .unwrap_or(self.made)
    }
}

impl Default for LocalClock {
    fn default() -> Self {
        Self::new()
    }
}

/// Now, in UTC, in milliseconds since 1970.
pub fn unix_ms() -> i64 {
    let since = SystemTime::now().duration_since(UNIX_EPOCH);
    since.map_or(0, |s| i64::try_from(s.as_millis()).unwrap_or(i64::MAX))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn instants_and_moments_agree_to_the_microsecond() {
        let clock = LocalClock::new();
        for ms in [0, 1, 999, 86_400_000] {
            let at = clock.made + Duration::from_millis(ms);
            assert_eq!(clock.instant(clock.moment(at)), at);
        }
        let before = clock.made.checked_sub(Duration::from_millis(5));
        if let Some(before) = before {
            assert_eq!(clock.instant(clock.moment(before)), before);
        }
    }

    #[test]
    fn copies_agree_and_time_goes_on() {
        let clock = LocalClock::new();
        let copy = clock;
        let a = clock.now();
        let b = copy.now();
        assert!(b >= a);
        assert!(b.since(a) < Duration::from_secs(5));
    }

    #[test]
    fn an_impossible_moment_is_no_panic() {
        let clock = LocalClock::new();
        let far = clock.instant(Moment::from_micros(u64::MAX));
        assert!(far >= clock.made);
        let _ = clock.instant(Moment::from_micros(0));
    }
}
