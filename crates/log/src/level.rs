//! How much the log says: the levels, and the words that choose them.

use core::fmt;
use core::str::FromStr;

use tracing::Level;

/// How much is written, from little to all.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Detail {
    /// What went wrong.
    Trouble,
    /// The steps of a lesson as well.
    #[default]
    Steps,
    /// Connections, clocks and timings as well.
    Detail,
    /// Each message that travels, by its kind.
    All,
}

impl Detail {
    /// Every one, with the word for it.
    pub const WORDS: [(&str, Detail); 4] = [
        ("trouble", Detail::Trouble),
        ("steps", Detail::Steps),
        ("detail", Detail::Detail),
        ("all", Detail::All),
    ];

    /// The least important events that are still written.
    pub(crate) fn level(self) -> Level {
        match self {
            Detail::Trouble => Level::WARN,
            Detail::Steps => Level::INFO,
            Detail::Detail => Level::DEBUG,
            Detail::All => Level::TRACE,
        }
    }

    /// The detail that an event belongs to.
    pub(crate) fn of(level: Level) -> Self {
        match level {
            Level::ERROR | Level::WARN => Detail::Trouble,
            Level::INFO => Detail::Steps,
            Level::DEBUG => Detail::Detail,
            Level::TRACE => Detail::All,
        }
    }
}

impl fmt::Display for Detail {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let word = Self::WORDS.iter().find(|(_, detail)| detail == self);
        f.pad(word.map_or("", |(word, _)| word))
    }
}

impl FromStr for Detail {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        let found = Self::WORDS.iter().find(|(word, _)| *word == text);
        found
            .map(|(_, detail)| *detail)
            .ok_or_else(|| "say trouble, steps, detail or all".to_owned())
    }
}
