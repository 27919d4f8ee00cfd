//! A bound on how fast a peer is read, or comes.

use core::time::Duration;
use tokio::time::Instant;

/// Allows a burst, then a steady rate. It counts time in the room left: a frame
/// costs one period, and `owed` says up to when the frames so far are paid for.
#[derive(Debug)]
pub struct Rate {
    period: Duration,
    burst: Duration,
    owed: Instant,
}

impl Rate {
    /// So many a second, and so many at once after a pause; at least one each.
    pub fn new(per_second: u32, burst: u32, now: Instant) -> Self {
        let period = Duration::from_secs(1) / per_second.max(1);
        Self {
            period,
            burst: period * burst.max(1),
            owed: now,
        }
    }

    /// Whether there is room for one more just now; only then it is counted.
    pub fn admits(&mut self, now: Instant) -> bool {
        let admits = self.owed.saturating_duration_since(now) + self.period <= self.burst;
        if admits {
            self.count(now);
        }
        admits
    }

    /// Whether nothing of the past counts any more.
    pub fn is_rested(&self, now: Instant) -> bool {
        self.owed <= now
    }

    /// Counts one frame; says how long to wait before reading the next.
    pub fn count(&mut self, now: Instant) -> Duration {
        self.owed = self.owed.max(now) + self.period;
        self.owed
            .saturating_duration_since(now)
            .saturating_sub(self.burst)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_burst_is_free_and_what_follows_is_paced() {
        let start = Instant::now();
        let mut rate = Rate::new(50, 200, start);
        for _ in 0..200 {
            assert_eq!(rate.count(start), Duration::ZERO);
        }
        assert_eq!(rate.count(start), Duration::from_millis(20));
        // One period later one more frame is paid for.
        let later = start + Duration::from_millis(40);
        assert_eq!(rate.count(later), Duration::ZERO);
        assert_eq!(rate.count(later), Duration::from_millis(20));
    }

    #[test]
    fn who_is_turned_away_owes_nothing_for_it() {
        let start = Instant::now();
        let mut rate = Rate::new(10, 3, start);
        let admitted = (0..1000).filter(|_| rate.admits(start)).count();
        assert_eq!(admitted, 3);
        let later = start + Duration::from_millis(100);
        assert!(rate.admits(later) && !rate.admits(later));
        assert!(!rate.is_rested(later) && rate.is_rested(later + Duration::from_millis(300)));
    }

    #[test]
    fn a_pause_gives_no_more_than_one_burst() {
        let start = Instant::now();
        let mut rate = Rate::new(10, 3, start);
        let later = start + Duration::from_secs(3600);
        let waits: Vec<_> = (0..4).map(|_| rate.count(later)).collect();
        assert_eq!(waits[..3], [Duration::ZERO; 3]);
        assert!(waits[3] > Duration::ZERO);
    }
}
