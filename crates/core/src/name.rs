//! Reading note names as people type them.

use std::str::FromStr;

use crate::{Pitch, PitchClass, words};

/// A note as somebody named it: with its octave, or without.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Named {
    /// With an octave: one pitch.
    Pitch(Pitch),
    /// Without: a note in any octave.
    Class(PitchClass),
}

impl Named {
    /// The note without its octave.
    pub fn class(self) -> PitchClass {
        match self {
            Named::Pitch(pitch) => pitch.class(),
            Named::Class(class) => class,
        }
    }
}

/// What is wrong with a note name.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NameError {
    /// Nothing was written.
    #[error("no note was named: write a letter from A to G, such as F#4")]
    Empty,
    /// It does not begin with a letter from A to G.
    #[error("\"{text}\" is no note: begin with a letter from A to G, such as F#4")]
    Letter {
        /// What was written.
        text: String,
    },
    /// After the letter stands something that is neither sharp nor flat nor an
    /// octave.
    #[error(
        "\"{rest}\" in \"{text}\" is neither sharp, flat nor an octave: write such as F#4 or Gb4"
    )]
    Rest {
        /// What was written.
        text: String,
        /// The part that was not understood.
        rest: String,
    },
    /// The note lies outside MIDI 0 to 127.
    #[error(
        "\"{text}\" is further out than any instrument: the lowest note is C-1 and the highest G9"
    )]
    OutOfRange {
        /// What was written.
        text: String,
    },
    /// An octave is needed and was not given.
    #[error("\"{text}\" names a note without its octave: add one, such as {text}4")]
    NoOctave {
        /// What was written.
        text: String,
    },
    /// An octave was given where none is wanted.
    #[error("\"{text}\" names one octave where the note alone is wanted: leave the number out")]
    HasOctave {
        /// What was written.
        text: String,
    },
}

/// Accidentals as written, and their semitones. Longer ones first, since they
/// begin alike.
const ACCIDENTALS: [(&str, i32); 15] = [
    ("double sharp", 2),
    ("double flat", -2),
    ("double-sharp", 2),
    ("double-flat", -2),
    ("natural", 0),
    ("sharp", 1),
    ("flat", -1),
    ("𝄪", 2),
    ("𝄫", -2),
    ("♯", 1),
    ("♭", -1),
    ("♮", 0),
    ("#", 1),
    ("b", -1),
    ("x", 2),
];

/// Sharps or flats beyond two are no names in use.
const MOST_ACCIDENTALS: i32 = 2;

impl FromStr for Named {
    type Err = NameError;

    /// Reads `F#4`, `gb4`, `F♯4`, `f sharp 4`, `B#3`, `Cb4`, `Fx4`, `Bbb3`,
    /// `A𝄫2`, and all of them without the octave. The letter decides the
    /// octave: `Cb4` is the B below middle C and `B#3` is middle C.
    fn from_str(text: &str) -> Result<Self, NameError> {
        let lower = text.trim().to_lowercase();
        let mut letters = lower.chars();
        let natural = match letters.next() {
            None => return Err(NameError::Empty),
            Some('c') => 0,
            Some('d') => 2,
            Some('e') => 4,
            Some('f') => 5,
            Some('g') => 7,
            Some('a') => 9,
            Some('b') => 11,
            Some(_) => {
                return Err(NameError::Letter {
                    text: words::shortened(text),
                });
            }
        };
        let (alter, rest) =
            accidentals(letters.as_str()).ok_or_else(|| rest_error(text, letters.as_str()))?;
        if rest.is_empty() {
            let number = (natural + alter).rem_euclid(12);
            let class = u8::try_from(number).ok().and_then(PitchClass::new);
            return class
                .map(Named::Class)
                .ok_or_else(|| rest_error(text, letters.as_str()));
        }
        let octave = octave(rest).ok_or_else(|| rest_error(text, rest))?;
        let midi = (octave + 1) * 12 + natural + alter;
        let pitch = u8::try_from(midi).ok().and_then(Pitch::new);
        pitch
            .map(Named::Pitch)
            .ok_or_else(|| NameError::OutOfRange {
                text: words::shortened(text),
            })
    }
}

fn rest_error(text: &str, rest: &str) -> NameError {
    NameError::Rest {
        text: words::shortened(text),
        rest: words::shortened(rest),
    }
}

/// Takes the accidentals from the front: their semitones together, and what is
/// left. `None` if they are mixed or too many.
fn accidentals(mut text: &str) -> Option<(i32, &str)> {
    let mut sum: i32 = 0;
    let mut seen: i32 = 0;
    loop {
        text = text.trim_start();
        let Some((sign, semitones)) = ACCIDENTALS.iter().find(|(sign, _)| text.starts_with(sign))
        else {
            return Some((sum, text));
        };
        text = &text[sign.len()..];
        // A sharp and a flat on one note, or a natural with either, is a slip.
        if seen > 0 && (sum.signum() != semitones.signum()) {
            return None;
        }
        seen += 1;
        sum += semitones;
        if sum.abs() > MOST_ACCIDENTALS || (seen > 1 && sum == 0) {
            return None;
        }
    }
}

/// An octave number: a digit or two, with a minus before it if below nought.
fn octave(text: &str) -> Option<i32> {
    let (sign, digits) = match text.strip_prefix(['-', '−']) {
        Some(digits) => (-1, digits),
        None => (1, text),
    };
    let fine = (1..=2).contains(&digits.len()) && digits.bytes().all(|b| b.is_ascii_digit());
    if fine {
        digits.parse::<i32>().ok().map(|n| n * sign)
    } else {
        None
    }
}

impl FromStr for Pitch {
    type Err = NameError;

    /// A note name with its octave, as [`Named`] reads it.
    fn from_str(text: &str) -> Result<Self, NameError> {
        match text.parse()? {
            Named::Pitch(pitch) => Ok(pitch),
            Named::Class(_) => Err(NameError::NoOctave {
                text: words::shortened(text),
            }),
        }
    }
}

impl FromStr for PitchClass {
    type Err = NameError;

    /// A note name without octave, as [`Named`] reads it.
    fn from_str(text: &str) -> Result<Self, NameError> {
        match text.parse()? {
            Named::Class(class) => Ok(class),
            Named::Pitch(_) => Err(NameError::HasOctave {
                text: words::shortened(text),
            }),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Spelling;

    fn midi(text: &str) -> u8 {
        text.parse::<Pitch>()
            .unwrap_or_else(|error| panic!("{text}: {error}"))
            .midi()
    }

    #[test]
    fn what_people_type() {
        for text in [
            "F#4",
            "f#4",
            "gb4",
            "Gb4",
            "GB4",
            "F♯4",
            "G♭4",
            "f sharp 4",
            "G flat 4",
            "F Sharp4",
            " f # 4 ",
        ] {
            assert_eq!(midi(text), 66, "{text}");
        }
        for text in [
            "Fx4",
            "F##4",
            "F𝄪4",
            "G4",
            "G♮4",
            "Abb4",
            "A𝄫4",
            "f double sharp 4",
        ] {
            assert_eq!(midi(text), 67, "{text}");
        }
        // The letter's octave counts, not the sound's.
        assert_eq!(midi("B#3"), 60);
        assert_eq!(midi("Cb4"), 59);
        assert_eq!(midi("C-1"), 0);
        assert_eq!(midi("G9"), 127);
        assert_eq!(midi("b3"), 59);
        assert_eq!(midi("bb3"), 58);
        assert_eq!(midi("bbb3"), 57);
    }

    #[test]
    fn names_without_octave() {
        let class = |text: &str| text.parse::<PitchClass>().unwrap().number();
        assert_eq!(class("F#"), 6);
        assert_eq!(class("cb"), 11);
        assert_eq!(class("b sharp"), 0);
        assert_eq!(class("B"), 11);
        assert_eq!(class("bb"), 10);
        assert!(matches!("F#".parse(), Ok(Named::Class(_))));
        assert!(matches!(
            "F#".parse::<Pitch>(),
            Err(NameError::NoOctave { .. })
        ));
        assert!(matches!(
            "F#4".parse::<PitchClass>(),
            Err(NameError::HasOctave { .. })
        ));
    }

    #[test]
    fn slips_are_named() {
        assert_eq!("  ".parse::<Named>(), Err(NameError::Empty));
        assert!(matches!(
            "H4".parse::<Named>(),
            Err(NameError::Letter { .. })
        ));
        for text in [
            "F#b4", "Fb#", "F###4", "F4#", "F#4 5", "Fq", "F--1", "F123", "F+4", "F#♮4", "A♮b",
        ] {
            assert!(
                matches!(text.parse::<Named>(), Err(NameError::Rest { .. })),
                "{text}"
            );
        }
        for text in ["Cb-1", "G#9", "C99", "C-9"] {
            assert!(
                matches!(text.parse::<Named>(), Err(NameError::OutOfRange { .. })),
                "{text}"
            );
        }
    }

    #[test]
    fn every_name_written_is_read_back() {
        for midi in 0..=127 {
            let pitch = Pitch::new(midi).unwrap();
            for spelling in [Spelling::Sharps, Spelling::Flats] {
                assert_eq!(pitch.name(spelling).parse(), Ok(pitch));
                assert_eq!(pitch.ascii_name(spelling).parse(), Ok(pitch));
                assert_eq!(pitch.class().name(spelling).parse(), Ok(pitch.class()));
                assert_eq!(
                    pitch.class().ascii_name(spelling).parse(),
                    Ok(pitch.class())
                );
            }
        }
    }
}
