//! A practice track with everything that its files need.

use std::path::Path;

use fifthpeg_core::{Neck, Pitch, Position, Reach, Spelling};
use fifthpeg_front::failure::Failure;
use fifthpeg_lesson::track::{AnswerPattern, TrackLength, TrackPlan, TrackSettings};
use fifthpeg_sound::Level;

use super::shape::TrackShape;
use super::source::{self, NeckWords, TrackSource};
use super::{command, notes};

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
    /// Whether notes have weights in it.
    pub weighted: bool,
    /// The name and the text of the neck file that it needs beside it, for a
    /// neck that is neither a ready one nor in a file yet.
    pub neck_file: Option<(String, String)>,
}

impl Practice {
    /// Plans a track called `name` from this source.
    ///
    /// # Errors
    /// One sentence for what does not fit together.
    pub fn of(
        name: &Path,
        source: &TrackSource,
        shape: &TrackShape,
        seed: u64,
    ) -> Result<Practice, Failure> {
        let voice = shape.voice.unwrap_or(source.voice);
        let a4_hz = shape.a4.unwrap_or(source.a4_hz);
        let weights = notes::weights(&source.notes, &source.reach)?;
        let settings = TrackSettings {
            length: match shape.minutes {
                Some(minutes) => {
                    TrackLength::Within(std::time::Duration::from_secs(60 * u64::from(minutes)))
                }
                None => TrackLength::Calls(shape.calls),
            },
            gap: shape.gap,
            second_hearing: shape.again,
            voice,
            answer: shape.answer,
            answer_voice: shape.answering(voice),
            strings_first: shape.strings_first,
        };
        let plan = TrackPlan::new(&source.neck, &source.reach, &settings, seed, &weights)
            .map_err(Failure::usage)?;
        let title = name
            .file_name()
            .map_or_else(|| "practice".to_owned(), |n| n.to_string_lossy().into());
        Ok(Practice {
            neck_file: match &source.neck_choice {
                NeckWords::Beside { toml } => Some((source::beside(&title), toml.clone())),
                NeckWords::Ready { .. } | NeckWords::File { .. } => None,
            },
            title,
            reach_words: source.spec.title(),
            command: command::again(name, source, shape, &settings, a4_hz, seed),
            weighted: notes::are_weighted(&source.notes),
            neck: source.neck.clone(),
            reach: source.reach.clone(),
            settings,
            plan,
            a4_hz,
            level: Level::from_percent(u32::from(shape.level)).map_err(Failure::usage)?,
            spelling: Spelling::of(shape.flats),
            left_handed: shape.left_handed,
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
