//! A student's machine: the real terminal between a connection, a sound output
//! and a microphone, as the terminal's driver has it.

mod giving;
mod joining;
mod sounding;

use std::collections::{BTreeMap, BTreeSet};

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{Answer, CallId, FromStudent, PlaceKey, StudentId};
use fifthpeg_lesson::terminal::{HandsFree, Outcome, SoundId, SoundOrder, Terminal};
use fifthpeg_wire::ClientFrame;

use crate::bug::Bug;
use crate::clock::Clock;
use crate::world::{MS, SECOND, World};

/// As the terminal's own network has them.
const KEEP_ALIVE: u64 = 2 * SECOND;
const SILENCE: u64 = 8 * SECOND;

/// How the terminal stands with the network. Times are true times.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Link {
    Off,
    Waiting { until: u64 },
    Connecting { conn: usize, by: u64 },
    Joining { conn: usize, by: u64 },
    In { conn: usize, heard: u64, said: u64 },
}

/// One answer as a student gave it.
#[derive(Debug, Clone)]
pub(crate) struct Given {
    pub student: StudentId,
    pub call: CallId,
    /// Which call of that number: where it starts.
    pub start: Moment,
    pub answer: Answer,
    /// What the response time may be by this machine's clock, one of them.
    pub responses_us: Vec<i128>,
    /// The clock was stepped so shortly before that nothing follows from it.
    pub stepped: bool,
}

/// A place of the lesson. A host that was killed may give a number again that it
/// had not written down: the key is another then.
pub(crate) type PlaceAt = (StudentId, u128);

/// An answer as a terminal gives it: in which place, to which call (its number, and
/// where it was named to start), under which serial.
pub(crate) type AnswerAt = (PlaceAt, CallId, Moment, u32);

/// A student's machine.
#[derive(Debug)]
pub(crate) struct Seat {
    pub name: String,
    pub clock: Clock,
    pub delay_up_us: (u64, u64),
    pub delay_down_us: (u64, u64),
    pub lost_per_mille: u64,
    /// What the output says its starts may be off by.
    pub output_us: u64,
    pub silent: bool,
    pub microphone: bool,
    pub cut_off_until: u64,
    pub far_until: u64,
    pub stepped_at: Option<u64>,
    /// Counts the programs run here.
    pub program: u32,
    pub terminal: Option<Terminal>,
    pub link: Link,
    /// The lesson is over for this program.
    pub over: bool,
    failures: u32,
    in_since: u64,
    /// The place as kept in a file.
    pub place: Option<PlaceKey>,
    /// The place that the last program left.
    from_before: Option<PlaceKey>,
    forgotten: Option<PlaceKey>,
    /// The key for a new place that was asked for and not welcomed yet.
    asked_with: Option<PlaceKey>,
    pub student: Option<StudentId>,
    /// Who this was when it left, until it is welcomed again.
    pub left: Option<StudentId>,
    sent: BTreeSet<(u32, CallId, u32)>,
    /// Answers given at this program, by call and serial, and what was told of
    /// each.
    pub answered: BTreeMap<AnswerAt, Vec<Outcome>>,
    pub given: Vec<Given>,
    /// The start that a call was named with last, and by which host process.
    pub named: BTreeMap<CallId, (Moment, u32)>,
    /// The start a call was named with first: which call it is.
    pub which: BTreeMap<CallId, Moment>,
    orders: BTreeMap<SoundId, (SoundOrder, Option<CallId>)>,
    /// When the first tone of a call really started, on this clock.
    started: BTreeMap<CallId, i128>,
    pub sounded: Vec<(CallId, f64)>,
    /// When something was plucked, or committed with a key, on this clock.
    pub ends: Vec<Moment>,
    pub next_pluck: u64,
}

impl Seat {
    /// The place it has, once it was welcomed.
    pub fn place_at(&self) -> Option<PlaceAt> {
        self.student.zip(self.place.map(|key| key.0))
    }

    pub fn new(name: String, clock: Clock) -> Self {
        Self {
            name,
            clock,
            delay_up_us: (200, 2 * MS),
            delay_down_us: (200, 2 * MS),
            lost_per_mille: 0,
            output_us: 5 * MS,
            silent: false,
            microphone: false,
            cut_off_until: 0,
            far_until: 0,
            stepped_at: None,
            program: 0,
            terminal: None,
            link: Link::Off,
            over: false,
            failures: 0,
            in_since: 0,
            place: None,
            from_before: None,
            forgotten: None,
            asked_with: None,
            student: None,
            left: None,
            sent: BTreeSet::new(),
            answered: BTreeMap::new(),
            given: Vec::new(),
            named: BTreeMap::new(),
            which: BTreeMap::new(),
            orders: BTreeMap::new(),
            started: BTreeMap::new(),
            sounded: Vec::new(),
            ends: Vec::new(),
            next_pluck: 0,
        }
    }

    /// Whether a program runs here that is in a lesson, or wants to be.
    pub fn wants_in(&self) -> bool {
        self.terminal.is_some() && !self.over
    }
}

impl World {
    pub fn seat_now(&self, seat: usize) -> Moment {
        self.seats[seat].clock.read(self.now)
    }

    fn note_seat(&mut self, seat: usize, what: core::fmt::Arguments<'_>) {
        let name = self.seats[seat].name.clone();
        self.note(&name, what);
    }

    /// The program is started.
    pub fn start_program(&mut self, seat: usize) {
        if self.seats[seat].wants_in() {
            return;
        }
        let s = &mut self.seats[seat];
        let mut terminal = Terminal::new();
        terminal.set_hands_free(s.microphone.then(HandsFree::default));
        s.terminal = Some(terminal);
        s.program += 1;
        s.over = false;
        s.failures = 0;
        s.from_before = s.place;
        s.forgotten = None;
        s.asked_with = None;
        s.answered.clear();
        s.which.clear();
        s.named.clear();
        s.orders.clear();
        s.started.clear();
        s.sounded.clear();
        s.link = Link::Waiting { until: self.now };
        self.note_seat(seat, format_args!("starts"));
    }

    /// The program is killed.
    pub fn kill_program(&mut self, seat: usize) {
        if self.seats[seat].terminal.is_none() {
            return;
        }
        self.note_seat(seat, format_args!("is killed"));
        self.close_link(seat);
        let s = &mut self.seats[seat];
        s.terminal = None;
        s.student = None;
        s.program += 1;
    }

    fn close_link(&mut self, seat: usize) {
        match self.seats[seat].link {
            Link::Connecting { conn, .. } | Link::Joining { conn, .. } | Link::In { conn, .. } => {
                self.terminal_closes(conn);
            }
            Link::Off | Link::Waiting { .. } => {}
        }
        self.seats[seat].link = Link::Off;
    }

    pub fn with_terminal<T>(
        &mut self,
        seat: usize,
        what: impl FnOnce(&mut Terminal, Moment) -> T,
    ) -> Option<T> {
        let now = self.seat_now(seat);
        let done = self.seats[seat].terminal.as_mut().map(|t| what(t, now));
        self.heed_events(seat);
        self.pass_on(seat);
        done
    }

    pub fn seat_deadline(&self, seat: usize) -> Option<u64> {
        let s = &self.seats[seat];
        let terminal = s.terminal.as_ref().filter(|_| !s.over)?;
        let link = match s.link {
            Link::Off => None,
            Link::Waiting { until } => Some(until),
            Link::Connecting { by, .. } | Link::Joining { by, .. } => Some(by),
            Link::In { heard, said, .. } => Some((said + KEEP_ALIVE).min(heard + SILENCE)),
        };
        // One more, so that the clock has reached it however it is rounded.
        let own = terminal
            .next_deadline()
            .map(|at| s.clock.true_of(at).max(s.clock.from()) + 1);
        [link, own].into_iter().flatten().min()
    }

    pub fn seat_timeout(&mut self, seat: usize) {
        match self.seats[seat].link {
            Link::Waiting { until } if until <= self.now => return self.connect(seat),
            Link::Connecting { by, .. } if by <= self.now => return self.lose_link(seat, false),
            Link::Joining { by, .. } if by <= self.now => return self.lose_link(seat, false),
            Link::In { heard, .. } if heard + SILENCE <= self.now => {
                return self.lose_link(seat, true);
            }
            Link::In { said, .. } if said + KEEP_ALIVE <= self.now => {
                return self.ask_clock(seat);
            }
            _ => {}
        }
        self.with_terminal(seat, |terminal, now| terminal.handle_timeout(now));
    }

    /// Does everything the terminal asks for.
    fn pass_on(&mut self, seat: usize) {
        while let Some(order) = self.seats[seat]
            .terminal
            .as_mut()
            .and_then(Terminal::poll_sound)
        {
            self.sound(seat, order);
        }
        while let Some(message) = self.seats[seat]
            .terminal
            .as_mut()
            .and_then(Terminal::poll_message)
        {
            let leaves = matches!(message, FromStudent::Leave);
            if !self.seats[seat].over || leaves {
                self.say(seat, message);
            }
        }
        while self.seats[seat]
            .terminal
            .as_mut()
            .is_some_and(Terminal::poll_clock_ask)
        {
            self.ask_clock(seat);
        }
    }

    fn say(&mut self, seat: usize, mut message: FromStudent) {
        let Link::In { conn, heard, .. } = self.seats[seat].link else {
            return;
        };
        let said = self.now;
        self.seats[seat].link = Link::In { conn, heard, said };
        if let FromStudent::Answer(notice) = &mut message {
            let program = self.seats[seat].program;
            let again = !self.seats[seat]
                .sent
                .insert((program, notice.call, notice.serial));
            let earlier = self.call_at(seat) != Some(notice.call);
            if again {
                self.counts.resent += 1;
                if self.has(Bug::ForgetsEarlierCalls) && earlier {
                    return;
                }
                if self.has(Bug::LosesResend) {
                    return;
                }
                if self.has(Bug::CountsTwice) {
                    notice.serial += 1000;
                }
            }
        }
        let frame = ClientFrame::Lesson(message);
        self.send_up(conn, &frame);
    }
}
