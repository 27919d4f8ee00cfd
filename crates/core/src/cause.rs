//! What lies behind an error, in the sentence and as the error it was.

use core::fmt;
use core::ops::Deref;
use std::error::Error;
use std::sync::Arc;

/// What lies behind an error of ours: the words that stand in its sentence, and the error itself, for
/// `#[source]`. Two causes are the same if their words are.
#[derive(Clone)]
pub struct Cause {
    words: Arc<str>,
    error: Arc<dyn Error + Send + Sync>,
}

impl Cause {
    /// An error in other words than its own.
    pub fn told(
        words: impl Into<Arc<str>>,
        error: impl Into<Box<dyn Error + Send + Sync>>,
    ) -> Self {
        Self {
            words: words.into(),
            error: error.into().into(),
        }
    }

    /// The same error in other words.
    pub fn told_as(self, tell: impl FnOnce(&str) -> String) -> Self {
        Self {
            words: tell(&self.words).into(),
            ..self
        }
    }

    /// The words.
    pub fn words(&self) -> &str {
        &self.words
    }
}

impl<E: Into<Box<dyn Error + Send + Sync>>> From<E> for Cause {
    fn from(error: E) -> Self {
        let error = error.into();
        Self::told(error.to_string(), error)
    }
}

/// As the error, so that it can be another's source.
impl Deref for Cause {
    type Target = dyn Error + Send + Sync;

    fn deref(&self) -> &Self::Target {
        &*self.error
    }
}

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.words)
    }
}

impl fmt::Debug for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Debug::fmt(&*self.words, f)
    }
}

impl PartialEq for Cause {
    fn eq(&self, other: &Self) -> bool {
        self.words == other.words
    }
}

impl Eq for Cause {}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, thiserror::Error)]
    #[error("it failed ({why})")]
    struct Failed {
        #[source]
        why: Cause,
    }

    #[test]
    fn the_error_itself_stays_the_source_whatever_the_words() {
        let number: std::num::ParseIntError = "x".parse::<u8>().expect_err("no number");
        let own = Failed {
            why: number.clone().into(),
        };
        assert_eq!(own.to_string(), format!("it failed ({number})"));
        let told = Failed {
            why: Cause::told("no number", number.clone()),
        };
        assert_eq!(told.to_string(), "it failed (no number)");
        for failed in [own, told] {
            let source = failed.source().expect("a source");
            assert_eq!(source.downcast_ref(), Some(&number));
        }
    }
}
