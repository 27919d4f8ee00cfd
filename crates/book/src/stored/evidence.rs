//! What was known of students when a lesson began.

use core::time::Duration;

use fifthpeg_lesson::learning::{self, Confusion, Outcome, StudentKey, When};
use serde::{Deserialize, Serialize};

use super::Unread;
use super::input::{hex, unhex};
use super::values::pitch;
use crate::words::{Word, as_word};

/// One student's part in one call.
#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Evidence {
    /// In 32 hexadecimal digits.
    student: String,
    pitch: u8,
    reach_size: u16,
    #[serde(with = "as_word")]
    outcome: Outcome,
    hearings: u32,
    tries: u32,
    response: Option<Duration>,
    miss: Option<String>,
    /// Seconds since 1970-01-01, UTC.
    when: i64,
}

impl From<learning::Evidence> for Evidence {
    fn from(evidence: learning::Evidence) -> Self {
        let learning::Evidence {
            student,
            pitch,
            reach_size,
            outcome,
            hearings,
            tries,
            response,
            miss,
            when,
        } = evidence;
        Evidence {
            student: hex(student.0),
            pitch: pitch.midi(),
            reach_size,
            outcome,
            hearings,
            tries,
            response,
            miss: miss.map(|kind| kind.word().to_owned()),
            when: when.0,
        }
    }
}

impl TryFrom<Evidence> for learning::Evidence {
    type Error = Unread;
    fn try_from(evidence: Evidence) -> Result<Self, Unread> {
        let unknown = || super::strange("a kind of confusion", "an unknown word");
        let kind = |word: String| Confusion::from_word(&word).ok_or_else(unknown);
        Ok(Self {
            student: StudentKey(unhex(&evidence.student)?),
            pitch: pitch(evidence.pitch)?,
            reach_size: evidence.reach_size,
            outcome: evidence.outcome,
            hearings: evidence.hearings,
            tries: evidence.tries,
            response: evidence.response,
            miss: evidence.miss.map(kind).transpose()?,
            when: When(evidence.when),
        })
    }
}
