//! What the book keeps as text: setups, rules, necks and inputs, as JSON.
//!
//! It is how the types of `fifthpeg-vocab` are written in their readable form.
//! [`FORMAT`] goes up with any change that an older program would read wrongly;
//! `tests/golden` keeps one text of each kind, so that a changed type is never
//! taken for something else.

#[cfg(test)]
mod golden;

use fifthpeg_core::Cause;
use fifthpeg_core::NeckDescription;
use fifthpeg_vocab::rules::LATER;
use fifthpeg_vocab::{LessonInput, LessonSetup, Rules};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};

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
    write(input)
}

/// An input from its text.
pub(crate) fn read_input(text: &str) -> Result<LessonInput, Unread> {
    read("an input", text)
}

/// A setup as text, with the neck beside the rules.
pub(crate) fn write_setup(setup: &LessonSetup) -> String {
    let (rules, neck) = (write_rules(&setup.rules), write_neck(&setup.rules.neck));
    let whole = write(setup);
    let rest = whole.strip_prefix(&format!("{{\"rules\":{}", write(&setup.rules)));
    format!(
        "{{\"rules\":{rules},\"neck\":{neck}{}",
        rest.unwrap_or_default()
    )
}

/// A setup from its text.
pub(crate) fn read_setup(text: &str) -> Result<LessonSetup, Unread> {
    let what = "a lesson's setup";
    let mut setup: Map<String, Value> = read(what, text)?;
    let neck = setup.remove("neck").unwrap_or_default();
    if let Some(Value::Object(rules)) = setup.get_mut("rules") {
        complete(rules, neck);
    }
    from_value(what, setup)
}

/// Rules as text, without the neck, which is kept once for many lessons.
pub(crate) fn write_rules(rules: &Rules) -> String {
    let neck = format!("\"neck\":{},", write_neck(&rules.neck));
    let mut text = write(rules).replacen(&neck, "", 1);
    for later in LATER.iter().filter(|later| !later.written) {
        text = text.replacen(&format!(",\"{}\":{}", later.rule, later.meant), "", 1);
    }
    text
}

/// Rules from their text and the lesson's neck.
pub(crate) fn read_rules(text: &str, neck: NeckDescription) -> Result<Rules, Unread> {
    let what = "a lesson's rules";
    let mut rules: Map<String, Value> = read(what, text)?;
    complete(&mut rules, read(what, &write_neck(&neck))?);
    from_value(what, rules)
}

/// A neck as text; the same neck gives the same text.
pub(crate) fn write_neck(neck: &NeckDescription) -> String {
    write(neck)
}

/// A neck from its text.
pub(crate) fn read_neck(text: &str) -> Result<NeckDescription, Unread> {
    read("a neck", text)
}

/// Puts the neck in, and what a book of before a rule means by its absence.
fn complete(rules: &mut Map<String, Value>, neck: Value) {
    rules.insert("neck".to_owned(), neck);
    for later in LATER {
        let meant = || serde_json::from_str(later.meant).unwrap_or_default();
        rules.entry(later.rule).or_insert_with(meant);
    }
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

fn from_value<T: DeserializeOwned>(
    what: &'static str,
    object: Map<String, Value>,
) -> Result<T, Unread> {
    serde_json::from_value(Value::Object(object)).map_err(|e| Unread {
        what,
        why: e.into(),
    })
}
