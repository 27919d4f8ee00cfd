//! What happened, line by line: a hash of it always, the lines if asked for.

use core::fmt;

/// FNV-1a, 64 bits; offset basis and prime from memory, no source.
const BASIS: u64 = 0xcbf2_9ce4_8422_2325;
const PRIME: u64 = 0x0000_0100_0000_01b3;

/// The trace of one lesson.
#[derive(Debug)]
pub struct Trace {
    hash: u64,
    lines: Option<Vec<String>>,
}

impl Trace {
    /// An empty one; `keep` the lines, or only their hash.
    pub fn new(keep: bool) -> Self {
        Self {
            hash: BASIS,
            lines: keep.then(Vec::new),
        }
    }

    /// Adds a line.
    pub fn note(&mut self, at_us: u64, who: &str, what: fmt::Arguments<'_>) {
        let line = format!(
            "{:>5}.{:06} {who:<8} {what}",
            at_us / 1_000_000,
            at_us % 1_000_000
        );
        for byte in line.bytes() {
            self.hash = (self.hash ^ u64::from(byte)).wrapping_mul(PRIME);
        }
        if let Some(lines) = &mut self.lines {
            lines.push(line);
        }
    }

    /// Stands for all lines so far.
    pub fn hash(&self) -> u64 {
        self.hash
    }

    /// The lines, if they were kept.
    pub fn lines(&self) -> &[String] {
        self.lines.as_deref().unwrap_or_default()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn other_lines_have_another_hash() {
        let of = |texts: &[&str]| {
            let mut trace = Trace::new(false);
            for text in texts {
                trace.note(5, "host", format_args!("{text}"));
            }
            trace.hash()
        };
        assert_eq!(of(&["a", "b"]), of(&["a", "b"]));
        assert_ne!(of(&["a", "b"]), of(&["b", "a"]));
    }
}
