//! The rules of a lesson to begin with, for `host` and `solo`.

use clap::{Arg, ArgAction, ArgMatches, Args, Command, FromArgMatches};
use fifthpeg_core::{Cause, Reach, ReachSpec, ready_necks, text};
use fifthpeg_front::failure::Failure;
use fifthpeg_front::necks;
use fifthpeg_front::values::{parse_a4, parse_seed};
use fifthpeg_lesson::LessonSetup;
use fifthpeg_vocab::Picking;
use fifthpeg_vocab::pace::Untold;
use fifthpeg_vocab::rules::{ChangedBy, RULES, Rule, Rules, Setting};

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

    /// Frequency of A4 in hertz, from 390 to 470
    #[arg(long, value_name = "HZ", default_value = "440", value_parser = parse_a4, allow_negative_numbers = true)]
    pub a4: f64,

    /// Write Gb, not F#
    #[arg(long)]
    pub flats: bool,

    /// Pick the same random notes again as another lesson of this seed
    #[arg(long, value_name = "NUMBER", value_parser = parse_seed, allow_negative_numbers = true)]
    pub seed: Option<u64>,
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
            a4_hz: self.a4,
            flats: self.flats,
            ..setup.rules
        };
        setup.seed = self.seed.unwrap_or_else(opening::seed);
        Ok(setup)
    }
}

/// Options made of the table of rules, one for each; those of `fifthpeg solo`
/// leave out what means nothing alone.
#[derive(Debug, Clone)]
pub struct RuleOptions<const ALONE: bool>(Vec<Setting>);

impl<const ALONE: bool> RuleOptions<ALONE> {
    fn rules() -> impl Iterator<Item = &'static Rule> {
        RULES
            .iter()
            .filter(|rule| !ALONE || rule.who == ChangedBy::Host)
    }

    /// Sets the rules as asked.
    pub fn put(&self, setup: &mut LessonSetup) {
        for setting in &self.0 {
            setup.put(setting.clone());
        }
    }

    /// One rule's option. Who practises alone has notes picked to teach.
    fn option(rule: &'static Rule) -> Arg {
        let option = Arg::new(rule.word).long(rule.word);
        if rule.is_on_or_off() {
            let what = rule.what.strip_prefix("whether ").unwrap_or(rule.what);
            let help = format!("Begin so that {what}");
            return option.help(help).action(ArgAction::SetTrue);
        }
        let choices = (rule.choices)();
        let words: Vec<_> = choices
            .iter()
            .map(|c| format!("{} ({})", c.word, c.meaning))
            .collect();
        let words: Vec<_> = words.iter().map(String::as_str).collect();
        let mut what: Vec<char> = rule.what.chars().collect();
        what[0] = what[0].to_ascii_uppercase();
        let what: String = what.into_iter().collect();
        let untold = Untold {
            picking: if ALONE {
                Picking::Teaching
            } else {
                Picking::default()
            },
            pace: None,
        };
        let own = rule
            .other
            .map_or_else(String::new, |own| format!("; or {} of your own", own.form));
        let usual = ready_necks()
            .first()
            .map(|ready| Rules::new("", &ready.neck()));
        let usual = usual.and_then(|rules| rule.chosen(&rules, untold));
        // Made once, and kept as long as the program runs.
        let usual: &str = usual.map_or("", |choice| choice.word.into_owned().leak());
        option
            .value_name("WORD")
            .help(format!("{what}: {}{own}", text::list_or(&words)))
            .default_value(usual)
            .value_parser(move |word: &str| rule.choice(word).map(|choice| choice.setting))
    }
}

impl<const ALONE: bool> FromArgMatches for RuleOptions<ALONE> {
    fn from_arg_matches(matches: &ArgMatches) -> Result<Self, clap::Error> {
        let set = Self::rules().filter_map(|rule| {
            if rule.is_on_or_off() {
                let on = matches.get_flag(rule.word);
                return rule
                    .choice(if on { "on" } else { "off" })
                    .ok()
                    .map(|c| c.setting);
            }
            matches.get_one::<Setting>(rule.word).cloned()
        });
        Ok(Self(set.collect()))
    }

    fn update_from_arg_matches(&mut self, matches: &ArgMatches) -> Result<(), clap::Error> {
        *self = Self::from_arg_matches(matches)?;
        Ok(())
    }
}

impl<const ALONE: bool> Args for RuleOptions<ALONE> {
    fn augment_args(command: Command) -> Command {
        Self::rules().fold(command, |command, rule| command.arg(Self::option(rule)))
    }

    fn augment_args_for_update(command: Command) -> Command {
        Self::augment_args(command)
    }
}
