//! What memory a process takes.

use std::io;

/// This process's resident memory, in kB, as Linux tells it (proc(5)).
///
/// # Errors
/// Where the system tells it in no such way.
pub fn resident_kb() -> io::Result<u64> {
    let status = std::fs::read_to_string("/proc/self/status")?;
    let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:"));
    let kb = line.and_then(|line| line.split_whitespace().next()?.parse().ok());
    kb.ok_or_else(|| io::Error::other("memory is measured on Linux only: there is no VmRSS line"))
}
