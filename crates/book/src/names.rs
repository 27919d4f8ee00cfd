//! Names of people and classes: how they are kept, and when two are one.

use fifthpeg_core::text::is_joiner;
use fifthpeg_lesson::names::tidy;

use crate::BookError;

/// A name as kept.
pub(crate) fn kept(name: &str) -> Result<String, BookError> {
    tidy(name).map_err(|_| BookError::BadName)
}

/// What two spellings of one name have in common: capitals and joining signs
/// make no difference, as in a lesson.
pub fn folded(name: &str) -> String {
    name.chars()
        .filter(|c| !is_joiner(*c))
        .flat_map(char::to_lowercase)
        .collect()
}
