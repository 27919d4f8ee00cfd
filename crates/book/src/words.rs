//! The words that the book writes for the lesson's choices. They are the
//! book's own: a word once written keeps its meaning, whatever becomes of the
//! type it stands for.

use fifthpeg_core::{ReachStep, Scale};
use fifthpeg_lesson::event::Leaving;
use fifthpeg_lesson::learning::{Confusion, Outcome};
use fifthpeg_lesson::marking::{Marking, Side, Telling};
use fifthpeg_lesson::message::{Mode, Sounding, Source, Voice};
use fifthpeg_lesson::{Picked, Picking};

/// A choice that is written as a word.
pub(crate) trait Word: Sized {
    /// The word.
    fn word(self) -> &'static str;
    /// The choice of that word, if there is one.
    fn from_word(word: &str) -> Option<Self>;
}

macro_rules! words {
    ($($type:ident { $($variant:ident = $word:literal),+ $(,)? })+) => {$(
        impl Word for $type {
            fn word(self) -> &'static str {
                match self { $($type::$variant => $word),+ }
            }
            fn from_word(word: &str) -> Option<Self> {
                match word { $($word => Some($type::$variant),)+ _ => None }
            }
        }
    )+};
}

words! {
    Mode { Class = "class", Friends = "friends" }
    Marking { SamePitch = "same-pitch", ExactPlace = "exact-place", AnyOctave = "any-octave" }
    Telling { Verdict = "verdict", Hint = "hint", Interval = "interval" }
    Sounding {
        EveryTerminal = "every-terminal", HostSpeakers = "host-speakers", OnAsking = "on-asking",
    }
    Voice { Banjo = "banjo", Guitar = "guitar", Plain = "plain" }
    Source { Screen = "screen", Instrument = "instrument" }
    Picking { Random = "random", Teaching = "teaching" }
    Picked {
        Random = "random", Teaching = "teaching", Hand = "hand", Instrument = "instrument",
        Friend = "friend",
    }
    Outcome {
        FoundFirst = "found-first", FoundLater = "found-later", NotFound = "not-found",
        Silent = "silent",
    }
    Confusion {
        Octave = "octave", Neighbour = "semitone", WholeTone = "whole-tone", Further = "further",
    }
    Side { Low = "low", High = "high" }
    Leaving {
        Lost = "lost", Left = "left", Removed = "removed", FellBehind = "fell-behind",
        MadeRoom = "made-room",
    }
    ReachStep {
        TwoOpen = "two-open", AllOpen = "open", OctaveLow = "octave", OctaveAlong = "octave-along",
        TwelveFrets = "twelve", WholeNeck = "whole",
    }
    Scale {
        Major = "major", Minor = "minor", HarmonicMinor = "harmonic-minor", Dorian = "dorian",
        Mixolydian = "mixolydian", MajorPentatonic = "major-pentatonic",
        MinorPentatonic = "minor-pentatonic", Blues = "blues", MajorChord = "major-chord",
        MinorChord = "minor-chord", SeventhChord = "seventh-chord",
        DiminishedChord = "diminished-chord",
    }
}

/// For `#[serde(with)]`: a choice as its word.
pub(crate) mod as_word {
    use serde::de::Error as _;
    use serde::{Deserialize, Deserializer, Serializer};

    use super::Word;

    pub fn serialize<T: Word + Copy, S: Serializer>(choice: &T, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(choice.word())
    }

    pub fn deserialize<'de, T: Word, D: Deserializer<'de>>(d: D) -> Result<T, D::Error> {
        let word = String::deserialize(d)?;
        T::from_word(&word).ok_or_else(|| D::Error::custom(format!("an unknown word: {word}")))
    }
}
