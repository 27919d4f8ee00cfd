//! What really is, as the host's events and the book's batches say it, to hold
//! everybody's word against.

use std::collections::{BTreeMap, BTreeSet};

use fifthpeg_core::Pitch;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::marking::Telling;
use fifthpeg_lesson::message::{Answer, CallId, StudentId};
use fifthpeg_lesson::{LessonSetup, Moment};

/// One call as it is.
#[derive(Debug, Clone)]
pub(crate) struct TrueCall {
    pub pitch: Pitch,
    pub frequency_hz: f64,
    pub caller: Option<StudentId>,
    pub start: Moment,
    pub revealed: bool,
    /// The most that was told of a miss since it was made.
    pub telling: Telling,
}

/// An answer's name: whose, to which call, under which serial.
pub(crate) type AnswerKey = (StudentId, CallId, u32);

/// Everything that is known of a lesson.
#[derive(Debug, Clone)]
pub(crate) struct Truth {
    first_telling: Telling,
    pub telling: Telling,
    pub calls: BTreeMap<CallId, TrueCall>,
    pub answers: BTreeMap<AnswerKey, Answer>,
    pub ended: bool,
}

impl Truth {
    pub fn new(setup: &LessonSetup) -> Self {
        Self {
            first_telling: setup.rules.telling,
            telling: setup.rules.telling,
            calls: BTreeMap::new(),
            answers: BTreeMap::new(),
            ended: false,
        }
    }

    /// What is left of it after a crash.
    pub fn again(&self, events: &[LessonEvent]) -> Self {
        let mut again = Self {
            telling: self.first_telling,
            calls: BTreeMap::new(),
            answers: BTreeMap::new(),
            ..self.clone()
        };
        for event in events {
            again.take(event);
        }
        again
    }

    pub fn take(&mut self, event: &LessonEvent) {
        match event {
            LessonEvent::RulesChanged { rules, .. } => {
                self.telling = rules.telling;
                if let Some(call) = self.calls.values_mut().next_back() {
                    call.telling = most(call.telling, rules.telling);
                }
            }
            LessonEvent::CallMade {
                call,
                pitch,
                tone,
                start,
                caller,
                ..
            } => {
                let made = TrueCall {
                    pitch: *pitch,
                    frequency_hz: tone.frequency_hz,
                    caller: *caller,
                    start: *start,
                    revealed: false,
                    telling: self.telling,
                };
                self.calls.insert(*call, made);
            }
            LessonEvent::Revealed { call, .. } => {
                if let Some(call) = self.calls.get_mut(call) {
                    call.revealed = true;
                }
            }
            LessonEvent::Answered {
                student,
                call,
                serial,
                answer,
                ..
            } => {
                self.answers.insert((*student, *call, *serial), *answer);
            }
            LessonEvent::Ended { .. } => self.ended = true,
            _ => {}
        }
    }
}

fn most(a: Telling, b: Telling) -> Telling {
    let rank = |t| match t {
        Telling::Verdict => 0,
        Telling::Hint => 1,
        Telling::Interval => 2,
    };
    if rank(a) >= rank(b) { a } else { b }
}

/// What the book has stored, as far as anybody could know.
#[derive(Debug, Clone, Default)]
pub(crate) struct Stored {
    pub events: Vec<LessonEvent>,
    pub answers: BTreeSet<AnswerKey>,
}

impl Stored {
    pub fn take(&mut self, events: &[LessonEvent]) {
        for event in events {
            if let LessonEvent::Answered {
                student,
                call,
                serial,
                ..
            } = event
            {
                self.answers.insert((*student, *call, *serial));
            }
            self.events.push(event.clone());
        }
    }
}
