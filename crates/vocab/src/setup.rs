//! What a lesson starts with, and what its host may order.

use core::time::Duration;

use fifthpeg_core::Neck;

use serde::{Deserialize, Serialize};

pub use crate::choices::{Picked, Picking};
use crate::evidence::StudentKey;
use crate::message::{Answer, StudentId};
use crate::pace::{Pace, Untold};
use crate::rules::{Rules, Setting};

/// The longest name of a student or lesson, in characters.
pub const MAX_NAME_CHARS: u32 = 32;
/// Students a lesson takes unless told otherwise.
pub const DEFAULT_MAX_STUDENTS: u32 = 100;
/// Answers one student may give to one call unless told otherwise.
pub const DEFAULT_MAX_ANSWERS: u32 = 50;
/// How far ahead of now the start of a call is named unless told otherwise:
/// longer than a message takes on a LAN, short enough not to be waited for.
pub const DEFAULT_LEAD: Duration = Duration::from_millis(250);

/// Everything a lesson is made from. The same setup, inputs and times give the
/// same lesson.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LessonSetup {
    /// The rules to begin with; the host may change most of them later.
    pub rules: Rules,
    /// Seeds the random picks.
    pub seed: u64,
    /// Most students on the roster; at least 1.
    pub max_students: u32,
    /// Most answers one student may give to one call; at least 1.
    pub max_answers: u32,
    /// How far ahead of now a call's start is named.
    pub lead: Duration,
    /// Whether the host has speakers that a lesson of friends may be sounded
    /// through. Unless it says so, [`Sounding::HostSpeakers`](crate::choices::Sounding::HostSpeakers) is refused among
    /// friends: they would hear nothing.
    pub speakers_among_friends: bool,
    /// How notes are picked to begin with; the host may change it.
    pub picking: Picking,
    /// How the lesson goes on by itself to begin with, if it does; the host may
    /// change it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pace: Option<Pace>,
    /// Whether somebody practises alone: such a lesson is no lesson of the class.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub alone: bool,
}

impl LessonSetup {
    /// A class on this neck with the gentlest rules.
    pub fn new(name: impl Into<String>, neck: &Neck) -> Self {
        Self {
            rules: Rules::new(name, neck),
            seed: 0,
            max_students: DEFAULT_MAX_STUDENTS,
            max_answers: DEFAULT_MAX_ANSWERS,
            lead: DEFAULT_LEAD,
            speakers_among_friends: false,
            picking: Picking::Random,
            pace: None,
            alone: false,
        }
    }
}

impl LessonSetup {
    /// The rules that students are not told of.
    pub fn untold(&self) -> Untold {
        Untold {
            picking: self.picking,
            pace: self.pace,
        }
    }

    /// Sets a rule.
    pub fn put(&mut self, setting: Setting) {
        let mut untold = self.untold();
        setting.put(&mut self.rules, &mut untold);
        Untold {
            picking: self.picking,
            pace: self.pace,
        } = untold;
    }
}

/// What the host's own keyboard may order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum HostOrder {
    /// Call this note or place. A pitch under exact marking gets a random place
    /// of it within the reach.
    CallAt(Answer),
    /// Call this note, which the host has played on an instrument. The same as
    /// [`HostOrder::CallAt`] but for what is written down of it.
    CallPlayed(fifthpeg_core::Pitch),
    /// Call a note picked from the reach, as [`Picking`] says.
    CallRandom,
    /// Sound the call again for everyone, also after the reveal.
    HearAgain,
    /// Show the note and every place of it; answers no longer count.
    Reveal,
    /// End the call, shown or not.
    Close,
    /// In a lesson of friends, between calls: the next friend calls instead of
    /// the one whose turn it is. While a revealed note is still shown that has
    /// happened already, and this closes the call.
    PassTurn,
    /// Take a student off the roster.
    Remove(StudentId),
    /// Between calls: this student is who is known under that name, in this
    /// lesson or in the book.
    KnownAs {
        /// The student of this lesson.
        student: StudentId,
        /// The name of who that is.
        name: String,
        /// Who that is across lessons, where the book knows somebody of that
        /// name.
        person: Option<StudentKey>,
    },
    /// End the lesson.
    End,
    /// Change a rule. In the lesson book it stands by its own name.
    #[serde(untagged)]
    Set(Setting),
}
