//! What a crowd has received, counted; told once all have it.

use std::io::Write;
use std::sync::atomic::{AtomicU64, Ordering};

use crate::clock;

/// Counts of several kinds of frames over a whole crowd.
pub struct Counting {
    crowd: u64,
    kinds: Vec<(&'static str, AtomicU64)>,
}

impl Counting {
    /// For a crowd of that number.
    pub fn new(crowd: usize, kinds: &[&'static str]) -> Self {
        Self {
            crowd: crowd as u64,
            kinds: kinds.iter().map(|k| (*k, AtomicU64::new(0))).collect(),
        }
    }

    /// One of the crowd has one more of a kind, just now. The last of the crowd
    /// to have it tells so.
    pub fn count(&self, kind: usize) {
        let now = clock::now();
        if let Some((name, count)) = self.kinds.get(kind)
            && (count.fetch_add(1, Ordering::Relaxed) + 1).is_multiple_of(self.crowd)
        {
            tell(name, now);
        }
    }
}

/// Tells whoever started this process.
pub fn tell(what: &str, at: std::time::Duration) {
    let mut out = std::io::stdout().lock();
    // Whoever started this is gone, and so will this be.
    let _ = writeln!(out, "{what} {}", at.as_nanos());
    let _ = out.flush();
}
