//! What a host's screen shows of the lesson at one moment: the types. They are filled
//! in `picture`.

use core::time::Duration;
use fifthpeg_core::{Pitch, Position};

pub use fifthpeg_vocab::CallStage;
use fifthpeg_vocab::pace::{PaceStop, Untold};

use crate::Moment;
use crate::learning::Suggestion;
use crate::learning::help::Glance;
use crate::marking::Mark;
use crate::message::{Answer, CallId, Progress, Rules, Source, StudentId};
use crate::tally::Tally;
use fifthpeg_vocab::sung::SungMark;

/// The lesson as its host sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct LessonView {
    /// The rules in force.
    pub rules: Rules,
    /// The open or last call.
    pub call: Option<CallView>,
    /// Everyone who ever joined and was not removed, in order of joining.
    pub students: Vec<StudentView>,
    /// Those whom the host took out, in the order of that: they are not here,
    /// and what they did stays done.
    pub taken_out: Vec<TakenOutView>,
    /// In a lesson of friends: who calls next, or calls now.
    pub turn: Option<StudentId>,
    /// Calls closed so far.
    pub calls_closed: u32,
    /// Whether the lesson has ended.
    pub ended: bool,
    /// The rules that students are not told of.
    pub untold: Untold,
    /// Why the lesson no longer goes on by itself, where it did.
    pub pace_stopped: Option<PaceStop>,
    /// What is suggested for the reach, between calls. The host decides.
    pub suggestion: Option<Suggestion>,
}

/// The open or last call.
#[derive(Debug, Clone, PartialEq)]
pub struct CallView {
    /// Its number.
    pub id: CallId,
    /// The target.
    pub pitch: Pitch,
    /// The place the caller picked, if a place was picked (exact marking
    /// always has one).
    pub place: Option<Position>,
    /// Every place of the target on this neck.
    pub places: Vec<Position>,
    /// How far it has come.
    pub stage: CallStage,
    /// The note has been shown to all, even if the call is closed by now.
    pub revealed: bool,
    /// Start of the first hearing, host clock.
    pub start: Moment,
    /// When it was revealed, or closed without, host clock.
    pub over: Option<Moment>,
    /// Times the host had it sounded again for all.
    pub sounded_again: u32,
    /// Who called, in a lesson of friends.
    pub caller: Option<StudentId>,
}

/// One student as the host sees them.
#[derive(Debug, Clone, PartialEq)]
pub struct StudentView {
    /// Number.
    pub id: StudentId,
    /// Name as kept.
    pub name: String,
    /// Whether a connection is up.
    pub connected: bool,
    /// How far with the call in [`LessonView::call`]; `None` if the student
    /// calls, or was not there for it.
    pub progress: Option<Progress>,
    /// Since when this student can search in this call.
    pub searching_since: Option<Moment>,
    /// Hearings asked for in this call beyond the free one.
    pub hearings: u32,
    /// Tries in this call, on the screen and on the instrument.
    pub tries: u32,
    /// Of these, on the instrument.
    pub tries_played: u32,
    /// The last note sung for this call, marked in full.
    pub sung: Option<SungMark>,
    /// Answers to this call, oldest first.
    pub answers: Vec<AnswerView>,
    /// The last place or pitch tried in this call.
    pub last_try: Option<Answer>,
    /// The terminal made no sound of this call.
    pub no_sound: bool,
    /// Something came from an instrument, in this call or before.
    pub microphone: bool,
    /// Sums over the lesson.
    pub tally: Tally,
    /// How the student has fared lately; [`LessonView::glances`] looks at the
    /// open call as well.
    pub glance: Glance,
}

/// One whom the host took out.
#[derive(Debug, Clone, PartialEq)]
pub struct TakenOutView {
    /// Number.
    pub id: StudentId,
    /// Name as kept.
    pub name: String,
    /// Sums over the lesson until then.
    pub tally: Tally,
}

/// One answer as marked.
#[derive(Debug, Clone, PartialEq)]
pub struct AnswerView {
    /// What was answered.
    pub answer: Answer,
    /// Where from.
    pub source: Source,
    /// How it was marked, in full.
    pub mark: Mark,
    /// Response time on the student's clock, if it is known.
    pub response: Option<Duration>,
    /// How far the response time may be off either way.
    pub uncertainty: Duration,
}
