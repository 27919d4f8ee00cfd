//! The options of `fifthpeg solo`.

use std::time::Duration;

use clap::Args;
use fifthpeg_lesson::Picking;

use crate::args::{Manner, NeckChoice};
use crate::choice::Choice;
use crate::ear_options::EarOptions;
use crate::lesson_book::BookOptions;
use crate::lesson_rules::LessonRules;
use crate::text;
use crate::values::parse_name;

/// Shortest and longest pause before the next note, in seconds.
const GAP_S: std::ops::RangeInclusive<f64> = 1.0..=60.0;

/// `fifthpeg solo`.
#[derive(Debug, Args)]
pub struct SoloArgs {
    /// Your name in the lesson book: in a class, the one you are known by there
    ///
    /// Without it, the only name there is in the book's class, or Me.
    #[arg(long = "as", id = "name_in_lesson", value_name = "NAME", value_parser = parse_name)]
    pub name_in_lesson: Option<String>,

    /// The neck.
    #[command(flatten)]
    pub neck: NeckChoice,

    /// What is asked, and how.
    #[command(flatten)]
    pub rules: LessonRules,

    /// How notes are picked: teaching (by what you find and miss, in earlier
    /// lessons of the book too) or random (plainly)
    #[arg(long, value_name = "HOW", default_value = "teaching", value_parser = Picking::from_word)]
    pub picking: Picking,

    /// Call the next note by itself so many seconds after one is shown, from 1
    /// to 60; without it, a key calls it
    #[arg(long, value_name = "SECONDS", value_parser = parse_gap, allow_negative_numbers = true)]
    pub gap: Option<Duration>,

    /// Where the lesson is written down.
    #[command(flatten)]
    pub book: BookOptions,

    /// How the instrument is listened to.
    #[command(flatten)]
    pub ear: EarOptions,

    /// How it looks and sounds.
    #[command(flatten)]
    pub manner: Manner,
}

/// A pause between notes.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_gap(typed: &str) -> Result<Duration, String> {
    typed
        .trim_end_matches('s')
        .trim()
        .parse()
        .ok()
        .filter(|seconds| GAP_S.contains(seconds))
        .map(Duration::from_secs_f64)
        .ok_or_else(|| {
            format!(
                "\"{}\" is no pause between notes: give seconds from {} to {}, such as 4",
                text::shown(typed),
                GAP_S.start(),
                GAP_S.end()
            )
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_are_bounded() {
        assert_eq!(parse_gap("4"), Ok(Duration::from_secs(4)));
        assert_eq!(parse_gap("1.5s"), Ok(Duration::from_millis(1500)));
        for wrong in ["", "0", "0.9", "61", "-2", "NaN", "inf", "soon"] {
            assert!(parse_gap(wrong).is_err(), "{wrong}");
        }
    }
}
