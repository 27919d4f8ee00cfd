//! Answers, reaches and necks.

use fifthpeg_core::{
    Capo, NeckDescription, NeckString, NoteSet, Pitch, PitchClass, Position, ReachSpec,
};
use serde::{Deserialize, Serialize};

use super::figure::Figure;
use super::{Unread, strange};
use crate::words::Word;

pub(super) fn pitch(midi: u8) -> Result<Pitch, Unread> {
    Pitch::new(midi).ok_or_else(|| strange("a pitch", "no MIDI number"))
}

fn class(number: u8) -> Result<PitchClass, Unread> {
    PitchClass::new(number).ok_or_else(|| strange("a note name", "beyond B"))
}

/// What was tried or answered.
#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Answer {
    /// String and fret.
    Place(u8, u8),
    /// MIDI number.
    Pitch(u8),
    /// Semitones above C.
    Class(u8),
}

impl From<fifthpeg_lesson::message::Answer> for Answer {
    fn from(answer: fifthpeg_lesson::message::Answer) -> Self {
        use fifthpeg_lesson::message::Answer as A;
        match answer {
            A::Place(p) => Answer::Place(p.string, p.fret),
            A::Pitch(p) => Answer::Pitch(p.midi()),
            A::Class(c) => Answer::Class(c.number()),
        }
    }
}

impl TryFrom<Answer> for fifthpeg_lesson::message::Answer {
    type Error = Unread;
    fn try_from(answer: Answer) -> Result<Self, Unread> {
        Ok(match answer {
            Answer::Place(string, fret) => Self::Place(Position { string, fret }),
            Answer::Pitch(midi) => Self::Pitch(pitch(midi)?),
            Answer::Class(number) => Self::Class(class(number)?),
        })
    }
}

/// A reach.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Reach {
    strings: Option<Vec<u8>>,
    frets: Option<(u8, u8)>,
    pitches: Option<(u8, u8)>,
    /// Root in semitones above C, and the scale's word.
    notes: Option<(u8, String)>,
    step: Option<String>,
}

impl From<&ReachSpec> for Reach {
    fn from(spec: &ReachSpec) -> Self {
        let ReachSpec {
            strings,
            frets,
            pitches,
            notes,
            step,
        } = spec;
        Reach {
            strings: strings.clone(),
            frets: *frets,
            pitches: pitches.map(|(from, to)| (from.midi(), to.midi())),
            notes: notes.map(|n| (n.root.number(), n.scale.word().to_owned())),
            step: step.map(|s| s.word().to_owned()),
        }
    }
}

impl TryFrom<Reach> for ReachSpec {
    type Error = Unread;
    fn try_from(reach: Reach) -> Result<Self, Unread> {
        let unknown = || strange("a reach", "an unknown word");
        let pitches = match reach.pitches {
            Some((from, to)) => Some((pitch(from)?, pitch(to)?)),
            None => None,
        };
        let notes = match reach.notes {
            Some((root, scale)) => Some(NoteSet {
                root: class(root)?,
                scale: Word::from_word(&scale).ok_or_else(unknown)?,
            }),
            None => None,
        };
        let step = match reach.step {
            Some(word) => Some(Word::from_word(&word).ok_or_else(unknown)?),
            None => None,
        };
        Ok(ReachSpec {
            strings: reach.strings,
            frets: reach.frets,
            pitches,
            notes,
            step,
        })
    }
}

/// A neck.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Neck {
    name: String,
    strings: Vec<StringText>,
    scale_length_mm: Figure,
    capo: Option<CapoText>,
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct StringText {
    open: u8,
    first_fret: u8,
    last_fret: u8,
    course: Vec<i8>,
}

#[derive(Debug, Clone, Copy, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct CapoText {
    fret: u8,
    short: Option<u8>,
}

impl From<&NeckDescription> for Neck {
    fn from(neck: &NeckDescription) -> Self {
        let string = |s: &NeckString| StringText {
            open: s.open.midi(),
            first_fret: s.first_fret,
            last_fret: s.last_fret,
            course: s.course.clone(),
        };
        let NeckDescription {
            name,
            strings,
            scale_length_mm,
            capo,
        } = neck;
        Neck {
            name: name.clone(),
            strings: strings.iter().map(string).collect(),
            scale_length_mm: Figure(*scale_length_mm),
            capo: capo.map(|Capo { fret, short }| CapoText { fret, short }),
        }
    }
}

impl TryFrom<Neck> for NeckDescription {
    type Error = Unread;
    fn try_from(neck: Neck) -> Result<Self, Unread> {
        let string = |s: StringText| {
            Ok(NeckString {
                open: pitch(s.open)?,
                first_fret: s.first_fret,
                last_fret: s.last_fret,
                course: s.course,
            })
        };
        Ok(NeckDescription {
            name: neck.name,
            strings: neck
                .strings
                .into_iter()
                .map(string)
                .collect::<Result<_, _>>()?,
            scale_length_mm: neck.scale_length_mm.0,
            capo: neck
                .capo
                .map(|CapoText { fret, short }| Capo { fret, short }),
        })
    }
}
