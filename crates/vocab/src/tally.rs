//! What one student has done so far in a lesson.

use core::time::Duration;

use serde::{Deserialize, Serialize};

/// A student's sums over a lesson. A call counts once the student has found it,
/// or once it is closed; hearings and tries count at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub struct Tally {
    /// Calls this student was there for and did not make, found or closed.
    pub calls: u32,
    /// Of these, found.
    pub found: u32,
    /// Of these, found with the first answer.
    pub found_first: u32,
    /// Hearings asked for beyond the free ones.
    pub hearings: u32,
    /// Places and pitches tried.
    pub tries: u32,
    /// Found calls that were answered on the instrument.
    pub played: u32,
    /// Calls that were sung, in any octave.
    pub sung: u32,
    /// Median of the response times of found calls.
    #[serde(with = "crate::written::micros")]
    pub median: Option<Duration>,
}

impl Tally {
    /// What one person has done in two places; the median comes from all times.
    pub fn join(&mut self, other: Tally) {
        for (sum, more) in [
            (&mut self.calls, other.calls),
            (&mut self.found, other.found),
            (&mut self.found_first, other.found_first),
            (&mut self.hearings, other.hearings),
            (&mut self.tries, other.tries),
            (&mut self.played, other.played),
            (&mut self.sung, other.sung),
        ] {
            *sum = sum.saturating_add(more);
        }
    }
}
