//! Names of people and classes: how they are kept, and when two are one.

pub(crate) use fifthpeg_core::text::folded;
use fifthpeg_lesson::names::tidy;

use crate::BookError;

/// A name as kept.
pub(crate) fn kept(name: &str) -> Result<String, BookError> {
    tidy(name).map_err(|_| BookError::BadName)
}
