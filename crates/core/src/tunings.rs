//! Ready necks.
//!
//! Tunings, fret counts and scale lengths are common practice, no source. The
//! open strings of guitar, bass, mandolin and ukulele are compared with
//! music21 by the reference tests.

use crate::{Neck, NeckDescription, NeckString, Pitch, words};

/// A neck that comes with the program.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ReadyNeck {
    /// What it is asked for by: `banjo-open-g`.
    pub name: &'static str,
    /// What it is, for people: "five-string banjo, open G (gDGBD)".
    pub title: &'static str,
    /// Open strings, string 1 first.
    open: &'static [ReadyString],
    last_fret: u8,
    scale_length_mm: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct ReadyString {
    open: Pitch,
    first_fret: u8,
    course: &'static [i8],
}

const fn full(midi: u8) -> ReadyString {
    ReadyString {
        open: Pitch::known(midi),
        first_fret: 0,
        course: &[],
    }
}

/// The banjo's fifth string, whose peg sits at the fifth fret.
const fn fifth(midi: u8) -> ReadyString {
    ReadyString {
        open: Pitch::known(midi),
        first_fret: 5,
        course: &[],
    }
}

const fn pair(midi: u8) -> ReadyString {
    ReadyString {
        open: Pitch::known(midi),
        first_fret: 0,
        course: &[0],
    }
}

const fn octave_pair(midi: u8) -> ReadyString {
    ReadyString {
        open: Pitch::known(midi),
        first_fret: 0,
        course: &[12],
    }
}

const fn five_string(
    name: &'static str,
    title: &'static str,
    open: &'static [ReadyString; 5],
) -> ReadyNeck {
    ReadyNeck {
        name,
        title,
        open,
        last_fret: 22,
        scale_length_mm: 670.0,
    }
}

static READY: &[ReadyNeck] = &[
    five_string(
        "banjo-open-g",
        "five-string banjo, open G (gDGBD)",
        &[full(62), full(59), full(55), full(50), fifth(67)],
    ),
    five_string(
        "banjo-double-c",
        "five-string banjo, double C (gCGCD)",
        &[full(62), full(60), full(55), full(48), fifth(67)],
    ),
    five_string(
        "banjo-drop-c",
        "five-string banjo, drop C (gCGBD)",
        &[full(62), full(59), full(55), full(48), fifth(67)],
    ),
    five_string(
        "banjo-sawmill",
        "five-string banjo, sawmill (gDGCD)",
        &[full(62), full(60), full(55), full(50), fifth(67)],
    ),
    five_string(
        "banjo-open-d",
        "five-string banjo, open D (f#DF#AD)",
        &[full(62), full(57), full(54), full(50), fifth(66)],
    ),
    ReadyNeck {
        name: "tenor-banjo",
        title: "tenor banjo, CGDA",
        open: &[full(69), full(62), full(55), full(48)],
        last_fret: 19,
        scale_length_mm: 584.0,
    },
    ReadyNeck {
        name: "tenor-banjo-gdae",
        title: "tenor banjo, low GDAE",
        open: &[full(64), full(57), full(50), full(43)],
        last_fret: 19,
        scale_length_mm: 584.0,
    },
    ReadyNeck {
        name: "plectrum-banjo",
        title: "plectrum banjo, CGBD",
        open: &[full(62), full(59), full(55), full(48)],
        last_fret: 22,
        scale_length_mm: 670.0,
    },
    ReadyNeck {
        name: "guitar",
        title: "guitar, EADGBE",
        open: &[full(64), full(59), full(55), full(50), full(45), full(40)],
        last_fret: 20,
        scale_length_mm: 648.0,
    },
    ReadyNeck {
        name: "guitar-twelve-string",
        title: "twelve-string guitar, EADGBE in pairs",
        open: &[
            pair(64),
            pair(59),
            octave_pair(55),
            octave_pair(50),
            octave_pair(45),
            octave_pair(40),
        ],
        last_fret: 20,
        scale_length_mm: 648.0,
    },
    ReadyNeck {
        name: "bass",
        title: "bass guitar, EADG",
        open: &[full(43), full(38), full(33), full(28)],
        last_fret: 20,
        scale_length_mm: 864.0,
    },
    ReadyNeck {
        name: "mandolin",
        title: "mandolin, GDAE in pairs",
        open: &[pair(76), pair(69), pair(62), pair(55)],
        last_fret: 20,
        scale_length_mm: 352.0,
    },
    ReadyNeck {
        name: "ukulele",
        title: "ukulele, gCEA (fourth string high)",
        open: &[full(69), full(64), full(60), full(67)],
        last_fret: 15,
        scale_length_mm: 349.0,
    },
];

/// Every ready neck, the five-string banjo's first.
pub fn ready_necks() -> &'static [ReadyNeck] {
    READY
}

/// The ready neck whose name is nearest to what somebody wrote, if one is near.
pub fn nearest_ready_name(text: &str) -> Option<&'static str> {
    words::nearest(
        &text.trim().to_lowercase(),
        ready_necks().iter().map(|ready| ready.name),
    )
}

impl ReadyNeck {
    /// The neck itself, called by its title.
    pub fn neck(&self) -> Neck {
        let description = self.description();
        // A test builds every one of them, so this cannot fail in use.
        Neck::build(description).expect("a ready neck is a neck that can be")
    }

    /// Its figures, called by its title.
    pub fn description(&self) -> NeckDescription {
        let string = |s: &ReadyString| NeckString {
            open: s.open,
            first_fret: s.first_fret,
            last_fret: self.last_fret,
            course: s.course.to_vec(),
        };
        NeckDescription {
            name: self.title.to_owned(),
            strings: self.open.iter().map(string).collect(),
            scale_length_mm: self.scale_length_mm,
            capo: None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_ready_neck_builds_and_has_a_name_of_its_own() {
        let mut names: Vec<&str> = ready_necks().iter().map(|ready| ready.name).collect();
        for ready in ready_necks() {
            assert!(Neck::build(ready.description()).is_ok(), "{}", ready.name);
            assert_eq!(Neck::ready(ready.name), Some(ready.neck()));
        }
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), ready_necks().len());
        assert_eq!(Neck::ready("lute"), None);
    }

    #[test]
    fn a_slip_gets_the_nearest_name() {
        assert_eq!(nearest_ready_name("banjo-openg"), Some("banjo-open-g"));
        assert_eq!(nearest_ready_name("gitar"), Some("guitar"));
        assert_eq!(nearest_ready_name("hurdy-gurdy on the moon"), None);
    }
}
