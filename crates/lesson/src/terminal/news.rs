//! What happened in the lesson, one thing after the other, for whoever says it in
//! lines or notices. A view shows how things stand; what stood so briefly that
//! nobody looked is in here all the same.

use fifthpeg_core::{Pitch, Position};

use super::{HeardPluck, HeldCall, Terminal, Uncounted};
use crate::marking::Mark;
use crate::message::{Answer, AnswerNotice, CallId, Progress, Refusal, Rules};
use crate::singing::SungMark;
use crate::view::CallStage;

/// One thing that happened.
#[derive(Debug, Clone, PartialEq)]
pub enum TerminalEvent {
    /// In the lesson, for the first time, again, or known by another name.
    Welcomed {
        /// The name as the lesson keeps it.
        name: String,
        /// The rules in force.
        rules: Box<Rules>,
    },
    /// A rule changed.
    Rules(Box<Rules>),
    /// A note is called.
    Called {
        /// The call.
        call: CallId,
        /// The friend who calls, in a lesson of friends.
        caller: Option<String>,
        /// This student calls.
        you_call: bool,
        /// The first hearing waits until the student asks.
        waits_to_be_asked: bool,
        /// Students are invited to sing it first.
        sing_first: bool,
    },
    /// The student has answered: [`TerminalEvent::Told`] says what came of it, once.
    Given {
        /// The call answered.
        call: CallId,
        /// The answer's serial.
        serial: u32,
        /// What was answered.
        answer: Answer,
    },
    /// An answer has come to its end: the only one it has.
    Told {
        /// The call answered.
        call: CallId,
        /// Its serial.
        serial: u32,
        /// What was answered.
        answer: Answer,
        /// What came of it.
        outcome: AnswerOutcome,
        /// Another call has been made since.
        late: bool,
        /// The hint on a miss, where there is one; without a full stop.
        hint: Option<String>,
    },
    /// To the friend who calls: how the others do with the call.
    Progress {
        /// The call.
        call: CallId,
        /// The others.
        students: Vec<(String, Progress)>,
    },
    /// The note was shown.
    Revealed {
        /// The call.
        call: CallId,
        /// The note.
        pitch: Pitch,
        /// Every place of it.
        places: Vec<Position>,
    },
    /// A call is over.
    Closed {
        /// The call.
        call: CallId,
        /// How it ended for this student.
        ending: Ending,
    },
    /// The microphone heard a pluck.
    Plucked {
        /// The pluck.
        heard: HeardPluck,
        /// How often in a row, if it may become an answer.
        running: Option<u8>,
        /// It can be called by confirming it.
        offered: bool,
        /// It lies nowhere on this neck.
        off_neck: bool,
    },
    /// The pluck heard last does not count towards an answer.
    NotCounted(Uncounted),
    /// A pitch answered on the instrument waits for its place.
    PlaceWanted {
        /// The pitch.
        pitch: Pitch,
        /// Every place of it.
        places: Vec<Position>,
    },
    /// How near a sung note was.
    Sung(SungMark),
    /// Whose turn it is to call, among friends.
    Turn {
        /// The name.
        caller: String,
        /// It is this student.
        yours: bool,
    },
    /// A friend left for good.
    FriendLeft {
        /// Who.
        name: String,
    },
    /// Something other than an answer was refused, and not at once.
    Refused(Refusal),
}

/// What came of an answer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum AnswerOutcome {
    /// The host holds it, and this is its mark.
    Marked(Mark),
    /// The host would not take it.
    Refused(Refusal),
    /// The host will not say any more, or has lost it.
    Lost(AnswerLost),
}

/// Why an answer is lost. The text says what became of it and what to do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum AnswerLost {
    /// The host was killed before it had written the call down.
    #[error(
        "the host was started again and has lost that call, so the answer does not count: wait \
         for the next call"
    )]
    CallLost,
    /// This terminal is in another lesson, or in another seat of the same.
    #[error(
        "this terminal has another seat in the lesson now, and nobody can say any more what came \
         of the answer: ask the host"
    )]
    OtherPlace,
    /// The lesson was over first.
    #[error(
        "the lesson was over before the host had said what came of the answer: ask the host for \
         the report"
    )]
    Over,
    /// The student left first.
    #[error(
        "you left before the host had said what came of the answer: ask the host for the report"
    )]
    Left,
    /// The host took the student out first.
    #[error(
        "the host took you out before it had said what came of the answer: ask the host for the \
         report"
    )]
    TakenOut,
}

/// How a call ended for one student.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ending {
    /// This student called it.
    YouCalled,
    /// Found.
    Found,
    /// Not found, and nothing is owed any more.
    NotFound,
    /// The host has not said yet what came of an answer.
    Owed,
}

impl AnswerOutcome {
    /// The mark, where there is one.
    pub fn mark(&self) -> Option<Mark> {
        match self {
            AnswerOutcome::Marked(mark) => Some(*mark),
            AnswerOutcome::Refused(_) | AnswerOutcome::Lost(_) => None,
        }
    }
}

impl Terminal {
    pub(super) fn happened(&mut self, event: TerminalEvent) {
        self.news.push_back(event);
    }

    /// This is what came of an answer, if it waited for it.
    pub(super) fn tell(&mut self, call: CallId, serial: u32, outcome: AnswerOutcome) {
        if let Some((notice, start)) = self.kept.take(call, serial) {
            if let Some(start) = start {
                self.told.note(call, start, serial);
            }
            self.tell_of(notice, outcome);
        }
    }

    /// These are lost.
    pub(super) fn tell_lost(&mut self, lost: Vec<AnswerNotice>, why: AnswerLost) {
        for notice in lost {
            if let Some(call) = self.call_of(notice.call) {
                call.drop_answer(notice.serial);
            }
            self.tell_of(notice, AnswerOutcome::Lost(why));
        }
    }

    fn tell_of(&mut self, notice: AnswerNotice, outcome: AnswerOutcome) {
        let told = self.told_of(notice.call, notice.serial, notice.answer, outcome);
        self.happened(told);
    }

    /// What came of an answer, with the hint on it.
    pub(super) fn told_of(
        &self,
        call: CallId,
        serial: u32,
        answer: Answer,
        outcome: AnswerOutcome,
    ) -> TerminalEvent {
        let shown = self.call.as_ref().filter(|c| c.id == call);
        let open = shown.filter(|c| c.stage == CallStage::Open);
        let hint = match (open.zip(self.rules_and_neck()), outcome.mark()) {
            (Some((call, (rules, neck))), Some(mark)) => call.hint(serial, mark, rules, neck),
            _ => None,
        };
        TerminalEvent::Told {
            call,
            serial,
            answer,
            outcome,
            late: shown.is_none(),
            hint,
        }
    }

    /// The call this terminal shows is over.
    pub(super) fn call_is_over(&mut self) {
        let Some(call) = self.call.as_mut().filter(|c| c.stage != CallStage::Closed) else {
            return;
        };
        call.stage = CallStage::Closed;
        let (call, found, you_call) = (call.id, call.found, call.you_call);
        let ending = match (you_call, found) {
            (true, _) => Ending::YouCalled,
            (false, true) => Ending::Found,
            (false, false) if self.kept.has_of(call) => Ending::Owed,
            (false, false) => Ending::NotFound,
        };
        self.happened(TerminalEvent::Closed { call, ending });
    }

    pub(super) fn tell_called(&mut self) {
        let invited = self.rules().is_ok_and(|r| r.sing_first);
        let Some(call) = &self.call else { return };
        let event = TerminalEvent::Called {
            call: call.id,
            caller: call.caller.clone(),
            you_call: call.you_call,
            waits_to_be_asked: call.waiting_to_ask(),
            sing_first: invited && call.stage == CallStage::Open && !call.you_call,
        };
        self.happened(event);
    }
}

impl HeldCall {
    /// The host's word on one answer of this call.
    pub(super) fn take_outcome(&mut self, serial: u32, outcome: &AnswerOutcome) {
        match outcome {
            AnswerOutcome::Marked(mark) => self.mark_answer(serial, *mark),
            AnswerOutcome::Refused(_) | AnswerOutcome::Lost(_) => self.drop_answer(serial),
        }
    }
}
