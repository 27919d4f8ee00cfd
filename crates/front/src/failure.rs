//! How the program ends: the only place where exit codes are decided.

use std::process::ExitCode;

use fifthpeg_core::Cause;

/// Why the program stopped before it had done what was asked: the exit code, a
/// sentence, and the error behind it, if there is one.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{why}")]
pub struct Failure {
    code: u8,
    #[source]
    why: Cause,
}

impl Failure {
    /// A mistake in what was asked, from anything that reads as one sentence.
    pub fn usage(why: impl Into<Cause>) -> Self {
        let why = why.into();
        Self { code: USAGE, why }
    }

    /// Something that went wrong while doing it.
    pub fn runtime(why: impl Into<Cause>) -> Self {
        let why = why.into();
        Self { code: RUNTIME, why }
    }

    /// 2 for a mistake in what was asked, 1 for anything else.
    pub fn code(&self) -> u8 {
        self.code
    }

    /// Whether it is a mistake in what was asked.
    pub fn is_usage(&self) -> bool {
        self.code == USAGE
    }

    /// The same error in other words.
    #[must_use]
    pub fn told(self, tell: impl FnOnce(&str) -> String) -> Self {
        Self {
            why: self.why.told_as(tell),
            ..self
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

#[cfg(test)]
mod tests {
    use std::error::Error;

    use super::*;

    #[test]
    fn what_lies_behind_stays_whatever_the_words() {
        let missing = || std::io::Error::from(std::io::ErrorKind::NotFound);
        for made in [Failure::usage, Failure::runtime] {
            let failure = made(missing()).told(|why| format!("--report: {why}"));
            assert_eq!(failure.to_string(), format!("--report: {}", missing()));
            let source = failure
                .source()
                .and_then(|e| e.downcast_ref::<std::io::Error>());
            assert_eq!(
                source.map(std::io::Error::kind),
                Some(std::io::ErrorKind::NotFound)
            );
        }
        assert_eq!(ExitCode::from(&Failure::usage("no")), ExitCode::from(2));
    }
}
