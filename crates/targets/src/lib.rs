//! What the fuzzer gives bytes to: everything that comes from outside, and what
//! must hold of it. A target panics where something does not.
//!
//! The engine that makes up bytes is no part of the workspace (`fuzz/`); here
//! are its targets, so that they are built and run over their corpora with all
//! other tests.

mod book;
mod lesson;
mod lock;
mod neck;
mod plain;
mod rows;
mod simulated;
mod wire;

/// One target.
#[derive(Debug, Clone, Copy)]
pub struct Target {
    /// Its name, and its corpus's.
    pub name: &'static str,
    /// The longest input worth trying, in bytes.
    pub longest: usize,
    /// Takes any bytes.
    pub run: fn(&[u8]),
}

/// All of them.
pub const TARGETS: &[Target] = &[
    Target {
        name: "wire-from-student",
        longest: 600,
        run: wire::from_student,
    },
    Target {
        name: "wire-from-host",
        longest: 4096,
        run: wire::from_host,
    },
    Target {
        name: "neck-file",
        longest: 2048,
        run: neck::file,
    },
    Target {
        name: "reach",
        longest: 300,
        run: neck::reach,
    },
    Target {
        name: "plain-host",
        longest: 300,
        run: plain::host,
    },
    Target {
        name: "plain-student",
        longest: 300,
        run: plain::student,
    },
    Target {
        name: "lock-host",
        longest: 200,
        run: lock::host,
    },
    Target {
        name: "lock-student",
        longest: 200,
        run: lock::student,
    },
    Target {
        name: "passphrase",
        longest: 300,
        run: lock::words,
    },
    Target {
        name: "lesson-inputs",
        longest: 4096,
        run: lesson::inputs,
    },
    Target {
        name: "simulated-lesson",
        longest: 1024,
        run: simulated::lesson,
    },
    Target {
        name: "book-json",
        longest: 4096,
        run: book::json,
    },
    Target {
        name: "book-csv",
        longest: 2048,
        run: book::csv,
    },
    Target {
        name: "book-rows",
        longest: 400,
        run: rows::changed,
    },
];

/// The target of this name.
pub fn find(name: &str) -> Option<&'static Target> {
    TARGETS.iter().find(|target| target.name == name)
}

/// A sentence that a screen shows: one line, and nothing in it that steers a
/// terminal.
fn assert_may_be_shown(sentence: &str) {
    assert!(
        fifthpeg_core::text::may_be_shown(sentence),
        "steers a terminal: {sentence:?}"
    );
}
