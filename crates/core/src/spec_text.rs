//! A reach as text, both ways. The form is documented at [`ReachSpec`].

use std::collections::BTreeSet;
use std::fmt;
use std::str::FromStr;

use crate::reach_spec::{NoteSet, ReachSpec, ReachStep};
use crate::scale::{Scale, ScaleError};
use crate::{NameError, Pitch, Spelling, words};

/// What is wrong with a reach written as text.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum ReachTextError {
    /// Nothing was written.
    #[error(
        "no reach was given: write a step such as \"octave\", or limits such as \"strings=1,2 frets=0-5\""
    )]
    Empty,
    /// A word that is neither a step nor a limit.
    #[error("\"{word}\" is no reach: did you mean \"{nearest}\"?")]
    Word {
        /// What was written.
        word: String,
        /// The nearest word or key that is known.
        nearest: &'static str,
    },
    /// The same thing was given twice.
    #[error("the reach gives \"{key}\" twice: keep one of them")]
    Twice {
        /// Which word or key.
        key: &'static str,
    },
    /// A limit whose value cannot be read.
    #[error("\"{value}\" does not fit {key}: write such as {key}={example}")]
    Value {
        /// Which limit.
        key: &'static str,
        /// What was written.
        value: String,
        /// How it may look.
        example: &'static str,
    },
    /// A limit with a note that cannot be read.
    #[error("{key}: {source}")]
    Name {
        /// Which limit.
        key: &'static str,
        /// What is wrong with the note.
        source: NameError,
    },
    /// A scale or chord that is not known.
    #[error("notes: {0}")]
    Scale(#[from] ScaleError),
}

const KEYS: [&str; 4] = ["strings=", "frets=", "pitches=", "notes="];
/// The word for a spec with nothing given.
const ALL: &str = "all";
/// Another word for [`ReachStep::TwoOpen`].
const FIRST_SECOND_OPEN: &str = "first-second-open";

impl fmt::Display for ReachSpec {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mut parts: Vec<String> = Vec::new();
        if let Some(step) = self.step {
            parts.push(step.word().to_owned());
        }
        if let Some(strings) = &self.strings {
            let each_once = BTreeSet::from_iter(strings);
            let numbers: Vec<String> = each_once.into_iter().map(u8::to_string).collect();
            parts.push(format!("strings={}", numbers.join(",")));
        }
        if let Some((from, to)) = self.frets {
            parts.push(format!("frets={from}-{to}"));
        }
        if let Some((from, to)) = self.pitches {
            let name = |pitch: Pitch| pitch.ascii_name(Spelling::Sharps);
            parts.push(format!("pitches={}-{}", name(from), name(to)));
        }
        if let Some(NoteSet { root, scale }) = self.notes {
            parts.push(format!(
                "notes={}:{scale}",
                root.ascii_name(Spelling::for_key(root, scale))
            ));
        }
        if parts.is_empty() {
            f.write_str(ALL)
        } else {
            f.write_str(&parts.join(" "))
        }
    }
}

impl FromStr for ReachSpec {
    type Err = ReachTextError;

    fn from_str(text: &str) -> Result<Self, ReachTextError> {
        let mut spec = ReachSpec::default();
        let lower = text.to_lowercase();
        let mut words = lower.split_whitespace().peekable();
        if words.peek().is_none() {
            return Err(ReachTextError::Empty);
        }
        for word in words {
            take_word(&mut spec, word)?;
        }
        Ok(spec)
    }
}

fn take_word(spec: &mut ReachSpec, word: &str) -> Result<(), ReachTextError> {
    let Some((key, value)) = word.split_once('=') else {
        let step = match word {
            ALL => return Ok(()),
            FIRST_SECOND_OPEN => ReachStep::TwoOpen,
            _ => ReachStep::all()
                .into_iter()
                .find(|s| s.word() == word)
                .ok_or_else(|| unknown(word))?,
        };
        return set(&mut spec.step, step, step.word());
    };
    match key {
        "strings" => set(&mut spec.strings, strings(value)?, "strings"),
        "frets" => set(&mut spec.frets, frets(value)?, "frets"),
        "pitches" => set(&mut spec.pitches, pitches(value)?, "pitches"),
        "notes" => set(&mut spec.notes, notes(value)?, "notes"),
        _ => Err(unknown(word)),
    }
}

fn set<T>(place: &mut Option<T>, value: T, key: &'static str) -> Result<(), ReachTextError> {
    if place.replace(value).is_some() {
        Err(ReachTextError::Twice { key })
    } else {
        Ok(())
    }
}

fn unknown(word: &str) -> ReachTextError {
    let steps = ReachStep::all().map(ReachStep::word);
    let nearest = match word.split_once('=') {
        Some((key, _)) => words::nearest(&format!("{key}="), KEYS).unwrap_or("strings="),
        None => words::nearest(word, steps.into_iter().chain([ALL])).unwrap_or("octave"),
    };
    ReachTextError::Word {
        word: words::shortened(word),
        nearest,
    }
}

fn bad(key: &'static str, value: &str, example: &'static str) -> ReachTextError {
    ReachTextError::Value {
        key,
        value: words::shortened(value),
        example,
    }
}

fn number(text: &str) -> Option<u8> {
    if text.bytes().all(|b| b.is_ascii_digit()) {
        text.parse().ok()
    } else {
        None
    }
}

/// The strings named, each once, from 1 upwards.
fn strings(value: &str) -> Result<Vec<u8>, ReachTextError> {
    let mut numbers = BTreeSet::new();
    for part in value.split(',') {
        let (from, to) = part.split_once('-').unwrap_or((part, part));
        match (number(from), number(to)) {
            (Some(from), Some(to)) if 1 <= from && from <= to => numbers.extend(from..=to),
            _ => return Err(bad("strings", value, "1,2")),
        }
    }
    Ok(numbers.into_iter().collect())
}

fn frets(value: &str) -> Result<(u8, u8), ReachTextError> {
    let (from, to) = value.split_once('-').unwrap_or((value, value));
    number(from)
        .zip(number(to))
        .ok_or_else(|| bad("frets", value, "0-5"))
}

fn pitches(value: &str) -> Result<(Pitch, Pitch), ReachTextError> {
    // A minus also stands before the octaves below nought (C-1), so the dash
    // between is the first one after a digit.
    let dash = value
        .bytes()
        .zip(value.bytes().skip(1))
        .position(|(a, b)| a.is_ascii_digit() && b == b'-');
    let (from, to) = match dash {
        Some(at) => (&value[..=at], &value[at + 2..]),
        None => return Err(bad("pitches", value, "D3-D4")),
    };
    let pitch = |text: &str| {
        text.parse().map_err(|source| ReachTextError::Name {
            key: "pitches",
            source,
        })
    };
    Ok((pitch(from)?, pitch(to)?))
}

fn notes(value: &str) -> Result<NoteSet, ReachTextError> {
    let (root, scale) = value
        .split_once(':')
        .ok_or_else(|| bad("notes", value, "G:major"))?;
    let root = root.parse().map_err(|source| ReachTextError::Name {
        key: "notes",
        source,
    })?;
    Ok(NoteSet {
        root,
        scale: scale.parse::<Scale>()?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> ReachSpec {
        text.parse()
            .unwrap_or_else(|error| panic!("{text}: {error}"))
    }

    #[test]
    fn steps_read_by_their_word() {
        for step in ReachStep::all() {
            assert_eq!(read(step.word()), ReachSpec::from(step));
            assert_eq!(ReachSpec::from(step).to_string(), step.word());
        }
        assert_eq!(
            read("first-second-open"),
            ReachSpec::from(ReachStep::TwoOpen)
        );
        assert_eq!(read("all"), ReachSpec::default());
        assert_eq!(ReachSpec::default().to_string(), "all");
    }

    #[test]
    fn limits_read_together() {
        let text = "octave strings=1,2 frets=0-5 pitches=D3-D4 notes=G:major";
        assert_eq!(read(text).to_string(), text);
        assert_eq!(read("strings=1-3,5").strings, Some(vec![1, 2, 3, 5]));
        assert_eq!(read("strings=5,1-2,1,1").strings, Some(vec![1, 2, 5]));
        assert_eq!(read("frets=7").frets, Some((7, 7)));
        assert_eq!(read("pitches=C-1-C0").to_string(), "pitches=C-1-C0");
        assert_eq!(
            read("notes=Bb:major-pentatonic").to_string(),
            "notes=Bb:major-pentatonic"
        );
    }

    #[test]
    fn slips_say_what_to_write() {
        let error = |text: &str| text.parse::<ReachSpec>().unwrap_err();
        assert_eq!(error(" "), ReachTextError::Empty);
        assert_eq!(
            error("octav").to_string(),
            "\"octav\" is no reach: did you mean \"octave\"?"
        );
        assert_eq!(
            error("sting=1").to_string(),
            "\"sting=1\" is no reach: did you mean \"strings=\"?"
        );
        assert_eq!(error("open whole"), ReachTextError::Twice { key: "whole" });
        assert_eq!(
            error("frets=5-x").to_string(),
            "\"5-x\" does not fit frets: write such as frets=0-5"
        );
        for text in [
            "strings=",
            "strings=0",
            "strings=3-1",
            "strings=1,,2",
            "frets=",
            "frets=0-300",
            "pitches=D3",
            "pitches=D-D4",
            "notes=G",
            "notes=H:major",
            "notes=G:mjor",
            "=",
            "frets==1",
        ] {
            assert!(text.parse::<ReachSpec>().is_err(), "{text}");
        }
    }
}
