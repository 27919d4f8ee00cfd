//! A reach as somebody asks for it: plain data, not yet tried on a neck.

use serde::{Deserialize, Serialize};

use crate::{Pitch, PitchClass, Scale};

/// The notes of a scale or chord.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(from = "(PitchClass, Scale)", into = "(PitchClass, Scale)")]
pub struct NoteSet {
    /// The note it is built on.
    pub root: PitchClass,
    /// Which scale or chord.
    pub scale: Scale,
}

impl From<(PitchClass, Scale)> for NoteSet {
    fn from((root, scale): (PitchClass, Scale)) -> Self {
        NoteSet { root, scale }
    }
}

impl From<NoteSet> for (PitchClass, Scale) {
    fn from(notes: NoteSet) -> Self {
        (notes.root, notes.scale)
    }
}

impl NoteSet {
    /// Whether a note is one of them, in any octave.
    pub fn contains(self, class: PitchClass) -> bool {
        self.scale
            .semitones()
            .contains(&self.root.semitones_up_to(class))
    }
}

/// The ready steps, from narrow to wide. Widening the reach step by step as
/// the ear gets surer is common practice, no source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "String", into = "&'static str")]
pub enum ReachStep {
    /// The first and second string open, one beside the other.
    TwoOpen,
    /// All strings open.
    AllOpen,
    /// One octave up from the fourth string open, each note where its fret is
    /// lowest.
    OctaveLow,
    /// The same octave along the fourth string alone.
    OctaveAlong,
    /// Twelve frets on every string, counted from the nut or capo.
    TwelveFrets,
    /// Every place there is.
    WholeNeck,
}

impl TryFrom<String> for ReachStep {
    type Error = &'static str;

    fn try_from(word: String) -> Result<Self, &'static str> {
        let step = Self::all().into_iter().find(|step| step.word() == word);
        step.ok_or("an unknown step of a reach")
    }
}

impl From<ReachStep> for &'static str {
    fn from(step: ReachStep) -> &'static str {
        step.word()
    }
}

impl ReachStep {
    /// Every step, from narrow to wide.
    pub const fn all() -> [ReachStep; 6] {
        use ReachStep::{AllOpen, OctaveAlong, OctaveLow, TwelveFrets, TwoOpen, WholeNeck};
        [
            TwoOpen,
            AllOpen,
            OctaveLow,
            OctaveAlong,
            TwelveFrets,
            WholeNeck,
        ]
    }

    /// The word it is asked for by.
    pub const fn word(self) -> &'static str {
        match self {
            ReachStep::TwoOpen => "two-open",
            ReachStep::AllOpen => "open",
            ReachStep::OctaveLow => "octave",
            ReachStep::OctaveAlong => "octave-along",
            ReachStep::TwelveFrets => "twelve",
            ReachStep::WholeNeck => "whole",
        }
    }

    /// What it is, for people.
    pub const fn title(self) -> &'static str {
        match self {
            ReachStep::TwoOpen => "first and second string open",
            ReachStep::AllOpen => "all strings open",
            ReachStep::OctaveLow => "one octave in low position",
            ReachStep::OctaveAlong => "one octave along one string",
            ReachStep::TwelveFrets => "twelve frets",
            ReachStep::WholeNeck => "the whole neck",
        }
    }

    /// The next wider step; `None` from the whole neck.
    pub fn wider(self) -> Option<ReachStep> {
        Self::all().into_iter().find(|step| *step > self)
    }

    /// The next narrower step; `None` from two open strings.
    pub fn narrower(self) -> Option<ReachStep> {
        Self::all().into_iter().rev().find(|step| *step < self)
    }
}

/// Which places a call may be picked from: those that fit everything given. A
/// spec with nothing given is the whole neck.
///
/// As text, a ready step's word and limits as `key=value`, in any order with
/// blanks between: `octave`, `strings=1,2 frets=0-5`, `pitches=D3-D4`,
/// `whole notes=G:major`; or `all` where nothing is given. Strings also read
/// as a range (`strings=1-3`), and `first-second-open` as `two-open`. In the
/// text every string stands once, in order.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ReachSpec {
    /// Only these strings, from 1.
    pub strings: Option<Vec<u8>>,
    /// Only from this fret to that one. An open string counts as fret 0, and
    /// under a capo as the capo's fret as well.
    pub frets: Option<(u8, u8)>,
    /// Only from this pitch to that one.
    pub pitches: Option<(Pitch, Pitch)>,
    /// Only notes of this scale or chord.
    pub notes: Option<NoteSet>,
    /// Only places of this ready step.
    pub step: Option<ReachStep>,
}

impl ReachSpec {
    /// What it is, for people: a ready step's title, or as it is typed.
    pub fn title(&self) -> String {
        match self.step {
            Some(step) if *self == ReachSpec::from(step) => step.title().to_owned(),
            _ => self.to_string(),
        }
    }
}

impl From<ReachStep> for ReachSpec {
    fn from(step: ReachStep) -> Self {
        ReachSpec {
            step: Some(step),
            ..ReachSpec::default()
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_widen_in_order() {
        let mut step = ReachStep::TwoOpen;
        let mut walked = vec![step];
        while let Some(next) = step.wider() {
            assert_eq!(next.narrower(), Some(step));
            step = next;
            walked.push(step);
        }
        assert_eq!(walked, ReachStep::all());
        assert_eq!(ReachStep::TwoOpen.narrower(), None);
    }

    #[test]
    fn g_major_holds_f_sharp() {
        let class = |n| PitchClass::new(n).unwrap();
        let g_major = NoteSet {
            root: class(7),
            scale: Scale::Major,
        };
        assert!(g_major.contains(class(6)) && g_major.contains(class(7)));
        assert!(!g_major.contains(class(5)));
    }
}
