//! How the program ends: the only place where exit codes are decided.

use std::process::ExitCode;

use fifthpeg_core::Cause;

/// Why the program stopped before it had done what was asked.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Failure {
    /// What was asked for makes no sense; exit code 2.
    #[error("{0}")]
    Usage(String),
    /// It made sense, but could not be done; exit code 1.
    #[error("{0}")]
    Runtime(String),
    /// As the first two, with the error behind it.
    #[error("{why}")]
    Behind {
        /// The exit code.
        code: u8,
        /// The sentence, and the error.
        #[source]
        why: Cause,
    },
}

impl Failure {
    /// A mistake in what was asked, from anything that reads as one sentence.
    pub fn usage(why: impl Into<Cause>) -> Self {
        let why = why.into();
        Self::Behind { code: USAGE, why }
    }

    /// Something that went wrong while doing it.
    pub fn runtime(why: impl Into<Cause>) -> Self {
        let why = why.into();
        Self::Behind { code: RUNTIME, why }
    }

    /// 2 for a mistake in what was asked, 1 for anything else.
    pub fn code(&self) -> u8 {
        match self {
            Self::Usage(_) => USAGE,
            Self::Runtime(_) => RUNTIME,
            Self::Behind { code, .. } => *code,
        }
    }

    /// Whether it is a mistake in what was asked.
    pub fn is_usage(&self) -> bool {
        self.code() == USAGE
    }

    /// The same with other words.
    pub fn told(self, tell: impl FnOnce(&str) -> String) -> Self {
        match self {
            Self::Usage(words) => Self::Usage(tell(&words)),
            Self::Runtime(words) => Self::Runtime(tell(&words)),
            Self::Behind { code, why } => Self::Behind {
                code,
                why: why.told_as(tell),
            },
        }
    }
}

const RUNTIME: u8 = 1;
const USAGE: u8 = 2;

impl From<&Failure> for ExitCode {
    fn from(failure: &Failure) -> Self {
        ExitCode::from(failure.code())
    }
}
