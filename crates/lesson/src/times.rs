//! Response times kept in order, for their median.

use core::time::Duration;

/// Times kept for one student. A lesson does not come near it; a peer that
/// would like to fill the host's memory does not get past it.
pub const MAX_TIMES: usize = 4096;

/// Times that there is room for from the first on: a lesson of four hours has
/// some 360 calls, and takes no more memory at its end than at its beginning.
const ROOM: usize = 512;

/// Response times in microseconds and rising order; at most [`MAX_TIMES`],
/// later ones are not taken. More than 71 minutes, which nobody searches for a
/// note, count as that: four bytes hold no more.
#[derive(Debug, Clone, Default)]
pub(crate) struct Times(Vec<u32>);

impl Times {
    /// Adds a time.
    pub fn add(&mut self, time: Duration) {
        let time = u32::try_from(time.as_micros()).unwrap_or(u32::MAX);
        if self.0.is_empty() {
            self.0.reserve_exact(ROOM);
        }
        if self.0.len() < MAX_TIMES {
            let at = self.0.partition_point(|t| *t <= time);
            self.0.insert(at, time);
        }
    }

    /// Adds all of another student's who is the same person.
    pub fn join(&mut self, other: Times) {
        for micros in other.0 {
            self.add(Duration::from_micros(micros.into()));
        }
    }

    /// The middle time, or halfway between the two middle ones, to the
    /// microsecond below: so it travels, and everyone has the same.
    pub fn median(&self) -> Option<Duration> {
        let upper = *self.0.get(self.0.len() / 2)?;
        let micros = if self.0.len() % 2 == 1 {
            upper
        } else {
            let lower = *self.0.get(self.0.len() / 2 - 1)?;
            lower + (upper - lower) / 2
        };
        Some(Duration::from_micros(micros.into()))
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

    #[test]
    fn a_whole_lesson_of_times_takes_no_more_memory() {
        let mut times = Times::default();
        times.add(Duration::from_secs(1));
        let room = times.0.capacity();
        for s in 0..360 {
            times.add(Duration::from_secs(s));
        }
        assert_eq!(times.0.capacity(), room);
    }

    #[test]
    fn longer_than_anybody_searches_counts_as_long() {
        let mut times = Times::default();
        times.add(Duration::from_secs(24 * 3600));
        times.add(Duration::from_secs(2));
        times.add(Duration::from_secs(4));
        assert_eq!(times.median(), Some(Duration::from_secs(4)));
    }
}
