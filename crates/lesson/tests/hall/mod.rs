//! A hall in virtual time: a lesson, terminals with clocks of their own, and
//! links that delay, lose and come back. True time is in microseconds.

use std::cmp::Reverse;
use std::collections::{BinaryHeap, VecDeque};
use std::time::Duration;

use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::message::{CallId, FromStudent, SeatKey, StudentId, ToStudent};
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_lesson::terminal::{HeardNote, SoundKind, StudentOrder, Terminal};
use fifthpeg_lesson::{Lesson, Moment};

/// Clocks count from here in true time, so that offsets stay positive.
pub const START_US: u64 = 10_000_000_000;

/// What an output says of the exactness of its starts.
pub const OUTPUT_UNCERTAINTY: Duration = Duration::from_millis(5);

/// A tone that left a terminal.
#[derive(Debug, Clone, Copy)]
pub struct SoundedTone {
    pub seat: usize,
    pub frequency_hz: f64,
    pub call: Option<CallId>,
    pub kind: SoundKind,
    /// True time.
    pub at_us: u64,
    /// What the terminal believed of its clock when it ordered the tone.
    pub clock_uncertainty: Option<Duration>,
    /// True time when it was ordered.
    pub ordered_us: u64,
}

/// An answer as given.
#[derive(Debug, Clone, Copy)]
pub struct Given {
    pub seat: usize,
    pub call: CallId,
    /// From the tone to the answer in true time, if it had sounded.
    pub true_response: Option<Duration>,
}

#[derive(Debug)]
enum Travelling {
    Join {
        key: Option<SeatKey>,
    },
    Up(FromStudent),
    Down(Box<ToStudent>),
    Ask {
        t1: Moment,
    },
    Clock {
        t1: Moment,
        t2: Moment,
        t3: Moment,
    },
    /// Through the air: no connection carries it.
    Heard(HeardNote),
}

pub struct Seat {
    pub terminal: Terminal,
    /// Student clock minus true time.
    offset_us: i64,
    /// One-way delays, drawn between these.
    delay_us: (u64, u64),
    /// Counts connections; what travels on an old one is lost.
    epoch: u32,
    up: bool,
    id: Option<StudentId>,
    last_up_us: u64,
    last_down_us: u64,
    first_tone_us: Option<(CallId, u64)>,
}

pub struct Hall {
    pub lesson: Lesson,
    host_offset_us: i64,
    pub now_us: u64,
    pub seats: Vec<Seat>,
    pub events: Vec<LessonEvent>,
    pub tones: Vec<SoundedTone>,
    pub given: Vec<Given>,
    order: BinaryHeap<Reverse<(u64, u64)>>,
    travelling: Vec<Option<(usize, u32, Travelling)>>,
    dice: u64,
}

impl Hall {
    pub fn new(setup: LessonSetup, host_offset_us: i64, seed: u64) -> Self {
        let now = at(START_US, host_offset_us);
        Self {
            lesson: Lesson::new(setup, now).expect("a fit setup"),
            host_offset_us,
            now_us: START_US,
            seats: Vec::new(),
            events: Vec::new(),
            tones: Vec::new(),
            given: Vec::new(),
            order: BinaryHeap::new(),
            travelling: Vec::new(),
            dice: seed,
        }
    }

    /// True time as the host's clock reads it.
    pub fn host(&self, us: u64) -> Moment {
        at(us, self.host_offset_us)
    }

    /// The host's moment in true time.
    pub fn true_of_host(&self, moment: Moment) -> u64 {
        (moment.micros() as i64 - self.host_offset_us) as u64
    }

    fn local(&self, seat: usize) -> Moment {
        at(self.now_us, self.seats[seat].offset_us)
    }

    /// SplitMix64, public domain.
    pub fn roll(&mut self, below: u64) -> u64 {
        self.dice = self.dice.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.dice;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (z ^ (z >> 31)) % below
    }

    pub fn add_seat(&mut self, offset_us: i64, delay_us: (u64, u64)) -> usize {
        self.seats.push(Seat {
            terminal: Terminal::new(),
            offset_us,
            delay_us,
            epoch: 0,
            up: false,
            id: None,
            last_up_us: 0,
            last_down_us: 0,
            first_tone_us: None,
        });
        self.seats.len() - 1
    }

    /// A connection comes up and the terminal asks to be let in.
    pub fn connect(&mut self, seat: usize) {
        if self.seats[seat].up {
            return;
        }
        let now = self.local(seat);
        let s = &mut self.seats[seat];
        s.epoch += 1;
        s.up = true;
        s.terminal.handle_connected(now);
        let key = s.terminal.key();
        self.travel(seat, Travelling::Join { key }, true);
        self.pass_on(seat);
    }

    /// The connection breaks; what is on the way is lost. The host notices at
    /// once.
    pub fn disconnect(&mut self, seat: usize) {
        if !self.seats[seat].up {
            return;
        }
        let now = self.local(seat);
        let s = &mut self.seats[seat];
        s.up = false;
        s.epoch += 1;
        s.terminal.handle_disconnected(now);
        if let Some(id) = s.id {
            let now = self.host(self.now_us);
            self.lesson.handle_disconnect(id, now);
        }
        self.host_speaks();
    }

    pub fn host_order(&mut self, order: HostOrder) -> bool {
        let now = self.host(self.now_us);
        let done = self.lesson.handle_host(order, now).is_ok();
        self.host_speaks();
        done
    }

    pub fn student_order(&mut self, seat: usize, order: StudentOrder) -> bool {
        let now = self.local(seat);
        let done = self.seats[seat].terminal.handle_order(order, now).is_ok();
        if done && matches!(order, StudentOrder::Answer(_)) {
            let s = &self.seats[seat];
            let call = s.terminal.view(now).call.expect("a call is open").id;
            let tone = s
                .first_tone_us
                .filter(|(c, t)| *c == call && *t <= self.now_us);
            let true_response = tone.map(|(_, t)| Duration::from_micros(self.now_us - t));
            self.given.push(Given {
                seat,
                call,
                true_response,
            });
        }
        self.pass_on(seat);
        done
    }

    /// Lets time pass, with all that falls due in it.
    pub fn pass(&mut self, us: u64) {
        let until = self.now_us + us;
        loop {
            let message = self.order.peek().map(|Reverse((t, _))| *t);
            let timer = (0..self.seats.len())
                .filter_map(|i| {
                    let s = &self.seats[i];
                    let deadline = s.terminal.next_deadline()?;
                    Some(((deadline.micros() as i64 - s.offset_us) as u64, i))
                })
                .min();
            let next = message.into_iter().chain(timer.map(|(t, _)| t)).min();
            let Some(next) = next.filter(|t| *t <= until) else {
                break;
            };
            self.now_us = self.now_us.max(next);
            if message == Some(next) {
                let Some(Reverse((_, n))) = self.order.pop() else {
                    break;
                };
                self.arrive(n);
            } else if let Some((_, seat)) = timer {
                let now = self.local(seat);
                self.seats[seat].terminal.handle_timeout(now);
                self.pass_on(seat);
            }
        }
        self.now_us = until;
    }

    /// A moment of true time on a seat's clock.
    pub fn at_seat(&self, seat: usize, us: u64) -> Moment {
        at(us, self.seats[seat].offset_us)
    }

    /// A seat's ear reports something at `us` of true time.
    pub fn hear(&mut self, seat: usize, us: u64, note: HeardNote) {
        let n = self.travelling.len() as u64;
        self.order.push(Reverse((us.max(self.now_us), n)));
        let what = Some((seat, 0, Travelling::Heard(note)));
        self.travelling.push(what);
    }

    fn travel(&mut self, seat: usize, what: Travelling, up: bool) {
        let (least, most) = self.seats[seat].delay_us;
        let arrives = self.now_us + least + self.roll(most - least + 1);
        let s = &mut self.seats[seat];
        let last = if up {
            &mut s.last_up_us
        } else {
            &mut s.last_down_us
        };
        // A connection keeps the order.
        *last = arrives.max(*last);
        let n = self.travelling.len() as u64;
        self.order.push(Reverse((*last, n)));
        let epoch = s.epoch;
        self.travelling.push(Some((seat, epoch, what)));
    }

    fn arrive(&mut self, n: u64) {
        let Some((seat, epoch, what)) = self.travelling[n as usize].take() else {
            return;
        };
        let through_air = matches!(what, Travelling::Heard(_));
        if self.seats[seat].epoch != epoch && !through_air {
            return;
        }
        let (here, there) = (self.local(seat), self.host(self.now_us));
        match what {
            Travelling::Join { key } => {
                let new_key = SeatKey(u128::from(self.roll(u64::MAX)));
                let id = self
                    .lesson
                    .handle_join("Ada", key, new_key, there)
                    .expect("let in");
                self.seats[seat].id = Some(id);
                self.host_speaks();
            }
            Travelling::Up(message) => {
                let id = self.seats[seat].id.expect("joined before");
                // A refusal goes to the student by itself.
                let _ = self.lesson.handle_message(id, message, there);
                self.host_speaks();
            }
            Travelling::Ask { t1 } => {
                let clock = Travelling::Clock {
                    t1,
                    t2: there,
                    t3: there,
                };
                self.travel(seat, clock, false);
            }
            Travelling::Down(message) => {
                self.seats[seat].terminal.handle_message(*message, here);
                self.pass_on(seat);
            }
            Travelling::Heard(note) => {
                self.seats[seat].terminal.handle_heard(note, here);
                self.pass_on(seat);
            }
            Travelling::Clock { t1, t2, t3 } => {
                self.seats[seat].terminal.handle_clock(t1, t2, t3, here);
                self.pass_on(seat);
            }
        }
    }

    fn host_speaks(&mut self) {
        let mut out = VecDeque::new();
        while let Some(message) = self.lesson.poll_message() {
            out.push_back(message);
        }
        while let Some(event) = self.lesson.poll_event() {
            self.events.push(event);
        }
        for (id, message) in out {
            let seat = self.seats.iter().position(|s| s.up && s.id == Some(id));
            if let Some(seat) = seat {
                self.travel(seat, Travelling::Down(Box::new(message)), false);
            }
        }
    }

    fn pass_on(&mut self, seat: usize) {
        let now = self.local(seat);
        while let Some(order) = self.seats[seat].terminal.poll_sound() {
            let s = &mut self.seats[seat];
            let starts = order.at.max(now);
            let at_us = (starts.micros() as i64 - s.offset_us) as u64;
            let view = s.terminal.view(now);
            let call = view.call.map(|c| c.id);
            if order.kind == SoundKind::Call {
                s.first_tone_us = call.map(|c| (c, at_us));
            }
            s.terminal.handle_sounded(
                order.id,
                starts,
                OUTPUT_UNCERTAINTY,
                Duration::from_millis(1400),
            );
            self.tones.push(SoundedTone {
                seat,
                frequency_hz: order.tone.frequency_hz,
                call,
                kind: order.kind,
                at_us,
                clock_uncertainty: view.clock_uncertainty,
                ordered_us: self.now_us,
            });
        }
        while let Some(message) = self.seats[seat].terminal.poll_message() {
            self.travel(seat, Travelling::Up(message), true);
        }
        while self.seats[seat].terminal.poll_clock_ask() {
            self.travel(seat, Travelling::Ask { t1: now }, true);
        }
    }
}

fn at(true_us: u64, offset_us: i64) -> Moment {
    Moment::from_micros(u64::try_from(true_us as i64 + offset_us).expect("positive"))
}
