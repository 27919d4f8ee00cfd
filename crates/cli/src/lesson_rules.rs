//! The rules of a lesson to begin with, for `host` and `solo`.

use clap::Args;
use fifthpeg_core::{Cause, Reach, ReachSpec};
use fifthpeg_front::choice::Choice;
use fifthpeg_front::failure::Failure;
use fifthpeg_front::necks;
use fifthpeg_front::values::{parse_a4, parse_seed};
use fifthpeg_lesson::LessonSetup;
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{Rules, Voice};

use crate::args::neck_choice::NeckChoice;
use crate::opening;

/// Which rules the lesson begins with.
#[derive(Debug, Args)]
pub struct LessonRules {
    /// Where calls are picked from
    ///
    /// A ready step (two-open, open, octave, octave-along,
    /// twelve, whole), or a reach of your own:
    /// "strings=1,2 frets=0-5 pitches=D3-D4 notes=G:major". It can be changed
    /// in mid-lesson. The narrowest ready step is the one to begin with.
    #[arg(long, value_name = "REACH")]
    pub reach: Option<String>,

    /// What counts as right: same-pitch (anywhere on the neck), exact-place or
    /// any-octave
    #[arg(long, value_name = "RULE", default_value = "same-pitch", value_parser = Marking::from_word)]
    pub marking: Marking,

    /// How much a miss says before the reveal: verdict (only right or not), hint
    /// (also low or high, and roughly how far) or interval (gives the note away)
    #[arg(long, value_name = "HOW", default_value = "hint", value_parser = Telling::from_word)]
    pub telling: Telling,

    /// The voice of calls and tries: banjo, guitar or plain
    #[arg(long, value_name = "VOICE", default_value = "banjo", value_parser = Voice::from_word)]
    pub voice: Voice,

    /// Frequency of A4 in hertz, from 390 to 470
    #[arg(long, value_name = "HZ", default_value = "440", value_parser = parse_a4, allow_negative_numbers = true)]
    pub a4: f64,

    /// Write Gb, not F#
    #[arg(long)]
    pub flats: bool,

    /// Pick the same random notes again as another lesson of this seed
    #[arg(long, value_name = "NUMBER", value_parser = parse_seed, allow_negative_numbers = true)]
    pub seed: Option<u64>,

    /// Invite students to sing each note before they search for it
    ///
    /// Nothing waits for it. Students with a microphone are told the octave and
    /// how many cents away they sang.
    #[arg(long)]
    pub sing_first: bool,
}

impl LessonRules {
    /// A lesson of this name on this neck.
    ///
    /// # Errors
    /// When there is no such neck or reach.
    pub fn setup(&self, name: &str, neck: &NeckChoice) -> Result<LessonSetup, Failure> {
        let neck = necks::choose(&neck.neck, neck.neck_file.as_deref(), neck.capo)?;
        let mut setup = LessonSetup::new(name, &neck);
        let wrong = |error: Cause| Failure::usage(error).told(|why| format!("--reach: {why}"));
        let reach = match &self.reach {
            Some(spec) => spec
                .parse::<ReachSpec>()
                .map_err(|error| wrong(error.into()))?,
            None => setup.rules.reach.clone(),
        };
        Reach::resolve(&neck, &reach).map_err(|error| wrong(error.into()))?;
        setup.rules = Rules {
            reach,
            marking: self.marking,
            telling: self.telling,
            voice: self.voice,
            a4_hz: self.a4,
            flats: self.flats,
            sing_first: self.sing_first,
            ..setup.rules
        };
        setup.seed = self.seed.unwrap_or_else(opening::seed);
        Ok(setup)
    }
}
