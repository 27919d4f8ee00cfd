//! A machine's monotonic clock: where it began, how fast it runs, and its
//! steps.

use core::time::Duration;

use fifthpeg_lesson::Moment;

/// True time begins here, so that there is a before.
pub(crate) const START_US: u64 = 10_000_000_000;
/// A millisecond and a second, in microseconds.
pub(crate) const MS: u64 = 1_000;
pub(crate) const SECOND: u64 = 1_000_000;

/// A span of the real program in virtual time.
pub(crate) const fn span(real: Duration) -> u64 {
    real.as_micros() as u64
}

/// Reads the true time, in microseconds, as this machine shows it.
#[derive(Debug, Clone)]
pub struct Clock {
    from_us: u64,
    read_us: u64,
    /// Runs that many parts in a million too fast.
    ppm: i64,
}

impl Clock {
    /// A clock that reads `read_us` at the true time `from_us`.
    pub fn new(from_us: u64, read_us: u64, ppm: i64) -> Self {
        Self {
            from_us,
            read_us,
            ppm,
        }
    }

    /// What it reads at a true time. It never runs backwards.
    pub fn read(&self, true_us: u64) -> Moment {
        let since = i128::from(true_us.saturating_sub(self.from_us));
        let run = since + since * i128::from(self.ppm) / 1_000_000;
        Moment::from_micros(self.read_us + u64::try_from(run).unwrap_or(0))
    }

    /// The true time when it reads this, as far as it is known now; a moment
    /// that it showed before its last step is taken as if there had been none.
    pub fn true_of(&self, moment: Moment) -> u64 {
        let ahead = i128::from(moment.micros()) - i128::from(self.read_us);
        let rate = 1_000_000 + i128::from(self.ppm);
        let run = -((-ahead * 1_000_000).div_euclid(rate));
        u64::try_from(i128::from(self.from_us) + run).unwrap_or(0)
    }

    /// The true time of its last step, or of its beginning.
    pub fn from(&self) -> u64 {
        self.from_us
    }

    /// It jumps ahead.
    pub fn jump(&mut self, now_us: u64, by_us: u64) {
        self.read_us = self.read(now_us).micros() + by_us;
        self.from_us = now_us;
    }

    /// It stands still for a while, like that of a machine asleep.
    pub fn stand_still(&mut self, now_us: u64, for_us: u64) {
        self.read_us = self.read(now_us).micros();
        self.from_us = now_us.max(self.from_us) + for_us;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_true_time_of_what_it_reads_is_when_it_reads_it() {
        for ppm in [-50, 0, 50] {
            let clock = Clock::new(1_000, 77_000_000, ppm);
            for us in [1_000, 1_001, 999_999, 3_600_000_000] {
                let back = clock.true_of(clock.read(us));
                assert!(us.abs_diff(back) <= 1, "{us} {back}");
                assert!(clock.read(back) >= clock.read(us));
            }
        }
    }

    #[test]
    fn it_jumps_ahead_and_stands_still_but_never_runs_back() {
        let mut clock = Clock::new(0, 500, 0);
        clock.jump(100, 1_000);
        assert_eq!(clock.read(100), Moment::from_micros(1_600));
        clock.stand_still(200, 50);
        assert_eq!(clock.read(225), Moment::from_micros(1_700));
        assert_eq!(clock.read(260), Moment::from_micros(1_710));
    }
}
