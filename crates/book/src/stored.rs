//! What the book keeps as text: setups, rules, necks and inputs, as JSON.
//!
//! The types are the book's own mirrors of the lesson's, with names for every
//! field and choice. So a lesson type that changes breaks a conversion here
//! when it is compiled, or a word when it is read, and is never taken for
//! something else. [`FORMAT`] goes up with any change that an older program
//! would read wrongly; `tests/golden` keeps one text of each kind.

mod evidence;
mod figure;
#[cfg(test)]
mod golden;
mod input;
mod order;
mod setup;
mod values;

use fifthpeg_core::Cause;
use fifthpeg_core::NeckDescription;
use fifthpeg_lesson::LessonSetup;
use fifthpeg_lesson::input::LessonInput;
use fifthpeg_lesson::message::Rules;
use serde::Serialize;
use serde::de::DeserializeOwned;

/// The form in which inputs and setups are kept.
pub const FORMAT: u32 = 1;

/// A text in the book that cannot be read.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{what} in the lesson book cannot be read ({why}): it may be of a newer program")]
pub struct Unread {
    /// What it was to be.
    pub what: &'static str,
    /// What is wrong.
    #[source]
    pub why: Cause,
}

/// An input as text, without its moment.
pub(crate) fn write_input(input: &LessonInput) -> String {
    write(&input::Input::from(input.clone()))
}

/// An input from its text.
pub(crate) fn read_input(text: &str) -> Result<LessonInput, Unread> {
    read::<input::Input>("an input", text)?.try_into()
}

/// A setup as text.
pub(crate) fn write_setup(setup: &LessonSetup) -> String {
    write(&setup::Setup::from(setup))
}

/// A setup from its text.
pub(crate) fn read_setup(text: &str) -> Result<LessonSetup, Unread> {
    read::<setup::Setup>("a lesson's setup", text)?.try_into()
}

/// Rules as text, without the neck, which is kept once for many lessons.
pub(crate) fn write_rules(rules: &Rules) -> String {
    write(&setup::RulesText::from(rules))
}

/// Rules from their text and the lesson's neck.
pub(crate) fn read_rules(text: &str, neck: NeckDescription) -> Result<Rules, Unread> {
    read::<setup::RulesText>("a lesson's rules", text)?.with(neck)
}

/// A neck as text; the same neck gives the same text.
pub(crate) fn write_neck(neck: &NeckDescription) -> String {
    write(&values::Neck::from(neck))
}

/// A neck from its text.
pub(crate) fn read_neck(text: &str) -> Result<NeckDescription, Unread> {
    read::<values::Neck>("a neck", text)?.try_into()
}

fn write(value: &impl Serialize) -> String {
    // These types have text keys and no way to fail; were one to be added, an
    // empty text would be refused when read, not misread.
    serde_json::to_string(value).unwrap_or_default()
}

fn read<T: DeserializeOwned>(what: &'static str, text: &str) -> Result<T, Unread> {
    serde_json::from_str(text).map_err(|e| Unread {
        what,
        why: e.into(),
    })
}

/// A value that no program of ours writes.
fn strange(what: &'static str, why: &str) -> Unread {
    Unread {
        what,
        why: why.to_owned().into(),
    }
}
