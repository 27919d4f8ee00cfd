//! How a terminal of any kind keeps its connection: when it asks whether the host is
//! there, and how long it waits before it tries again.

use core::time::Duration;

/// A terminal that has said nothing for this long asks for the clock, so that
/// the host knows it is there, and hears that the host is.
pub const KEEP_ALIVE: Duration = Duration::from_secs(2);
/// How long the host may be silent: several askings without an answer.
pub const SILENCE: Duration = Duration::from_secs(8);
/// The longest that a terminal waits because it is told to at the lock: whoever
/// says so has proved nothing yet.
pub const LONGEST_TOLD: Duration = Duration::from_secs(60);

/// The first wait.
pub const FIRST: Duration = Duration::from_millis(200);
/// The longest wait.
pub const LONGEST: Duration = Duration::from_secs(5);

/// How long a terminal must have been in for its next wait to be the first one
/// again: a host that lets in and hangs up is not asked ever faster.
pub const SETTLED: Duration = Duration::from_secs(2);

/// Waits that double each time, up to a longest one. Each is shortened by a
/// random part of up to half, so that a class that lost its network together
/// does not come back all in one instant.
#[derive(Debug, Default)]
pub struct Backoff {
    failures: u32,
}

impl Backoff {
    /// The wait before the next try; `random` is any number.
    pub fn next(&mut self, random: u32) -> Duration {
        let whole = FIRST.saturating_mul(1 << self.failures.min(8)).min(LONGEST);
        self.failures = self.failures.saturating_add(1);
        let part = f64::from(random) / f64::from(u32::MAX);
        whole.mul_f64(1.0 - part / 2.0)
    }

    /// A terminal was in for so long: if that was a while, start small again.
    pub fn was_in(&mut self, time: Duration) {
        if time >= SETTLED {
            self.failures = 0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn waits_double_up_to_the_longest_and_start_small_again() {
        let mut backoff = Backoff::default();
        let waits: Vec<_> = (0..8).map(|_| backoff.next(0).as_millis()).collect();
        assert_eq!(waits, [200, 400, 800, 1600, 3200, 5000, 5000, 5000]);
        // A host that hangs up at once is no better than none.
        backoff.was_in(SETTLED / 2);
        assert_eq!(backoff.next(0), LONGEST);
        backoff.was_in(SETTLED);
        assert_eq!(backoff.next(0), FIRST);
    }

    #[test]
    fn chance_takes_off_up_to_half() {
        for random in [0, 1, u32::MAX / 2, u32::MAX] {
            let wait = Backoff::default().next(random);
            assert!(wait >= FIRST / 2 && wait <= FIRST, "{wait:?}");
        }
        assert_eq!(Backoff::default().next(u32::MAX), FIRST / 2);
    }
}
