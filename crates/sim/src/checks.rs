//! What must always hold, held against what is.

use fifthpeg_host::engine::MOST_HELD;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{CallId, StudentId, ToStudent};
use fifthpeg_lesson::terminal::SoundOrder;

use crate::truth::AnswerKey;
use crate::world::World;

impl World {
    /// What a student is told before it may be.
    pub fn check_told(&mut self, to: StudentId, message: &ToStudent) {
        let call = |id: &CallId| self.truth.calls.get(id).cloned();
        match message {
            ToStudent::Call(notice) => {
                let caller = call(&notice.call).and_then(|c| c.caller);
                let may_know = caller == Some(to);
                let told = notice.target.is_some();
                let telling = call(&notice.call)
                    .filter(|c| !c.revealed)
                    .map(|c| c.telling);
                let too_much = |mark: Mark| telling.is_some_and(|t| mark.told(t) != mark);
                let too_much = notice.held.iter().any(|held| too_much(held.mark));
                self.check(!told || may_know, || {
                    format!(
                        "student {} is told the target of call {}",
                        to.0, notice.call.0
                    )
                });
                self.check(!too_much, || {
                    format!("student {} is told more of what is held than may be", to.0)
                });
            }
            ToStudent::Reveal {
                call: id, pitch, ..
            } => {
                let true_call = call(id);
                let shown = true_call.as_ref().is_some_and(|c| c.revealed);
                self.check(shown, || {
                    format!(
                        "student {} is shown call {}, which is not revealed",
                        to.0, id.0
                    )
                });
                self.check(true_call.is_none_or(|c| c.pitch == *pitch), || {
                    format!("student {} is shown another note for call {}", to.0, id.0)
                });
            }
            ToStudent::Marked { call: id, mark, .. } => {
                if let Some(c) = call(id).filter(|c| !c.revealed) {
                    self.check(mark.told(c.telling) == *mark, || {
                        format!(
                            "student {} is told more of a miss than may be: {mark:?}",
                            to.0
                        )
                    });
                }
            }
            ToStudent::Sung { call: id, sung } => {
                if let Some(c) = call(id).filter(|c| !c.revealed) {
                    self.check(sung.told(c.telling) == *sung, || {
                        format!("student {} is told more of a sung note than may be", to.0)
                    });
                }
            }
            ToStudent::Progress { call: id, .. } => {
                let caller = call(id).and_then(|c| c.caller);
                self.check(caller == Some(to), || {
                    format!("student {} is told of the others, and does not call", to.0)
                });
            }
            _ => {}
        }
    }

    /// An answer that the lesson took: given at a terminal, to this very call,
    /// with the time it really took.
    pub fn check_answered(&mut self, event: &LessonEvent) {
        let LessonEvent::Answered {
            student,
            call,
            answer,
            response,
            uncertainty,
            ..
        } = event
        else {
            return;
        };
        let start = self.truth.calls.get(call).map(|c| c.start);
        let given: Vec<_> = self
            .seats
            .iter()
            .flat_map(|s| &s.given)
            .filter(|g| g.student == *student && g.call == *call && g.answer == *answer)
            .cloned()
            .collect();
        self.check(!given.is_empty(), || {
            format!(
                "student {} never answered {answer:?} to call {}",
                student.0, call.0
            )
        });
        let to_this = given.iter().any(|g| Some(g.start) == start);
        self.check(given.is_empty() || to_this, || {
            format!(
                "student {} answered {answer:?} to another call {} than the one it counts for",
                student.0, call.0
            )
        });
        let Some(response) = response else { return };
        if given.is_empty() || given.iter().any(|g| g.stepped) {
            return;
        }
        let told = response.as_micros() as i128;
        let off = given
            .iter()
            .flat_map(|g| &g.responses_us)
            .map(|us| (us - told).abs())
            .min();
        self.counts.times += 1;
        self.check(off.is_some_and(|off| off <= uncertainty.as_micros() as i128), || {
            format!(
                "student {} took {off:?} us more or less than {response:?}, which is said to be \
                 right within {uncertainty:?}",
                student.0
            )
        });
    }

    /// A start that was named for everyone, as a terminal takes it.
    pub fn check_start(&mut self, seat: usize, call: CallId, order: &SoundOrder, now: Moment) {
        let Some(&(named, life)) = self.seats[seat].named.get(&call) else {
            return;
        };
        if order.at <= now || life != self.host.life || self.stepped_lately(seat) {
            return;
        }
        let wanted = self.host.clock.true_of(named);
        let taken = self.seats[seat].clock.true_of(order.at);
        let within = self.seats[seat]
            .terminal
            .as_ref()
            .and_then(|t| t.clock().uncertainty(now));
        let Some(within) = within else { return };
        self.counts.starts += 1;
        let name = self.seats[seat].name.clone();
        let off = wanted.abs_diff(taken);
        self.check(u128::from(off) <= within.as_micros() + 3, || {
            format!(
                "{} starts call {} {off} us beside the others, and says {within:?} at most",
                name, call.0
            )
        });
    }

    fn is_written(&self) -> bool {
        self.disk.folder.is_some() && !self.host.left_book
    }

    /// What a terminal is told is held must be in the book by then.
    pub fn check_confirmed(&mut self, seat: usize, message: &ToStudent) {
        let Some(student) = self.seats[seat].student else {
            return;
        };
        let keys: Vec<AnswerKey> = match message {
            ToStudent::Marked { call, serial, .. } => vec![(student, *call, *serial)],
            ToStudent::Reveal { call, marks, .. } => marks
                .iter()
                .map(|(serial, _)| (student, *call, *serial))
                .collect(),
            ToStudent::Call(notice) if notice.answers_held > 0 => {
                vec![(student, notice.call, notice.answers_held)]
            }
            _ => return,
        };
        for key in keys {
            let stored = self.stored.answers.contains(&key);
            if self.is_written() && !stored {
                self.fail(format!(
                    "student {} is told that answer {} to call {} is held, and it is not in the \
                     book",
                    key.0.0, key.2, key.1.0
                ));
            }
            if self.is_written() && self.confirmed.insert(key, self.now).is_none() {
                self.counts.confirmed += 1;
            }
        }
    }

    /// What the host holds has an end.
    pub fn check_host(&mut self) {
        let held = self.host.engine.as_ref().map_or(0, |h| h.most_held());
        // What is put before it is looked at comes on top.
        self.check(held <= MOST_HELD + 1, || {
            format!("{held} messages wait for the book for one student")
        });
    }
}
