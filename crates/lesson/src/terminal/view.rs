//! What a student's screen shows: a plain picture of the terminal at one moment.

use core::time::Duration;
use fifthpeg_core::{Neck, Pitch, Position};

use crate::Moment;
use crate::marking::{Mark, may_be_played};
use crate::message::{Answer, CallId, Progress, Refusal, Rules, StudentId};
use crate::singing::SungMark;
use crate::tally::Tally;
use crate::view::CallStage;

use super::heard::{HeardPluck, Listening, Uncounted};

/// The lesson as one student sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct TerminalView {
    /// In the lesson, over a connection that is up.
    pub connected: bool,
    /// Who this student is and what the rules are; `None` before the first
    /// welcome, kept while a connection is lost.
    pub welcome: Option<TerminalWelcome>,
    /// The lesson's neck, ready for use.
    pub neck: Option<Neck>,
    /// The open or last call.
    pub call: Option<TerminalCall>,
    /// Answers to this call and to earlier ones that the host has not spoken of
    /// yet, oldest first.
    pub owed: Vec<(CallId, Answer)>,
    /// What this student has done so far.
    pub tally: Tally,
    /// In a lesson of friends: who calls next or now, and whether it is this
    /// student.
    pub turn: Option<(String, bool)>,
    /// Whether the lesson has ended.
    pub ended: bool,
    /// It has ended for this student alone: the host took the name off the
    /// roster.
    pub removed: bool,
    /// Whether the instrument is listened to just now.
    pub listening: Listening,
    /// The pluck heard last, in a call or outside; gone with the next call or
    /// turn, and if it turns out to be none.
    pub heard: Option<HeardPluck>,
    /// A pluck that did not count towards an answer, until one does.
    pub uncounted: Option<Uncounted>,
    /// A heard pitch that this student may call by confirming it
    /// ([`StudentOrder::CallHeard`](super::StudentOrder::CallHeard)).
    pub offered: Option<Pitch>,
    /// What the host or this terminal refused last; gone with the next order or call.
    pub last_refusal: Option<Refusal>,
    /// Counts refusals other than of an order given here, so that a screen notices the same one twice.
    pub refusals: u32,
    /// How far the host's clock may be off from what this terminal believes;
    /// `None` before the first clock exchange.
    pub clock_uncertainty: Option<Duration>,
}

impl TerminalView {
    /// The call, unless it is over.
    pub fn current_call(&self) -> Option<&TerminalCall> {
        let call = self.call.as_ref();
        call.filter(|call| call.stage != CallStage::Closed)
    }

    /// The call, while it is open.
    pub fn open_call(&self) -> Option<&TerminalCall> {
        let call = self.call.as_ref();
        call.filter(|call| call.stage == CallStage::Open)
    }

    /// The open call, while this student is still to find it.
    pub fn call_to_find(&self) -> Option<&TerminalCall> {
        self.open_call()
            .filter(|call| !call.you_call && !call.found)
    }

    /// Whether a pitch heard lies nowhere on the neck, and so does not answer.
    pub fn is_off_neck(&self, pitch: Pitch) -> bool {
        let known = self.welcome.as_ref().zip(self.neck.as_ref());
        known.is_some_and(|(w, neck)| !may_be_played(w.rules.marking, neck, pitch))
    }
}

/// What a welcome told.
#[derive(Debug, Clone, PartialEq)]
pub struct TerminalWelcome {
    /// The student's number.
    pub student: StudentId,
    /// The name as the lesson keeps it.
    pub name: String,
    /// The rules in force.
    pub rules: Rules,
}

/// A call as one student sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct TerminalCall {
    /// Its number in the lesson, from 1.
    pub id: CallId,
    /// The same number, for showing.
    pub number: u32,
    /// How far it has come.
    pub stage: CallStage,
    /// This student calls and does not answer.
    pub you_call: bool,
    /// The friend who calls, in a lesson of friends.
    pub caller: Option<String>,
    /// Whether this student has found it.
    pub found: bool,
    /// This student's answers, oldest first, with the mark once the host has
    /// given it. An answer without a mark has not been confirmed.
    pub answers: Vec<(Answer, Option<Mark>)>,
    /// What this student tried, oldest first (the last
    /// [`TRIES_SHOWN`](super::TRIES_SHOWN) at most).
    pub tries: Vec<Answer>,
    /// Hearings this student asked for beyond the free first one.
    pub hearings: u32,
    /// The note and its places, once revealed.
    pub revealed: Option<(Pitch, Vec<Position>)>,
    /// When the first hearing started or will start, on this terminal's
    /// clock; `None` if that is not known.
    pub started: Option<Moment>,
    /// The first hearing waits until the student asks.
    pub waiting_to_ask: bool,
    /// How the others are doing; told to the friend who calls only.
    pub progress: Vec<(String, Progress)>,
    /// What the others are to find, and the place if it is a place; told to
    /// the friend who calls only.
    pub target: Option<(Pitch, Option<Position>)>,
    /// A pitch plucked so often in a row, which answers if it goes on.
    pub running: Option<(Pitch, u8)>,
    /// A pitch answered on the instrument, where the exact place is marked, and
    /// every place of it: the answer waits to be told which
    /// ([`StudentOrder::AnswerPlace`](super::StudentOrder::AnswerPlace)).
    pub place_wanted: Option<(Pitch, Vec<Position>)>,
    /// How near the note sung last was, as far as it is told.
    pub sung: Option<SungMark>,
    /// The hint on the answer given last, if it was missed and the lesson gives
    /// hints; without a capital and a full stop.
    pub hint: Option<String>,
}

impl TerminalCall {
    /// Whether nothing was sung right or tried yet: then singing may be invited to.
    pub fn is_unsung(&self) -> bool {
        self.sung.is_none_or(|sung| !sung.is_it()) && self.tries.is_empty()
    }
}
