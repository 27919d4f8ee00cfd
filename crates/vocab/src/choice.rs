//! A choice among a few: one table for each, which says everything there is to
//! say of every one. What travels, what the lesson book keeps, commands,
//! options, menus and pages all read it.

use fifthpeg_core::text;
use serde::de::{Error as _, Visitor};
use serde::{Deserializer, Serialize, Serializer};

/// One of the things there are to choose from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Row<T> {
    /// The choice.
    pub value: T,
    /// The number it travels as. Never changes.
    pub tag: u32,
    /// The word it is written with, in commands and in the lesson book. Never
    /// changes.
    pub word: &'static str,
    /// A few words for a list or a line: "the exact place".
    pub label: &'static str,
    /// What it means, for who is to choose: "the very place that was called".
    pub meaning: &'static str,
}

/// One row, in the order of its columns.
pub const fn row<T>(
    value: T,
    tag: u32,
    word: &'static str,
    label: &'static str,
    meaning: &'static str,
) -> Row<T> {
    Row {
        value,
        tag,
        word,
        label,
        meaning,
    }
}

/// A choice among a few.
pub trait Choice: Sized + Copy + PartialEq + 'static {
    /// What is chosen, as it reads in a sentence: "marking".
    const WHAT: &'static str;
    /// Every choice.
    const ALL: &'static [Row<Self>];

    /// Everything that is said of this choice.
    fn row(self) -> &'static Row<Self> {
        let row = Self::ALL.iter().find(|row| row.value == self);
        // A test holds every table against its type.
        row.unwrap_or(&Self::ALL[0])
    }

    /// The word for this choice.
    fn word(self) -> &'static str {
        self.row().word
    }

    /// This choice in a few words, for a list or a line.
    fn label(self) -> &'static str {
        self.row().label
    }

    /// What this choice means.
    fn meaning(self) -> &'static str {
        self.row().meaning
    }

    /// Every word, in order.
    fn words() -> Vec<&'static str> {
        Self::ALL.iter().map(|row| row.word).collect()
    }

    /// The choice of this word.
    ///
    /// # Errors
    /// One sentence that lists the words there are.
    fn from_word(word: &str) -> Result<Self, String> {
        let known = |row: &&Row<Self>| row.word.eq_ignore_ascii_case(word);
        let row = Self::ALL.iter().find(known);
        row.map(|row| row.value)
            .ok_or_else(|| no_such(Self::WHAT, word, &Self::words()))
    }
}

/// "\"oboe\" is no voice: choose banjo, guitar or plain".
pub(crate) fn no_such(what: &str, word: &str, words: &[&str]) -> String {
    let (quoted, list) = (text::shown(word), text::list_or(words));
    format!("\"{quoted}\" is no {what}: choose {list}")
}

/// Writes a choice: its tag in binary, its word in JSON.
pub(crate) fn write<C: Choice, S: Serializer>(choice: C, s: S) -> Result<S::Ok, S::Error> {
    match s.is_human_readable() {
        true => s.serialize_str(choice.word()),
        false => choice.row().tag.serialize(s),
    }
}

/// Reads a choice as [`write`] writes it.
pub(crate) fn read<'de, C: Choice, D: Deserializer<'de>>(d: D) -> Result<C, D::Error> {
    if d.is_human_readable() {
        return d.deserialize_str(Word(core::marker::PhantomData));
    }
    let tag: u32 = serde::Deserialize::deserialize(d)?;
    let row = C::ALL.iter().find(|row| row.tag == tag);
    row.map(|row| row.value)
        .ok_or_else(|| D::Error::custom(format_args!("no {} has the tag {tag}", C::WHAT)))
}

struct Word<C>(core::marker::PhantomData<C>);

impl<C: Choice> Visitor<'_> for Word<C> {
    type Value = C;

    fn expecting(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        write!(f, "one of {}", C::words().join(", "))
    }

    fn visit_str<E: serde::de::Error>(self, word: &str) -> Result<C, E> {
        let row = C::ALL.iter().find(|row| row.word == word);
        row.map(|row| row.value)
            .ok_or_else(|| E::custom(format_args!("no {} is called {word}", C::WHAT)))
    }
}

/// Lets choices be written and read by their tables.
macro_rules! written_by_table {
    ($($choice:ty),+ $(,)?) => {$(
        impl serde::Serialize for $choice {
            fn serialize<S: serde::Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                crate::choice::write(*self, s)
            }
        }

        impl<'de> serde::Deserialize<'de> for $choice {
            fn deserialize<D: serde::Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                crate::choice::read(d)
            }
        }
    )+};
}
pub(crate) use written_by_table;
