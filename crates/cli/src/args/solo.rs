//! The options of `fifthpeg solo`.

use std::time::Duration;

use clap::Args;
use fifthpeg_front::values::parse_name;
use fifthpeg_vocab::pace::parse_gap;

use super::manner::Looks;
use super::neck_choice::NeckChoice;
use crate::ear_options::EarOptions;
use crate::lesson_book::BookOptions;
use crate::lesson_rules::{LessonRules, RuleOptions};

/// `fifthpeg solo`.
#[derive(Debug, Args)]
pub struct SoloArgs {
    /// Your name in the lesson book: in a class, the one you are known by there
    ///
    /// Without it, whoever practised alone before, or else the only person in the
    /// book, and you are told which; or else Me.
    #[arg(long = "as", id = "name_in_lesson", value_name = "NAME", value_parser = parse_name)]
    pub name_in_lesson: Option<String>,

    /// The neck.
    #[command(flatten)]
    pub neck: NeckChoice,

    /// What is asked, and how.
    #[command(flatten)]
    pub rules: LessonRules,

    /// The other rules.
    #[command(flatten)]
    pub choices: RuleOptions<true>,

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
    pub manner: Looks,
}
