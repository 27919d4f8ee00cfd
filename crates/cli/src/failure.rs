//! How the program ends: the only place where exit codes are decided.

use std::process::ExitCode;

/// Why the program stopped before it had done what was asked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Failure {
    /// What was asked for makes no sense; exit code 2.
    #[error("{0}")]
    Usage(String),
    /// It made sense, but could not be done; exit code 1.
    #[error("{0}")]
    Runtime(String),
}

impl Failure {
    /// A mistake in what was asked, from anything that reads as one sentence.
    pub fn usage(sentence: impl ToString) -> Self {
        Self::Usage(sentence.to_string())
    }

    /// Something that went wrong while doing it.
    pub fn runtime(sentence: impl ToString) -> Self {
        Self::Runtime(sentence.to_string())
    }

    /// 2 for a mistake in what was asked, 1 for anything else.
    pub fn code(&self) -> ExitCode {
        match self {
            Self::Usage(_) => ExitCode::from(2),
            Self::Runtime(_) => ExitCode::from(1),
        }
    }
}
