//! Points on a clock that somebody else reads.

use core::time::Duration;

use serde::{Deserialize, Serialize};

/// A point on one process's monotonic clock, in microseconds since an origin
/// that process chose. The lesson never reads a clock; it is told `now`.
///
/// Host and students each have such a clock of their own. A `Moment` on the
/// wire is always on the host's clock.
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
pub struct Moment(pub u64);

impl Moment {
    /// From microseconds since the clock's origin.
    pub const fn from_micros(us: u64) -> Self {
        Self(us)
    }

    /// Microseconds since the clock's origin.
    pub const fn micros(self) -> u64 {
        self.0
    }

    /// The time from `earlier` to `self`, nought if `earlier` is later.
    pub const fn since(self, earlier: Moment) -> Duration {
        Duration::from_micros(self.0.saturating_sub(earlier.0))
    }
}

impl core::ops::Add<Duration> for Moment {
    type Output = Moment;

    fn add(self, d: Duration) -> Moment {
        let us = u64::try_from(d.as_micros()).unwrap_or(u64::MAX);
        Moment(self.0.saturating_add(us))
    }
}

impl core::ops::Sub<Duration> for Moment {
    type Output = Moment;

    /// The clock's origin where there is nothing so long before.
    fn sub(self, d: Duration) -> Moment {
        let us = u64::try_from(d.as_micros()).unwrap_or(u64::MAX);
        Moment(self.0.saturating_sub(us))
    }
}
