//! The answers given at a terminal, with the time that they really took.

use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{Answer, CallId, Refusal, StudentId};
use fifthpeg_lesson::terminal::{AnswerLost, AnswerOutcome, Ending, Terminal, TerminalEvent};

use crate::clock::SECOND;
use crate::parts::Given;
use crate::world::World;

/// Whether the host's speakers sounded this call before the clock was stepped.
fn starts_before(sounds: &[(CallId, u64)], stepped_at: Option<u64>, call: CallId) -> bool {
    stepped_at.is_some_and(|step| sounds.iter().any(|(id, at)| *id == call && *at < step))
}

impl World {
    /// The call that the terminal shows.
    pub fn call_at(&self, seat: usize) -> Option<CallId> {
        let now = self.seat_now(seat);
        let view = self.seats[seat].terminal.as_ref()?.view(now);
        view.call.map(|call| call.id)
    }

    /// Notes what was given here, and what was told of it.
    pub(super) fn heed_events(&mut self, seat: usize) {
        while let Some(event) = self.seats[seat]
            .terminal
            .as_mut()
            .and_then(Terminal::poll_event)
        {
            match event {
                TerminalEvent::Given {
                    call,
                    serial,
                    answer,
                } => self.is_given(seat, call, serial, answer),
                TerminalEvent::Told {
                    call,
                    serial,
                    outcome,
                    ..
                } => self.is_told(seat, call, serial, outcome),
                TerminalEvent::Closed { call, ending } => self.check_ending(seat, call, ending),
                _ => {}
            }
        }
    }

    fn is_given(&mut self, seat: usize, call: CallId, serial: u32, answer: Answer) {
        self.counts.given += 1;
        self.note_seat(seat, format_args!("answers {answer:?} to call {}", call.0));
        let Some(student) = self.seats[seat].student else {
            return self.fail("an answer was taken from nobody");
        };
        let given = self.given(seat, student, call, answer);
        let start = given.start;
        let s = &mut self.seats[seat];
        s.given.push(given);
        let Some(place) = s.place_at else {
            return self.fail("an answer was taken from who has no place");
        };
        let twice = s.answered.insert((place, call, start, serial), Vec::new());
        self.check(twice.is_none(), || {
            format!("serial {serial} was given twice in call {}", call.0)
        });
    }

    fn is_told(&mut self, seat: usize, call: CallId, serial: u32, outcome: AnswerOutcome) {
        self.note_seat(
            seat,
            format_args!("is told of answer {serial} to call {}: {outcome:?}", call.0),
        );
        let s = &mut self.seats[seat];
        // One that the host has lost may have had the number of a later one.
        let of_call = s.answered.iter_mut().filter(|(at, _)| {
            let (_, of, _, as_serial) = at;
            (*of, *as_serial) == (call, serial)
        });
        let mut of_call: Vec<&mut Vec<AnswerOutcome>> = of_call.map(|(_, told)| told).collect();
        let waits = of_call.iter().position(|told| told.is_empty());
        let Some(at) = waits.or(of_call.len().checked_sub(1)) else {
            // A program of before this one gave it.
            let held = matches!(outcome, AnswerOutcome::Marked(_)) && s.program > 1;
            return self.check(held, || {
                format!(
                    "answer {serial} to call {} is told of, and nobody gave it",
                    call.0
                )
            });
        };
        let lost = !matches!(
            outcome,
            AnswerOutcome::Marked(_) | AnswerOutcome::Refused(Refusal::TooLate)
        );
        of_call[at].push(outcome);
        let once = of_call[at].len() == 1;
        let name = s.name.clone();
        self.counts.told += 1;
        self.counts.told_lost += u64::from(lost);
        self.check(once, || {
            format!("{name} is told twice of answer {serial} to call {}", call.0)
        });
    }

    /// Nobody is told "not found" of what was found, or may have been.
    fn check_ending(&mut self, seat: usize, call: CallId, ending: Ending) {
        let s = &self.seats[seat];
        let start = s.which.get(&call).copied();
        let of_call = s
            .answered
            .iter()
            .filter(|((_, of, at, _), _)| *of == call && Some(*at) == start);
        let told: Vec<_> = of_call
            .map(|((place, ..), told)| (Some(*place) == s.place_at, told.first().cloned()))
            .collect();
        let right = (true, Some(AnswerOutcome::Marked(Mark::Right)));
        let holds = match ending {
            Ending::NotFound => !told.contains(&right) && told.iter().all(|(_, t)| t.is_some()),
            Ending::Owed => told.iter().any(|(_, t)| t.is_none()),
            Ending::Found | Ending::YouCalled => true,
        };
        let name = s.name.clone();
        self.check(holds, || {
            format!(
                "{name} is told {ending:?} of call {}, and of its answers {told:?}",
                call.0
            )
        });
    }

    /// How many answers given at this seat's program nothing was told of.
    pub fn untold(&self, seat: usize) -> usize {
        let answered = self.seats[seat].answered.values();
        answered.filter(|told| told.is_empty()).count()
    }

    /// What the book holds of answers given at programs that still run: told as
    /// marked, and nothing else.
    pub fn check_marks_told(&mut self) {
        for seat in 0..self.seats.len() {
            let s = &self.seats[seat];
            if s.terminal.is_none() {
                continue;
            }
            let otherwise =
                s.answered
                    .iter()
                    .find(|(((student, _), call, start, serial), told)| {
                        let stored = self.stored.answers.contains(&(*student, *call, *serial));
                        let this_call = self
                            .truth
                            .calls
                            .get(call)
                            .is_some_and(|c| c.start == *start);
                        let told = told.first();
                        // Whoever left, was taken out or got another seat is nobody to the host.
                        let other = matches!(
                            told,
                            Some(AnswerOutcome::Lost(
                                AnswerLost::OtherPlace | AnswerLost::Left | AnswerLost::TakenOut
                            ))
                        );
                        let marked = matches!(told, Some(AnswerOutcome::Marked(_)));
                        stored && this_call && !marked && !other
                    });
            if let Some(((_, call, _, serial), told)) = otherwise {
                let what = format!(
                    "answer {serial} of {} to call {} is in the book, and was told as {told:?}",
                    s.name, call.0
                );
                self.fail(what);
            }
        }
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
