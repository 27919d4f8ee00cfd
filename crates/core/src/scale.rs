//! Scales and chords as sets of notes above a root.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::words;

/// A scale or chord, by its notes above a root.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub enum Scale {
    /// 1 2 3 4 5 6 7.
    Major,
    /// Natural minor: 1 2 ♭3 4 5 ♭6 ♭7.
    Minor,
    /// 1 2 ♭3 4 5 ♭6 7.
    HarmonicMinor,
    /// 1 2 ♭3 4 5 6 ♭7.
    Dorian,
    /// 1 2 3 4 5 6 ♭7.
    Mixolydian,
    /// 1 2 3 5 6.
    MajorPentatonic,
    /// 1 ♭3 4 5 ♭7.
    MinorPentatonic,
    /// 1 ♭3 4 ♭5 5 ♭7.
    Blues,
    /// 1 3 5.
    MajorChord,
    /// 1 ♭3 5.
    MinorChord,
    /// 1 3 5 ♭7.
    SeventhChord,
    /// 1 ♭3 ♭5.
    DiminishedChord,
}

impl TryFrom<String> for Scale {
    type Error = ScaleError;

    fn try_from(name: String) -> Result<Self, ScaleError> {
        name.parse()
    }
}

impl From<Scale> for String {
    fn from(scale: Scale) -> String {
        scale.to_string()
    }
}

/// Name in texts, semitones above the root, and semitones from the root up to
/// the tonic of the major scale whose signature it is written with.
struct Row {
    scale: Scale,
    name: &'static str,
    semitones: &'static [u8],
    parent: u8,
}

/// The interval contents are common practice, no source; the tests compare
/// them with music21's scales and chords.
const ROWS: [Row; 12] = [
    row(Scale::Major, "major", &[0, 2, 4, 5, 7, 9, 11], 0),
    row(Scale::Minor, "minor", &[0, 2, 3, 5, 7, 8, 10], 3),
    row(
        Scale::HarmonicMinor,
        "harmonic-minor",
        &[0, 2, 3, 5, 7, 8, 11],
        3,
    ),
    row(Scale::Dorian, "dorian", &[0, 2, 3, 5, 7, 9, 10], 10),
    row(Scale::Mixolydian, "mixolydian", &[0, 2, 4, 5, 7, 9, 10], 5),
    row(
        Scale::MajorPentatonic,
        "major-pentatonic",
        &[0, 2, 4, 7, 9],
        0,
    ),
    row(
        Scale::MinorPentatonic,
        "minor-pentatonic",
        &[0, 3, 5, 7, 10],
        3,
    ),
    row(Scale::Blues, "blues", &[0, 3, 5, 6, 7, 10], 3),
    row(Scale::MajorChord, "major-chord", &[0, 4, 7], 0),
    row(Scale::MinorChord, "minor-chord", &[0, 3, 7], 3),
    row(Scale::SeventhChord, "seventh-chord", &[0, 4, 7, 10], 5),
    // The chord on the seventh note of a major scale.
    row(Scale::DiminishedChord, "diminished-chord", &[0, 3, 6], 1),
];

const fn row(scale: Scale, name: &'static str, semitones: &'static [u8], parent: u8) -> Row {
    Row {
        scale,
        name,
        semitones,
        parent,
    }
}

impl Scale {
    fn row(self) -> &'static Row {
        // The table is in the order of the variants; a test holds it there.
        &ROWS[self as usize]
    }

    /// Every scale and chord, scales first.
    pub fn all() -> impl Iterator<Item = Scale> {
        ROWS.iter().map(|row| row.scale)
    }

    /// The name as written in a reach, such as `major-pentatonic`.
    pub fn name(self) -> &'static str {
        self.row().name
    }

    /// Semitones of its notes above the root, rising, the root (0) first.
    pub fn semitones(self) -> &'static [u8] {
        self.row().semitones
    }

    /// Semitones from the root up to the tonic of the major scale whose key
    /// signature it is written with.
    pub fn parent_major_semitones(self) -> u8 {
        self.row().parent
    }
}

impl fmt::Display for Scale {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

impl FromStr for Scale {
    type Err = ScaleError;

    fn from_str(text: &str) -> Result<Self, ScaleError> {
        let wanted = text.trim().to_lowercase().replace([' ', '_'], "-");
        let found = ROWS.iter().find(|row| row.name == wanted);
        found.map(|row| row.scale).ok_or_else(|| ScaleError {
            text: words::shortened(text),
            nearest: words::nearest(&wanted, ROWS.iter().map(|row| row.name)).unwrap_or("major"),
        })
    }
}

/// A word that names no scale or chord.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is no scale or chord known here: did you mean \"{nearest}\"?")]
pub struct ScaleError {
    /// What was written.
    pub text: String,
    /// The nearest name that is known.
    pub nearest: &'static str,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_in_order_and_round_trips() {
        for (at, row) in ROWS.iter().enumerate() {
            assert_eq!(row.scale as usize, at);
            assert_eq!(row.name.parse::<Scale>(), Ok(row.scale));
            assert_eq!(row.semitones[0], 0);
            assert!(row.semitones.is_sorted() && row.semitones.iter().all(|s| *s < 12));
        }
    }

    #[test]
    fn a_wrong_name_gets_the_nearest() {
        let error = "majr".parse::<Scale>().unwrap_err();
        assert_eq!(error.nearest, "major");
        assert_eq!("Harmonic Minor".parse::<Scale>(), Ok(Scale::HarmonicMinor));
    }
}
