//! The one table of what an event may carry.

/// Every field that is written, and what it holds. What is not in here never reaches the file.
pub const FIELDS: &[(&str, &str)] = &[
    (
        "kind",
        "which of several things it was, as the program calls it",
    ),
    (
        "error",
        "what failed, as kinds, with the system's own codes; no texts",
    ),
    (
        "at",
        "an address without its end, so that it can be told from others in this run alone",
    ),
    ("port", "the port that the host listens on"),
    ("connection", "counts connections"),
    (
        "student",
        "the number that the lesson gives a student as they come in",
    ),
    ("call", "counts calls"),
    ("serial", "counts a student's answers"),
    ("count", "how many"),
    ("waiting", "how many wait"),
    ("took_us", "how long it took, in microseconds"),
    (
        "delay_us",
        "the network's delay in one exchange of clocks, in microseconds",
    ),
    (
        "uncertainty_us",
        "how far a start may be off, in microseconds",
    ),
    ("retry_ms", "when it is tried again, in milliseconds"),
    ("rate_hz", "samples a second"),
    ("locked", "whether the lesson takes a passphrase"),
    (
        "announced",
        "whether the lesson is announced on the network",
    ),
    ("network", "whether others can join"),
    ("returning", "whether an old seat was taken back"),
    ("audible", "whether an output can be heard"),
    ("command", "which command of the program"),
    ("version", "the program's version"),
    ("system", "the operating system and its version"),
    ("machine", "the kind of processor, and how many cores"),
    ("code", "the exit code, or the book's own code of an error"),
    ("line", "a line of the program"),
];

/// Whether the field may be written.
pub(crate) fn is_known(name: &str) -> bool {
    FIELDS.iter().any(|(known, _)| *known == name)
}
