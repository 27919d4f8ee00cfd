//! Response times kept in order, for their median.

use core::time::Duration;

/// Times kept for one student. A lesson does not come near it; a peer that
/// would like to fill the host's memory does not get past it.
pub const MAX_TIMES: usize = 4096;

/// Response times in rising order; at most [`MAX_TIMES`], later ones are not
/// taken.
#[derive(Debug, Clone, Default)]
pub(crate) struct Times(Vec<Duration>);

impl Times {
    /// Adds a time.
    pub fn add(&mut self, time: Duration) {
        if self.0.len() < MAX_TIMES {
            let at = self.0.partition_point(|t| *t <= time);
            self.0.insert(at, time);
        }
    }

    /// The middle time, or halfway between the two middle ones, to the
    /// microsecond below: so it travels, and everyone has the same.
    pub fn median(&self) -> Option<Duration> {
        let upper = *self.0.get(self.0.len() / 2)?;
        if self.0.len() % 2 == 1 {
            return Some(upper);
        }
        let lower = *self.0.get(self.0.len() / 2 - 1)?;
        let micros = (lower + (upper - lower) / 2).as_micros();
        Some(Duration::from_micros(
            u64::try_from(micros).unwrap_or(u64::MAX),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn median_of(seconds: &[u64]) -> Option<Duration> {
        let mut times = Times::default();
        for s in seconds {
            times.add(Duration::from_secs(*s));
        }
        times.median()
    }

    #[test]
    fn the_median_is_the_middle_whatever_the_order() {
        assert_eq!(median_of(&[]), None);
        assert_eq!(median_of(&[4]), Some(Duration::from_secs(4)));
        assert_eq!(median_of(&[9, 1, 2]), Some(Duration::from_secs(2)));
        assert_eq!(median_of(&[9, 1, 2, 5]), Some(Duration::from_millis(3500)));
    }

    #[test]
    fn half_a_microsecond_is_left_out() {
        let mut times = Times::default();
        times.add(Duration::from_micros(4));
        times.add(Duration::from_micros(7));
        assert_eq!(times.median(), Some(Duration::from_micros(5)));
    }

    #[test]
    fn no_more_than_the_bound_is_kept() {
        let mut times = Times::default();
        for s in 0..MAX_TIMES as u64 + 10 {
            times.add(Duration::from_secs(s));
        }
        assert_eq!(times.0.len(), MAX_TIMES);
    }
}
