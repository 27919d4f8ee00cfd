//! Carries out each act of `act.rs` on the world. What is done when, and whether it
//! went well, is decided elsewhere (`run`, the checks).

use core::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_lesson::marking::Marking;
use fifthpeg_lesson::message::Answer;
use fifthpeg_lesson::terminal::{HeardNote, StudentOrder};

use crate::act::{Act, Fault, StudentAct};
use crate::bug::Bug;
use crate::clock::{MS, SECOND};
use crate::parts::Link;
use crate::world::World;

/// A pluck is told that long after its onset.
const TOLD_AFTER: u64 = 60 * MS;
const ONSET_UNCERTAINTY: Duration = Duration::from_millis(4);

impl World {
    pub fn act(&mut self, act: Act) {
        match act {
            Act::Host(act) => self.host_act(act),
            Act::Student(n, act) => {
                let seat = usize::from(n) % self.seats.len();
                self.student_act(seat, act);
            }
            Act::Fault(_) if self.calm => {}
            Act::Fault(fault) => self.fault(fault),
        }
    }

    fn fault(&mut self, fault: Fault) {
        self.note("fault", format_args!("{fault:?}"));
        let seats = self.seats.len();
        let seat_of = |n: u8| usize::from(n) % seats;
        let tenths = |n: u8| u64::from(n) * 100 * MS;
        match fault {
            Fault::Cut(n) => self.cut_at(seat_of(n), true, true),
            Fault::TerminalLoses(n) => {
                let seat = seat_of(n);
                if let Link::In { conn, .. } = self.seats[seat].link {
                    self.counts.cuts += 1;
                    self.conns[conn].down_lost = true;
                    self.terminal_sees_end(conn);
                }
            }
            Fault::HostLoses(n) => {
                let seat = seat_of(n);
                if let Link::In { conn, .. } = self.seats[seat].link {
                    self.counts.cuts += 1;
                    self.conns[conn].up_lost = true;
                    self.host_sees_end(conn);
                }
            }
            Fault::Partition(n, t) => {
                let until = self.now + tenths(t);
                self.seats[seat_of(n)].cut_off_until = until;
            }
            Fault::PartitionAll(t) => self.all_cut_off_until = self.now + tenths(t),
            Fault::Far(n, t) => {
                let until = self.now + tenths(t);
                self.seats[seat_of(n)].far_until = until;
            }
            Fault::HostKilled(t) => self.kill_host(tenths(t).max(MS)),
            Fault::DiskSlow(t) => self.disk.slow_until = self.now + tenths(t),
            Fault::DiskFails(t) => self.disk.fails_until = self.now + tenths(t),
            Fault::ClockJumps(n, t) => {
                let (now, seat) = (self.now, seat_of(n));
                self.seats[seat].clock.jump(now, u64::from(t) * 10 * MS);
                self.seats[seat].stepped_at = Some(now);
            }
            Fault::ClockStands(n, t) => {
                let (now, seat) = (self.now, seat_of(n));
                let stands = u64::from(t) * 10 * MS;
                self.seats[seat].clock.stand_still(now, stands);
                self.seats[seat].stepped_at = Some(now + stands);
            }
        }
    }

    fn cut_at(&mut self, seat: usize, up: bool, down: bool) {
        match self.seats[seat].link {
            Link::In { conn, .. } | Link::Joining { conn, .. } => self.cut(conn, up, down),
            _ => {}
        }
    }

    fn student_act(&mut self, seat: usize, act: StudentAct) {
        match act {
            StudentAct::Start => return self.start_program(seat),
            StudentAct::Kill => return self.kill_program(seat),
            StudentAct::Pluck(n) => return self.pluck(seat, Pitch::new(48 + n % 40)),
            StudentAct::PluckRight => {
                let target = self.target().map(|(pitch, _)| pitch);
                return self.pluck(seat, target);
            }
            StudentAct::Sing(n) => return self.sing(seat, n),
            _ => {}
        }
        let Some(order) = self.student_order(seat, act) else {
            return;
        };
        if self.seats[seat].over {
            return;
        }
        if order == StudentOrder::AnswerHeard {
            // The answer's moment is the press, whenever the pluck is sure.
            let now = self.seat_now(seat);
            self.seats[seat].ends.push(now);
        }
        let said = format!("{order:?}");
        let done = self.with_terminal(seat, |terminal, now| terminal.handle_order(order, now));
        let name = self.seats[seat].name.clone();
        self.note(&name, format_args!("orders {said}: {done:?}"));
        if order == StudentOrder::Leave && done == Some(Ok(())) {
            let (place, student) = (self.seats[seat].place, self.seats[seat].student);
            self.is_over(seat, None);
            self.seats[seat].left = student;
            if !self.has(Bug::ForgetsPlace) {
                self.seats[seat].place = place;
            }
        }
    }

    fn student_order(&self, seat: usize, act: StudentAct) -> Option<StudentOrder> {
        let place = |n: u8| {
            let places = self.places();
            Answer::Place(places[usize::from(n) % places.len()])
        };
        Some(match act {
            StudentAct::Leave => {
                self.seats[seat].terminal.as_ref()?;
                StudentOrder::Leave
            }
            StudentAct::Hear => StudentOrder::Hear,
            StudentAct::Try(n) => StudentOrder::Try(place(n)),
            StudentAct::AnswerPlace(n) => StudentOrder::Answer(place(n)),
            StudentAct::AnswerPitch(n) => {
                StudentOrder::Answer(Answer::Pitch(Pitch::new(48 + n % 40)?))
            }
            StudentAct::AnswerRight => StudentOrder::Answer(self.target()?.1),
            StudentAct::AnswerHeard => StudentOrder::AnswerHeard,
            StudentAct::Pick(n) => StudentOrder::Pick(n.map(place)),
            StudentAct::CallerHearAgain => StudentOrder::CallerHearAgain,
            StudentAct::CallerReveal => StudentOrder::CallerReveal,
            StudentAct::CallerClose => StudentOrder::CallerClose,
            StudentAct::Start
            | StudentAct::Kill
            | StudentAct::Pluck(_)
            | StudentAct::PluckRight
            | StudentAct::Sing(_) => return None,
        })
    }

    fn places(&self) -> &[fifthpeg_core::Position] {
        &self.neck_places
    }

    /// The pitch that was called last, and an answer that is right.
    fn target(&self) -> Option<(Pitch, Answer)> {
        let view = self.host.engine.as_ref()?.lesson().view();
        let call = view.call?;
        let answer = match view.rules.marking {
            Marking::ExactPlace => Answer::Place(call.place.or(call.places.first().copied())?),
            _ => Answer::Pitch(call.pitch),
        };
        Some((call.pitch, answer))
    }

    fn pluck(&mut self, seat: usize, pitch: Option<Pitch>) {
        let Some(pitch) = pitch.filter(|_| self.seats[seat].microphone) else {
            return;
        };
        let now = self.seat_now(seat);
        let onset = fifthpeg_lesson::Moment::from_micros(now.micros().saturating_sub(TOLD_AFTER));
        self.seats[seat].next_pluck += 1;
        let note = HeardNote::Pluck {
            id: self.seats[seat].next_pluck,
            pitch,
            cents: 0.0,
            at: onset,
            uncertainty: ONSET_UNCERTAINTY,
        };
        self.seats[seat].ends.push(onset);
        let id = self.seats[seat].next_pluck;
        self.with_terminal(seat, |terminal, now| {
            terminal.handle_heard(note, now);
            terminal.handle_heard(HeardNote::MayAnswer { id }, now);
        });
    }

    fn sing(&mut self, seat: usize, quarter_tones: i8) {
        let target = self.truth.calls.values().next_back();
        let Some(hz) = target
            .map(|c| c.frequency_hz)
            .filter(|_| self.seats[seat].microphone)
        else {
            return;
        };
        let now = self.seat_now(seat);
        let note = HeardNote::Sung {
            frequency_hz: hz * (f64::from(quarter_tones) / 24.0).exp2(),
            spread_cents: 10.0,
            at: fifthpeg_lesson::Moment::from_micros(now.micros().saturating_sub(SECOND)),
            lasted: Duration::from_secs(1),
        };
        self.with_terminal(seat, |terminal, now| terminal.handle_heard(note, now));
    }
}
