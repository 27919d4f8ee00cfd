//! A practice track with everything that its files need.

use fifthpeg_core::{Named, Neck, Pitch, Position, Reach, ReachSpec, ReachStep, Spelling};
use fifthpeg_lesson::track::{AnswerPattern, TrackLength, TrackPlan, TrackSettings};
use fifthpeg_sound::Level;

use super::args::TrackArgs;
use crate::choice::Choice;
use crate::failure::Failure;
use crate::{necks, opening, text};

/// A planned track on its neck.
#[derive(Debug, Clone)]
pub struct Practice {
    /// What it is called.
    pub title: String,
    /// The neck.
    pub neck: Neck,
    /// Where calls are picked from.
    pub reach: Reach,
    /// The same in words.
    pub reach_words: String,
    /// What was asked for.
    pub settings: TrackSettings,
    /// What sounds when.
    pub plan: TrackPlan,
    /// The frequency of A4, in hertz.
    pub a4_hz: f64,
    /// How loud.
    pub level: Level,
    /// Sharps or flats.
    pub spelling: Spelling,
    /// The nut on the right.
    pub left_handed: bool,
    /// The command that makes it again.
    pub command: String,
}

impl Practice {
    /// Plans the track that a command line asks for.
    ///
    /// # Errors
    /// One sentence for what does not fit together.
    pub fn plan(args: &TrackArgs) -> Result<Practice, Failure> {
        let neck = necks::choose(
            &args.neck.neck,
            args.neck.neck_file.as_deref(),
            args.neck.capo,
        )?;
        let reach_error = |error: String| Failure::Usage(format!("--reach: {error}"));
        let spec = match &args.reach {
            Some(typed) => typed
                .parse::<ReachSpec>()
                .map_err(|error| reach_error(error.to_string()))?,
            None if args.notes.is_empty() => ReachStep::OctaveLow.into(),
            None => ReachStep::WholeNeck.into(),
        };
        let reach = Reach::resolve(&neck, &spec).map_err(|error| reach_error(error.to_string()))?;
        let weights = weights(&args.notes, &reach)?;
        let settings = TrackSettings {
            length: match args.minutes {
                Some(minutes) => {
                    TrackLength::Within(std::time::Duration::from_secs(60 * u64::from(minutes)))
                }
                None => TrackLength::Calls(args.calls),
            },
            gap: args.gap,
            second_hearing: args.again,
            voice: args.voice,
            answer: args.answer,
            answer_voice: args.answering(),
            strings_first: args.strings_first,
        };
        let seed = args.seed.unwrap_or_else(opening::seed);
        let plan =
            TrackPlan::new(&neck, &reach, &settings, seed, &weights).map_err(Failure::usage)?;
        Ok(Practice {
            title: args
                .name
                .file_name()
                .map_or_else(|| "practice".to_owned(), |n| n.to_string_lossy().into()),
            reach_words: match spec.step {
                Some(step) if spec == step.into() => step.title().to_owned(),
                _ => spec.to_string(),
            },
            command: command(args, &spec, seed),
            neck,
            reach,
            settings,
            plan,
            a4_hz: args.a4,
            level: Level::from_percent(u32::from(args.level)).map_err(Failure::usage)?,
            spelling: if args.flats {
                Spelling::Flats
            } else {
                Spelling::Sharps
            },
            left_handed: args.left_handed,
        })
    }

    /// The notes that are called, from low to high, each with the numbers of its
    /// calls.
    pub fn notes(&self) -> Vec<(Pitch, Vec<u16>)> {
        let mut notes: Vec<(Pitch, Vec<u16>)> = Vec::new();
        for call in &self.plan.calls {
            match notes.iter_mut().find(|(pitch, _)| *pitch == call.pitch) {
                Some((_, calls)) => calls.push(call.number),
                None => notes.push((call.pitch, vec![call.number])),
            }
        }
        notes.sort_unstable();
        notes
    }

    /// Every place of a note: those in the reach, then those beyond it.
    pub fn places(&self, pitch: Pitch) -> (Vec<Position>, Vec<Position>) {
        let places = self.neck.places(pitch).into_iter();
        places.partition(|place| self.reach.contains_place(*place))
    }

    /// Where a note's answer is played; `None` on a track without answers.
    pub fn answered_at(&self, pitch: Pitch) -> Option<Position> {
        if self.settings.answer == AnswerPattern::None {
            return None;
        }
        let call = self.plan.calls.iter().find(|call| call.pitch == pitch);
        call.map(|call| call.place)
    }
}

/// One for each time that a note is named.
fn weights(notes: &[String], reach: &Reach) -> Result<Vec<(Pitch, f64)>, Failure> {
    let mut weights = Vec::new();
    for typed in notes {
        let wrong = |why: String| Failure::Usage(format!("--notes: {why}"));
        let named: Named = typed.trim().parse().map_err(|e| wrong(format!("{e}")))?;
        let matching: Vec<Pitch> = match named {
            Named::Pitch(pitch) => vec![pitch],
            Named::Class(class) => {
                let pitches = reach.pitches().iter().copied();
                pitches.filter(|pitch| pitch.class() == class).collect()
            }
        };
        if !matching.iter().all(|pitch| reach.contains_pitch(*pitch)) || matching.is_empty() {
            return Err(wrong(format!(
                "\"{}\" is not in reach: widen --reach, or leave that note out",
                text::shown(typed.trim())
            )));
        }
        weights.extend(matching.into_iter().map(|pitch| (pitch, 1.0)));
    }
    Ok(weights)
}

/// The command that makes the same track again, every choice written out.
fn command(args: &TrackArgs, spec: &ReachSpec, seed: u64) -> String {
    let mut words = vec!["fifthpeg".to_owned(), "track".to_owned()];
    // The folder is nobody's business but the writer's.
    let name = args.name.file_name().unwrap_or_default().to_string_lossy();
    words.push(quoted(&name));
    let mut option = |name: &str, value: String| words.extend([name.to_owned(), quoted(&value)]);
    match &args.neck.neck_file {
        Some(file) => {
            let name = file.file_name().unwrap_or_default();
            option("--neck-file", name.to_string_lossy().into_owned());
        }
        None => option("--neck", args.neck.neck.clone()),
    }
    if let Some(capo) = args.neck.capo {
        let short = capo.short.map_or_else(String::new, |s| format!(",{s}"));
        option("--capo", format!("{}{short}", capo.fret));
    }
    option("--reach", spec.to_string());
    if !args.notes.is_empty() {
        option("--notes", args.notes.join(","));
    }
    match args.minutes {
        Some(minutes) => option("--minutes", minutes.to_string()),
        None => option("--calls", args.calls.to_string()),
    }
    option("--gap", args.gap.as_secs_f64().to_string());
    option("--answer", args.answer.word().to_owned());
    option("--voice", args.voice.word().to_owned());
    option("--answer-voice", args.answering().word().to_owned());
    option("--a4", args.a4.to_string());
    option("--level", args.level.to_string());
    option("--seed", seed.to_string());
    for (given, flag) in [
        (args.again, "--again"),
        (args.strings_first, "--strings-first"),
        (args.flats, "--flats"),
        (args.left_handed, "--left-handed"),
    ] {
        if given {
            words.push(flag.to_owned());
        }
    }
    words.join(" ")
}

/// A word as a POSIX shell takes it.
fn quoted(word: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_.,/:+@%".contains(c);
    if !word.is_empty() && word.chars().all(plain) {
        word.to_owned()
    } else {
        format!("'{}'", word.replace('\'', "'\\''"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_are_quoted_where_a_shell_needs_it() {
        assert_eq!(quoted("banjo-open-g"), "banjo-open-g");
        assert_eq!(
            quoted("frets=0-5 notes=G:major"),
            "'frets=0-5 notes=G:major'"
        );
        assert_eq!(quoted("F#4,A4"), "'F#4,A4'");
        assert_eq!(quoted("Mia's"), "'Mia'\\''s'");
        assert_eq!(quoted(""), "''");
    }
}
