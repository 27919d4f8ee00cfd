//! Tests that need what not every machine has.

use std::io::Write;

/// Says plainly that a test did not run, and why, on one line that begins with
/// `SKIPPED: `; the caller then returns.
///
/// # Panics
/// With the same reason, where everything is required: `FIFTHPEG_REQUIRE_ALL=1`.
pub fn skip(why: &str) {
    let required = std::env::var_os("FIFTHPEG_REQUIRE_ALL").is_some_and(|value| value == "1");
    assert!(!required, "everything is required here, but {why}");
    // Straight to standard error: the test harness keeps back what passing
    // tests print. It may have begun a line of its own before.
    let why = why.split_whitespace().collect::<Vec<_>>().join(" ");
    let line = format!("\nSKIPPED: {why}\n");
    std::io::stderr()
        .lock()
        .write_all(line.as_bytes())
        .expect("standard error takes a line");
}
