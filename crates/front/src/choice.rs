//! Choices that the command line, plain mode and the screens write with the
//! same words.

use fifthpeg_core::text;
use fifthpeg_lesson::Picking;
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{Sounding, Voice};
use fifthpeg_lesson::track::AnswerPattern;

/// A choice among a few words.
pub trait Choice: Sized + Copy + PartialEq + 'static {
    /// What is chosen, as it reads in a sentence: "marking".
    const WHAT: &'static str;
    /// Every choice with its word and what it means.
    const ALL: &'static [(Self, &'static str, &'static str)];

    /// The word for this choice.
    fn word(self) -> &'static str {
        Self::ALL
            .iter()
            .find(|(choice, _, _)| *choice == self)
            .map_or("", |(_, word, _)| word)
    }

    /// What this choice means, in a few words.
    fn meaning(self) -> &'static str {
        Self::ALL
            .iter()
            .find(|(choice, _, _)| *choice == self)
            .map_or("", |(_, _, meaning)| meaning)
    }

    /// Every word, in order.
    fn words() -> Vec<&'static str> {
        Self::ALL.iter().map(|(_, word, _)| *word).collect()
    }

    /// The choice of this word.
    ///
    /// # Errors
    /// One sentence that lists the words there are.
    fn from_word(word: &str) -> Result<Self, String> {
        Self::ALL
            .iter()
            .find(|(_, known, _)| known.eq_ignore_ascii_case(word))
            .map(|(choice, _, _)| *choice)
            .ok_or_else(|| {
                format!(
                    "\"{}\" is no {}: choose {}",
                    text::shown(word),
                    Self::WHAT,
                    text::list_or(&Self::words())
                )
            })
    }
}

impl Choice for Sounding {
    const WHAT: &'static str = "way of sounding";
    const ALL: &'static [(Self, &'static str, &'static str)] = &[
        (
            Self::EveryTerminal,
            "every-terminal",
            "every terminal, all at one instant",
        ),
        (
            Self::HostSpeakers,
            "host-speakers",
            "the host's speakers alone",
        ),
        (
            Self::OnAsking,
            "on-asking",
            "each terminal when its student asks",
        ),
    ];
}

impl Choice for Marking {
    const WHAT: &'static str = "marking";
    const ALL: &'static [(Self, &'static str, &'static str)] = &[
        (
            Self::SamePitch,
            "same-pitch",
            "the same pitch, anywhere on the neck",
        ),
        (
            Self::ExactPlace,
            "exact-place",
            "the very place that was called",
        ),
        (
            Self::AnyOctave,
            "any-octave",
            "the right note in any octave",
        ),
    ];
}

impl Choice for Telling {
    const WHAT: &'static str = "way of telling";
    const ALL: &'static [(Self, &'static str, &'static str)] = &[
        (Self::Verdict, "verdict", "only right or not"),
        (Self::Hint, "hint", "also low or high, and roughly how far"),
        (
            Self::Interval,
            "interval",
            "also the interval, which gives the note away",
        ),
    ];
}

impl Choice for Voice {
    const WHAT: &'static str = "voice";
    const ALL: &'static [(Self, &'static str, &'static str)] = &[
        (Self::Banjo, "banjo", "a plucked string on a skin head"),
        (Self::Guitar, "guitar", "a plucked string on a wooden body"),
        (Self::Plain, "plain", "a nearly pure tone"),
    ];
}

impl Choice for Picking {
    const WHAT: &'static str = "way of picking";
    const ALL: &'static [(Self, &'static str, &'static str)] = &[
        (Self::Random, "random", "plainly at random"),
        (
            Self::Teaching,
            "teaching",
            "so that it teaches those who are here",
        ),
    ];
}

impl Choice for AnswerPattern {
    const WHAT: &'static str = "answer pattern";
    const ALL: &'static [(Self, &'static str, &'static str)] = &[
        (
            Self::OpenString,
            "open-string",
            "the open string that the note is found on, then the note",
        ),
        (
            Self::Climb,
            "climb",
            "that string fret by fret, from open up to the note",
        ),
        (Self::None, "none", "nothing but the note again"),
    ];
}

#[cfg(test)]
mod tests {
    use super::*;

    fn round_trips<C: Choice + std::fmt::Debug>() {
        for (choice, word, meaning) in C::ALL {
            assert_eq!(C::from_word(word).as_ref(), Ok(choice));
            assert_eq!(choice.word(), *word);
            assert!(!meaning.is_empty());
        }
    }

    #[test]
    fn every_word_is_read_back() {
        round_trips::<Sounding>();
        round_trips::<Marking>();
        round_trips::<Telling>();
        round_trips::<Voice>();
        round_trips::<Picking>();
    }

    #[test]
    fn a_wrong_word_is_told_the_right_ones() {
        assert_eq!(
            Voice::from_word("oboe"),
            Err("\"oboe\" is no voice: choose banjo, guitar or plain".to_owned())
        );
    }
}
