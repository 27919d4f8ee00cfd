//! The answers given at a terminal, with the time that they really took.

use fifthpeg_lesson::message::{Answer, CallId, StudentId};

use super::Given;
use crate::world::{SECOND, World};

/// Whether the host's speakers sounded this call before the clock was stepped.
fn starts_before(sounds: &[(CallId, u64)], stepped_at: Option<u64>, call: CallId) -> bool {
    stepped_at.is_some_and(|step| sounds.iter().any(|(id, at)| *id == call && *at < step))
}

impl World {
    /// The call that the terminal shows, and its answers.
    pub fn call_at(&self, seat: usize) -> Option<(CallId, Vec<Answer>)> {
        let now = self.seat_now(seat);
        let call = self.seats[seat].terminal.as_ref()?.view(now).call?;
        let answers = call.answers.iter().map(|(answer, _)| *answer).collect();
        Some((call.id, answers))
    }

    /// Notes what was given here since it was looked at last.
    pub(super) fn look_at_answers(&mut self, seat: usize) {
        let Some((call, answers)) = self.call_at(seat) else {
            return;
        };
        let s = &self.seats[seat];
        let before = match s.answers_seen {
            (Some(known), count) if known == call => count,
            _ => 0,
        };
        let from = before.min(answers.len());
        if let Some(student) = s.student {
            for answer in &answers[from..] {
                self.counts.given += 1;
                let given = self.given(seat, student, call, *answer);
                self.note_seat(seat, format_args!("answers {answer:?} to call {}", call.0));
                self.seats[seat].given.push(given);
            }
        }
        self.seats[seat].answers_seen = (Some(call), answers.len());
    }

    fn given(&self, seat: usize, student: StudentId, call: CallId, answer: Answer) -> Given {
        let s = &self.seats[seat];
        let now = i128::from(self.seat_now(seat).micros());
        let mut ends = vec![now];
        ends.extend(s.ends.iter().map(|at| i128::from(at.micros())));
        let starts: Vec<i128> = match s.started.get(&call) {
            Some(at) => vec![*at],
            None => self
                .host
                .sounds
                .iter()
                .filter(|(id, _)| *id == call)
                .map(|(_, at)| i128::from(s.clock.read(*at).micros()))
                .collect(),
        };
        let responses_us = starts
            .iter()
            .flat_map(|from| ends.iter().map(move |to| to - from))
            .collect();
        Given {
            student,
            call,
            start: s.which.get(&call).copied().unwrap_or_default(),
            answer,
            responses_us,
            // What this clock read before a step is not known any more.
            stepped: self.stepped_lately(seat)
                || starts_before(&self.host.sounds, s.stepped_at, call),
        }
    }

    /// Whether the clock was stepped since the exchanges that the estimate may
    /// still rest on.
    pub fn stepped_lately(&self, seat: usize) -> bool {
        let stepped = self.seats[seat].stepped_at;
        stepped.is_some_and(|at| at + 60 * SECOND > self.now)
    }
}
