//! A student's machine: the real terminal between a connection, a sound output
//! and a microphone, as the terminal's driver has it.

mod giving;
mod joining;
mod sounding;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::backoff::{self, Backoff};
use fifthpeg_lesson::message::FromStudent;
use fifthpeg_lesson::terminal::{HandsFree, Terminal};
use fifthpeg_wire::ClientFrame;

use crate::bug::Bug;
use crate::clock::span;
use crate::parts::Link;
use crate::world::World;

const KEEP_ALIVE: u64 = span(backoff::KEEP_ALIVE);
const SILENCE: u64 = span(backoff::SILENCE);

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
        s.backoff = Backoff::default();
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
