//! What one student has done so far in a lesson.

use core::time::Duration;

/// A student's sums over a lesson. A call counts once the student has found it,
/// or once it is closed; hearings and tries count at once.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
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
    pub median: Option<Duration>,
}
