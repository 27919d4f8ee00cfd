//! Rules and setups.

use core::time::Duration;

use fifthpeg_core::NeckDescription;
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{Mode, Rules, Sounding, Voice};
use fifthpeg_lesson::{LessonSetup, Picking};
use serde::{Deserialize, Serialize};

use super::Unread;
use super::figure::Figure;
use super::values::{Neck, Reach};
use crate::words::as_word;

/// Rules without their neck.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct RulesText {
    lesson: String,
    #[serde(with = "as_word")]
    mode: Mode,
    reach: Reach,
    #[serde(with = "as_word")]
    marking: Marking,
    #[serde(with = "as_word")]
    telling: Telling,
    #[serde(with = "as_word")]
    sounding: Sounding,
    #[serde(with = "as_word")]
    voice: Voice,
    a4_hz: Figure,
    flats: bool,
    /// Books of version 1 knew nothing of it.
    #[serde(default)]
    sing_first: bool,
}

impl From<&Rules> for RulesText {
    fn from(rules: &Rules) -> Self {
        // Taken apart, so that a new rule is not forgotten here.
        let Rules {
            lesson,
            mode,
            neck: _,
            reach,
            marking,
            telling,
            sounding,
            voice,
            a4_hz,
            flats,
            sing_first,
        } = rules;
        RulesText {
            lesson: lesson.clone(),
            mode: *mode,
            reach: reach.into(),
            marking: *marking,
            telling: *telling,
            sounding: *sounding,
            voice: *voice,
            a4_hz: Figure(*a4_hz),
            flats: *flats,
            sing_first: *sing_first,
        }
    }
}

impl RulesText {
    pub(super) fn with(self, neck: NeckDescription) -> Result<Rules, Unread> {
        Ok(Rules {
            lesson: self.lesson,
            mode: self.mode,
            neck,
            reach: self.reach.try_into()?,
            marking: self.marking,
            telling: self.telling,
            sounding: self.sounding,
            voice: self.voice,
            a4_hz: self.a4_hz.0,
            flats: self.flats,
            sing_first: self.sing_first,
        })
    }
}

/// Everything a lesson is made from.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Setup {
    rules: RulesText,
    neck: Neck,
    seed: u64,
    max_students: u32,
    max_answers: u32,
    lead: Duration,
    speakers_among_friends: bool,
    #[serde(with = "as_word")]
    picking: Picking,
}

impl From<&LessonSetup> for Setup {
    fn from(setup: &LessonSetup) -> Self {
        let LessonSetup {
            rules,
            seed,
            max_students,
            max_answers,
            lead,
            speakers_among_friends,
            picking,
        } = setup;
        Setup {
            rules: rules.into(),
            neck: (&rules.neck).into(),
            seed: *seed,
            max_students: *max_students,
            max_answers: *max_answers,
            lead: *lead,
            speakers_among_friends: *speakers_among_friends,
            picking: *picking,
        }
    }
}

impl TryFrom<Setup> for LessonSetup {
    type Error = Unread;
    fn try_from(setup: Setup) -> Result<Self, Unread> {
        Ok(LessonSetup {
            rules: setup.rules.with(setup.neck.try_into()?)?,
            seed: setup.seed,
            max_students: setup.max_students,
            max_answers: setup.max_answers,
            lead: setup.lead,
            speakers_among_friends: setup.speakers_among_friends,
            picking: setup.picking,
        })
    }
}
