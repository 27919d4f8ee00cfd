//! A student's machine: the real terminal between a connection, a sound output
//! and a microphone, as the terminal's driver has it.

use core::time::Duration;
use std::collections::{BTreeMap, BTreeSet};

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{
    Answer, CallId, FromStudent, PlaceKey, Refusal, StudentId, ToStudent,
};
use fifthpeg_lesson::terminal::{HandsFree, SoundId, SoundKind, SoundOrder, Terminal};
use fifthpeg_link::convert;

use crate::bug::Bug;
use crate::clock::Clock;
use crate::world::{Happening, MS, SECOND, World};

/// As the terminal's own network has them.
const ANSWER_WITHIN: u64 = 4 * SECOND;
const JOIN_WITHIN: u64 = 5 * SECOND;
const KEEP_ALIVE: u64 = 2 * SECOND;
const SILENCE: u64 = 8 * SECOND;
const FIRST_WAIT: u64 = 200 * MS;
const LONGEST_WAIT: u64 = 5 * SECOND;
/// How long a tone lasts.
const TONE: Duration = Duration::from_millis(1400);
/// Terminals without a sound output, of a thousand tones.
const NOT_SOUNDED: u64 = 5;

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
    /// The place as kept in a file.
    pub place: Option<PlaceKey>,
    /// The place that the last program left.
    from_before: Option<PlaceKey>,
    forgotten: Option<PlaceKey>,
    pub student: Option<StudentId>,
    sent: BTreeSet<(u32, CallId, u32)>,
    answers_seen: (Option<CallId>, usize),
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
            place: None,
            from_before: None,
            forgotten: None,
            student: None,
            sent: BTreeSet::new(),
            answers_seen: (None, 0),
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

/// Whether the host's speakers sounded this call before the clock was stepped.
fn starts_before(sounds: &[(CallId, u64)], stepped_at: Option<u64>, call: CallId) -> bool {
    stepped_at.is_some_and(|step| sounds.iter().any(|(id, at)| *id == call && *at < step))
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
        s.answers_seen = (None, 0);
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
        self.look_at_answers(seat);
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

    fn connect(&mut self, seat: usize) {
        let conn = self.new_conn(seat);
        self.seats[seat].link = Link::Connecting {
            conn,
            by: self.now + ANSWER_WITHIN,
        };
        if self.cut_off_until(seat) <= self.now {
            let there = self.delay(seat, true) + self.delay(seat, false);
            let made = self.host.heart.as_ref().is_some_and(|h| !h.is_ended());
            self.at(self.now + there, Happening::Connected(conn, made));
        }
    }

    pub fn connected(&mut self, conn: usize, made: bool) {
        let seat = self.conns[conn].seat;
        let waits = matches!(self.seats[seat].link, Link::Connecting { conn: c, .. } if c == conn);
        if !waits {
            return;
        }
        let same_host = self.conns[conn].life == self.host.life && self.host.heart.is_some();
        if !made || !same_host {
            return self.lose_link(seat, false);
        }
        let c = &mut self.conns[conn];
        c.host_open = true;
        c.opened = self.now;
        c.heard = self.now;
        self.seats[seat].link = Link::Joining {
            conn,
            by: self.now + JOIN_WITHIN,
        };
        let s = &self.seats[seat];
        let key = s
            .terminal
            .as_ref()
            .and_then(Terminal::key)
            .or(s.from_before);
        let key = key.filter(|k| Some(*k) != s.forgotten);
        let join = convert::join_to_wire(&s.name, key);
        self.note_seat(
            seat,
            format_args!("asks to be let in, a place: {}", key.is_some()),
        );
        self.send_up(conn, &join);
    }

    /// The connection is gone, or came to nothing: later again.
    fn lose_link(&mut self, seat: usize, was_in: bool) {
        self.close_link(seat);
        let failures = self.seats[seat].failures;
        let whole = (FIRST_WAIT << failures.min(8)).min(LONGEST_WAIT);
        let wait = whole - self.dice.below(whole / 2);
        let s = &mut self.seats[seat];
        s.failures += 1;
        s.link = Link::Waiting {
            until: self.now + wait,
        };
        if was_in {
            self.note_seat(seat, format_args!("has lost the connection"));
            self.with_terminal(seat, |terminal, now| terminal.handle_disconnected(now));
        }
    }

    pub fn terminal_sees_end(&mut self, conn: usize) {
        let c = &self.conns[conn];
        let (seat, program) = (c.seat, c.program);
        if !c.terminal_open || self.seats[seat].program != program {
            return;
        }
        match self.seats[seat].link {
            Link::In { conn: c, .. } if c == conn => self.lose_link(seat, true),
            Link::Joining { conn: c, .. } if c == conn => self.lose_link(seat, false),
            _ => {}
        }
    }

    pub fn terminal_hears(&mut self, seat: usize, conn: usize, message: ToStudent) {
        match self.seats[seat].link {
            Link::Joining { conn: c, .. } if c == conn => self.terminal_is_in(seat, conn, message),
            Link::In { conn: c, said, .. } if c == conn => {
                let heard = self.now;
                self.seats[seat].link = Link::In { conn, heard, said };
                self.terminal_takes(seat, message);
            }
            _ => {}
        }
    }

    fn terminal_is_in(&mut self, seat: usize, conn: usize, message: ToStudent) {
        match message {
            ToStudent::Refused(Refusal::UnknownPlace) => {
                self.close_link(seat);
                let s = &mut self.seats[seat];
                let key = s
                    .terminal
                    .as_ref()
                    .and_then(Terminal::key)
                    .or(s.from_before);
                s.forgotten = key;
                s.place = None;
                s.link = Link::Waiting {
                    until: self.now + 1,
                };
                if self.seats[seat].from_before.take().is_none() {
                    self.with_terminal(seat, |terminal, now| {
                        terminal.handle_message(ToStudent::Refused(Refusal::UnknownPlace), now);
                    });
                }
            }
            ToStudent::Refused(why) => {
                self.note_seat(seat, format_args!("is not let in: {why}"));
                self.close_link(seat);
                self.seats[seat].over = true;
            }
            welcome => {
                let s = &mut self.seats[seat];
                s.failures = 0;
                s.from_before = None;
                s.link = Link::In {
                    conn,
                    heard: self.now,
                    said: self.now,
                };
                self.with_terminal(seat, |terminal, now| terminal.handle_connected(now));
                self.terminal_takes(seat, welcome);
            }
        }
    }

    fn terminal_takes(&mut self, seat: usize, message: ToStudent) {
        self.note_seat(seat, format_args!("hears {message:?}"));
        self.check_confirmed(seat, &message);
        let life = self.host.life;
        let s = &mut self.seats[seat];
        match &message {
            ToStudent::Welcome(welcome) => {
                s.student = Some(welcome.student);
                s.place = Some(welcome.key);
            }
            ToStudent::Call(notice) => {
                s.named.insert(notice.call, (notice.start, life));
                if s.which.insert(notice.call, notice.start) != Some(notice.start) {
                    // Another call under the number of one that was lost.
                    s.started.remove(&notice.call);
                }
            }
            ToStudent::HearAgain { call, start } => {
                s.named.insert(*call, (*start, life));
            }
            _ => {}
        }
        let ended = matches!(message, ToStudent::Ended { .. });
        self.with_terminal(seat, |terminal, now| terminal.handle_message(message, now));
        if ended {
            self.is_over(seat);
        }
    }

    /// The lesson is over for this program.
    pub fn is_over(&mut self, seat: usize) {
        self.close_link(seat);
        let s = &mut self.seats[seat];
        s.over = true;
        s.place = None;
    }

    pub fn terminal_hears_clock(
        &mut self,
        seat: usize,
        conn: usize,
        t1: Moment,
        t2: Moment,
        t3: Moment,
    ) {
        if let Link::In { conn: c, said, .. } = self.seats[seat].link
            && c == conn
        {
            let heard = self.now;
            self.seats[seat].link = Link::In { conn, heard, said };
            self.with_terminal(seat, |terminal, now| terminal.handle_clock(t1, t2, t3, now));
        }
    }

    fn ask_clock(&mut self, seat: usize) {
        if let Link::In { conn, heard, .. } = self.seats[seat].link {
            let said = self.now;
            self.seats[seat].link = Link::In { conn, heard, said };
            let ask = convert::clock_ask_to_wire(self.seat_now(seat));
            self.send_up(conn, &ask);
        }
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
            if again {
                self.counts.resent += 1;
                if self.has(Bug::LosesResend) {
                    return;
                }
                if self.has(Bug::CountsTwice) {
                    notice.serial += 1000;
                }
            }
        }
        let frame = convert::client_to_wire(&message);
        let read = convert::client_from_wire(frame.clone());
        let same = matches!(&read, Ok(convert::FromClient::Lesson(m)) if *m == message);
        self.check(same, || {
            format!("{message:?} is another message after the wire: {read:?}")
        });
        self.send_up(conn, &frame);
    }

    fn sound(&mut self, seat: usize, order: SoundOrder) {
        let now = self.seat_now(seat);
        let call = self.call_at(seat).map(|(id, _)| id);
        if order.kind == SoundKind::Call
            && let Some(call) = call
        {
            self.seats[seat]
                .sounded
                .push((call, order.tone.frequency_hz));
            self.check_start(seat, call, &order, now);
        }
        let s = &mut self.seats[seat];
        s.orders.insert(order.id, (order, call));
        let program = s.program;
        let at = s.clock.true_of(order.at.max(now)).max(self.now);
        let late = self.dice.below(self.seats[seat].output_us / 2 + 1);
        self.at(at + late, Happening::Tone(seat, program, order.id));
    }

    pub fn tone_starts(&mut self, seat: usize, program: u32, id: SoundId) {
        if self.seats[seat].program != program {
            return;
        }
        let Some((order, call)) = self.seats[seat].orders.remove(&id) else {
            return;
        };
        if self.seats[seat].silent {
            self.with_terminal(seat, |terminal, _| terminal.handle_silent(id));
            return;
        }
        if self.dice.chance(NOT_SOUNDED) {
            self.with_terminal(seat, |terminal, _| terminal.handle_not_sounded(id));
            return;
        }
        let told = self.seat_now(seat);
        let output_us = self.seats[seat].output_us;
        let off = i128::from(self.dice.between(0, 2 * output_us)) - i128::from(output_us);
        if order.kind == SoundKind::Call
            && let Some(call) = call
        {
            let really = i128::from(told.micros()) + off;
            self.seats[seat].started.insert(call, really);
        }
        let uncertainty = Duration::from_micros(output_us);
        self.with_terminal(seat, |terminal, _| {
            terminal.handle_sounded(id, told, uncertainty, TONE);
        });
    }

    /// The call that the terminal shows, and its answers.
    pub fn call_at(&self, seat: usize) -> Option<(CallId, Vec<Answer>)> {
        let now = self.seat_now(seat);
        let call = self.seats[seat].terminal.as_ref()?.view(now).call?;
        let answers = call.answers.iter().map(|(answer, _)| *answer).collect();
        Some((call.id, answers))
    }

    /// Notes what was given here since it was looked at last.
    fn look_at_answers(&mut self, seat: usize) {
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
