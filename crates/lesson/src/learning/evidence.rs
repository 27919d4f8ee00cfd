//! What the model learns from, and how good each outcome was.

pub use fifthpeg_vocab::evidence::{Confusion, Evidence, Outcome, StudentKey, When};

use super::figures as f;

/// How good an outcome was: the documented grades, from worst to best.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Grade {
    /// Not found.
    NotFound,
    /// Found after a wrong answer.
    Later,
    /// The first answer was right, after a long search: many tries, hearings
    /// or seconds.
    Long,
    /// The first answer was right, after a search.
    Searched,
    /// The first answer was right, with no extra hearing, few tries, soon.
    AtOnce,
}

/// The grade; `None` for a silent student.
///
/// An unknown response time counts neither for nor against.
pub fn grade_of(evidence: &Evidence) -> Option<Grade> {
    let seconds = evidence.response.map(|r| r.as_secs_f64());
    match evidence.outcome {
        Outcome::Silent => None,
        Outcome::NotFound => Some(Grade::NotFound),
        Outcome::FoundLater => Some(Grade::Later),
        Outcome::FoundFirst
            if evidence.hearings >= f::LONG_HEARINGS
                || evidence.tries >= f::LONG_TRIES
                || seconds.is_some_and(|s| s >= f::LONG_SECONDS) =>
        {
            Some(Grade::Long)
        }
        Outcome::FoundFirst
            if evidence.hearings == 0
                && evidence.tries <= f::AT_ONCE_TRIES
                && seconds.is_none_or(|s| s <= f::AT_ONCE_SECONDS) =>
        {
            Some(Grade::AtOnce)
        }
        Outcome::FoundFirst => Some(Grade::Searched),
    }
}
