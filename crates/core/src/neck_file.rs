//! Reading a neck of one's own from a TOML file.
//!
//! ```toml
//! name = "my banjo"
//! scale_length_mm = 670.0      # from nut to bridge
//! frets = 22                   # the last fret, unless a string says otherwise
//! # string 1 first; a string is its open pitch, or a table
//! strings = ["D4", "B3", "G3", "D3", { open = "G4", first_fret = 5 }]
//!
//! [capo]                       # may be left out
//! fret = 2
//! short = 7                    # the short string's own
//! ```
//!
//! A string's table may also give `last_fret` and `course`, the further strings
//! of a course in semitones above the first: `course = [0]` for a unison pair.
//! Strings may be written as `[[strings]]` tables as well.

use std::ops::Range;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::{Capo, Neck, NeckDescription, NeckError, NeckString, Pitch, words};

/// Longest neck file accepted, in bytes: many times what any neck needs.
pub const LONGEST_FILE_BYTES: usize = 64 * 1024;

/// What is wrong with a neck file, where, and how it may look instead.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("line {line}: {what}; for example: {example}")]
pub struct NeckFileError {
    /// The line, from 1.
    pub line: usize,
    /// What is wrong.
    pub what: String,
    /// A line that would be right.
    pub example: &'static str,
}

const NAME: &str = "name = \"my banjo\"";
const SCALE: &str = "scale_length_mm = 670.0";
const FRETS: &str = "frets = 22";
const STRINGS: &str =
    "strings = [\"D4\", \"B3\", \"G3\", \"D3\", { open = \"G4\", first_fret = 5 }]";
const OPEN: &str = "open = \"G4\"";
const FIRST_FRET: &str = "first_fret = 5";
const LAST_FRET: &str = "last_fret = 22";
const COURSE: &str = "course = [0]";
const CAPO: &str = "capo = { fret = 2, short = 7 }";

const NECK_KEYS: [(&str, &str); 5] = [
    ("name", NAME),
    ("scale_length_mm", SCALE),
    ("frets", FRETS),
    ("strings", STRINGS),
    ("capo", CAPO),
];
const STRING_KEYS: [(&str, &str); 4] = [
    ("open", OPEN),
    ("first_fret", FIRST_FRET),
    ("last_fret", LAST_FRET),
    ("course", COURSE),
];
const CAPO_KEYS: [(&str, &str); 2] = [("fret", CAPO), ("short", CAPO)];

impl Neck {
    /// Reads a neck from the text of a neck file.
    ///
    /// # Errors
    /// [`NeckFileError`] with the line, what is wrong there, and an example.
    pub fn from_toml(text: &str) -> Result<Neck, NeckFileError> {
        if text.len() > LONGEST_FILE_BYTES {
            let what = format!(
                "a neck file has no more than {LONGEST_FILE_BYTES} bytes, and this one has {}",
                text.len()
            );
            return Err(NeckFileError {
                line: 1,
                what,
                example: STRINGS,
            });
        }
        let reader = Reader { text };
        let table = DeTable::parse(text).map_err(|error| {
            let at = error.span().unwrap_or(0..0);
            reader.error(
                &at,
                format!("this is not TOML: {}", error.message().replace('\n', " ")),
                NAME,
            )
        })?;
        reader.neck(table.get_ref())
    }
}

/// Knows the text, to tell lines.
struct Reader<'t> {
    text: &'t str,
}

type Fallible<T> = Result<T, NeckFileError>;

impl Reader<'_> {
    fn error(
        &self,
        at: &Range<usize>,
        what: impl Into<String>,
        example: &'static str,
    ) -> NeckFileError {
        let before = self.text.as_bytes().iter().take(at.start);
        let line = 1 + before.filter(|byte| **byte == b'\n').count();
        NeckFileError {
            line,
            what: what.into(),
            example,
        }
    }

    /// What is missing is told at the table that should hold it.
    fn needed<'a, 'i>(
        &self,
        table: &'a DeTable<'i>,
        key: &'static str,
        at: &Range<usize>,
        example: &'static str,
    ) -> Fallible<&'a Spanned<DeValue<'i>>> {
        table
            .get(key)
            .ok_or_else(|| self.error(at, format!("\"{key}\" is missing"), example))
    }

    fn known_keys(
        &self,
        table: &DeTable<'_>,
        known: &[(&'static str, &'static str)],
    ) -> Fallible<()> {
        for key in table.keys() {
            let name = key.get_ref().as_ref();
            if known.iter().any(|(known, _)| *known == name) {
                continue;
            }
            let near = words::nearest(name, known.iter().map(|(known, _)| *known));
            let (meant, example) = near
                .and_then(|near| known.iter().find(|(known, _)| *known == near))
                .or(known.first())
                .copied()
                .unwrap_or(("name", NAME));
            let what = match near {
                Some(_) => format!(
                    "\"{}\" is not known here, did you mean \"{meant}\"?",
                    words::shortened(name)
                ),
                None => format!("\"{}\" is not known here", words::shortened(name)),
            };
            return Err(self.error(&key.span(), what, example));
        }
        Ok(())
    }

    fn neck(&self, table: &DeTable<'_>) -> Fallible<Neck> {
        self.known_keys(table, &NECK_KEYS)?;
        let top = 0..0;
        let name = self.needed(table, "name", &top, NAME)?;
        let scale = self.needed(table, "scale_length_mm", &top, SCALE)?;
        let strings = self.needed(table, "strings", &top, STRINGS)?;
        let frets = table
            .get("frets")
            .map(|frets| self.fret(frets, FRETS))
            .transpose()?;
        let capo = table.get("capo");

        let Some(list) = strings.get_ref().as_array().filter(|list| !list.is_empty()) else {
            return Err(self.error(
                &strings.span(),
                "\"strings\" lists the strings, string 1 first",
                STRINGS,
            ));
        };
        let description = NeckDescription {
            name: self.word(name, NAME)?.to_owned(),
            scale_length_mm: self.length(scale)?,
            strings: list
                .iter()
                .map(|string| self.string(string, frets))
                .collect::<Fallible<_>>()?,
            capo: capo.map(|capo| self.capo(capo)).transpose()?,
        };
        Neck::build(description).map_err(|error| {
            let (at, example) = match &error {
                NeckError::Name => (name.span(), NAME),
                NeckError::ScaleLength { .. } => (scale.span(), SCALE),
                NeckError::StringCount { .. } => (strings.span(), STRINGS),
                NeckError::LastFret { string, .. } | NeckError::TooHigh { string, .. } => (
                    self.string_span(list.iter(), *string, "last_fret"),
                    LAST_FRET,
                ),
                NeckError::Course { string } => {
                    (self.string_span(list.iter(), *string, "course"), COURSE)
                }
                NeckError::CapoNowhere
                | NeckError::CapoTooHigh { .. }
                | NeckError::ShortCapoBehindPeg { .. }
                | NeckError::NoShortString { .. } => (capo.map_or(0..0, Spanned::span), CAPO),
            };
            self.error(&at, error.to_string(), example)
        })
    }

    /// Where a key of one string stands, or the string if it has no such key.
    fn string_span<'a, 'i: 'a>(
        &self,
        mut list: impl Iterator<Item = &'a Spanned<DeValue<'i>>>,
        string: u8,
        key: &str,
    ) -> Range<usize> {
        let Some(string) = list.nth(usize::from(string).saturating_sub(1)) else {
            return 0..0;
        };
        let inner = string.get_ref().as_table().and_then(|table| table.get(key));
        inner.map_or_else(|| string.span(), Spanned::span)
    }

    fn string(&self, value: &Spanned<DeValue<'_>>, frets: Option<u8>) -> Fallible<NeckString> {
        let no_frets = || {
            self.error(
                &value.span(),
                "neither this string nor the neck says how many frets it has",
                FRETS,
            )
        };
        if value.get_ref().is_str() {
            let open = self.pitch(value, "strings = [\"D4\", \"B3\", \"G3\", \"D3\"]")?;
            return Ok(NeckString {
                open,
                first_fret: 0,
                last_fret: frets.ok_or_else(no_frets)?,
                course: Vec::new(),
            });
        }
        let Some(table) = value.get_ref().as_table() else {
            return Err(self.error(
                &value.span(),
                "a string is its open pitch in quotes, or a table",
                STRINGS,
            ));
        };
        self.known_keys(table, &STRING_KEYS)?;
        let open = self.pitch(self.needed(table, "open", &value.span(), OPEN)?, OPEN)?;
        let first_fret = table
            .get("first_fret")
            .map(|fret| self.fret(fret, FIRST_FRET))
            .transpose()?;
        let last_fret = table
            .get("last_fret")
            .map(|fret| self.fret(fret, LAST_FRET))
            .transpose()?;
        let course = table
            .get("course")
            .map(|course| self.course(course))
            .transpose()?;
        Ok(NeckString {
            open,
            first_fret: first_fret.unwrap_or(0),
            last_fret: last_fret.or(frets).ok_or_else(no_frets)?,
            course: course.unwrap_or_default(),
        })
    }

    fn capo(&self, value: &Spanned<DeValue<'_>>) -> Fallible<Capo> {
        let Some(table) = value.get_ref().as_table() else {
            return Err(self.error(&value.span(), "a capo is a table with its fret", CAPO));
        };
        self.known_keys(table, &CAPO_KEYS)?;
        let fret = self.fret(self.needed(table, "fret", &value.span(), CAPO)?, CAPO)?;
        let short = table
            .get("short")
            .map(|short| self.fret(short, CAPO))
            .transpose()?;
        Ok(Capo { fret, short })
    }

    fn word<'a>(
        &self,
        value: &'a Spanned<DeValue<'_>>,
        example: &'static str,
    ) -> Fallible<&'a str> {
        let word = value.get_ref().as_str();
        word.ok_or_else(|| self.error(&value.span(), "this should be words in quotes", example))
    }

    fn pitch(&self, value: &Spanned<DeValue<'_>>, example: &'static str) -> Fallible<Pitch> {
        let word = self.word(value, example)?;
        word.parse().map_err(|error: crate::NameError| {
            self.error(&value.span(), error.to_string(), example)
        })
    }

    fn length(&self, value: &Spanned<DeValue<'_>>) -> Fallible<f64> {
        let figures = match value.get_ref() {
            DeValue::Float(float) => float.as_str(),
            DeValue::Integer(integer) if integer.radix() == 10 => integer.as_str(),
            _ => "",
        };
        figures.parse().map_err(|_| {
            self.error(
                &value.span(),
                "the scale length is a number of millimetres",
                SCALE,
            )
        })
    }

    fn fret(&self, value: &Spanned<DeValue<'_>>, example: &'static str) -> Fallible<u8> {
        let integer = whole(value.get_ref()).and_then(|number| u8::try_from(number).ok());
        integer.ok_or_else(|| {
            self.error(
                &value.span(),
                "a fret is a whole number from 0 to 36",
                example,
            )
        })
    }

    fn course(&self, value: &Spanned<DeValue<'_>>) -> Fallible<Vec<i8>> {
        let semitones =
            |item: &Spanned<DeValue<'_>>| whole(item.get_ref()).and_then(|n| i8::try_from(n).ok());
        let list = value
            .get_ref()
            .as_array()
            .and_then(|list| list.iter().map(semitones).collect());
        list.ok_or_else(|| {
            self.error(
                &value.span(),
                "a course is a list of semitones above its first string",
                COURSE,
            )
        })
    }
}

fn whole(value: &DeValue<'_>) -> Option<i64> {
    let integer = value.as_integer()?;
    i64::from_str_radix(integer.as_str(), integer.radix()).ok()
}
