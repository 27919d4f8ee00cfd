//! One clock for all processes of this machine, and what the system grants a
//! process.

use std::time::Duration;

use rustix::process::{Resource, Rlimit, getrlimit, setrlimit};
use rustix::time::{ClockId, clock_gettime};

use crate::Failure;

/// Time since the machine started, the same in every process
/// (clock_gettime(2), CLOCK_MONOTONIC).
pub fn now() -> Duration {
    let now = clock_gettime(ClockId::Monotonic);
    let seconds = u64::try_from(now.tv_sec).unwrap_or_default();
    let nanos = u32::try_from(now.tv_nsec).unwrap_or_default();
    Duration::new(seconds, nanos)
}

/// Sees to it that this process may hold so many connections (getrlimit(2)).
///
/// # Errors
/// If the system allows fewer, with what to set.
pub fn allow_connections(number: usize) -> Result<(), Failure> {
    // Files, pipes and whatever the libraries open.
    let wanted = number as u64 + 200;
    let now = getrlimit(Resource::Nofile);
    if now.current.is_none_or(|c| c >= wanted) {
        return Ok(());
    }
    if now.maximum.is_some_and(|most| most < wanted) {
        return Err(format!(
            "{number} connections need {wanted} open files and this system allows {}: \
             run 'ulimit -Hn {wanted}' as an administrator and start again from that shell",
            now.maximum.unwrap_or_default()
        )
        .into());
    }
    let raised = Rlimit {
        current: Some(wanted),
        maximum: now.maximum,
    };
    Ok(setrlimit(Resource::Nofile, raised)?)
}
