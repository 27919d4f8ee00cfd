//! A terminal's way into the lesson and back, as the terminal's own network
//! goes it.

use core::time::Duration;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{Refusal, SeatKey, ToStudent};
use fifthpeg_lesson::terminal::Terminal;
use fifthpeg_wire::ClientFrame;

use crate::bug::Bug;
use crate::clock::{SECOND, span};
use crate::parts::Link;
use crate::world::{Happening, World};

/// As the terminal's own network has them.
const ANSWER_WITHIN: u64 = 4 * SECOND;
const JOIN_WITHIN: u64 = 5 * SECOND;

impl World {
    pub(super) fn connect(&mut self, seat: usize) {
        let conn = self.new_conn(seat);
        self.seats[seat].link = Link::Connecting {
            conn,
            by: self.now + ANSWER_WITHIN,
        };
        if self.cut_off_until(seat) <= self.now {
            let there = self.delay(seat, true) + self.delay(seat, false);
            let made = self.host.engine.as_ref().is_some_and(|h| !h.is_ended());
            self.at(self.now + there, Happening::Connected(conn, made));
        }
    }

    pub fn connected(&mut self, conn: usize, made: bool) {
        let seat = self.conns[conn].seat;
        let waits = matches!(self.seats[seat].link, Link::Connecting { conn: c, .. } if c == conn);
        if !waits {
            return;
        }
        let same_host = self.conns[conn].life == self.host.life && self.host.engine.is_some();
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
        let fresh = u128::from(self.dice.any()) << 64 | u128::from(self.dice.any());
        let s = &mut self.seats[seat];
        let new_key = *s.asked_with.get_or_insert(SeatKey(fresh));
        let key = s
            .terminal
            .as_ref()
            .and_then(Terminal::key)
            .or(s.from_before);
        let key = key.filter(|k| Some(*k) != s.forgotten);
        let join = ClientFrame::join(&s.name, key, new_key);
        self.note_seat(
            seat,
            format_args!("asks to be let in, a place: {}", key.is_some()),
        );
        self.send_up(conn, &join);
    }

    /// The connection is gone, or came to nothing: later again.
    pub(super) fn lose_link(&mut self, seat: usize, was_in: bool) {
        self.close_link(seat);
        let random = (self.dice.any() >> 32) as u32;
        let s = &mut self.seats[seat];
        if was_in {
            s.backoff
                .was_in(Duration::from_micros(self.now - s.in_since));
        }
        let wait = span(s.backoff.next(random));
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
            ToStudent::Refused(Refusal::UnknownSeat) => {
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
                        terminal.handle_message(ToStudent::Refused(Refusal::UnknownSeat), now);
                    });
                }
            }
            ToStudent::Refused(why) => {
                self.note_seat(seat, format_args!("is not let in: {why}"));
                self.is_over(seat, Some(&why));
            }
            welcome => {
                let s = &mut self.seats[seat];
                s.in_since = self.now;
                s.from_before = None;
                s.asked_with = None;
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

    /// Who left has the same seat again, as long as the lesson has it.
    fn check_same_place(&mut self, seat: usize, message: &ToStudent) {
        let ToStudent::Welcome(welcome) = message else {
            return;
        };
        let left = self.seats[seat].left.take();
        if let Some(left) = left.filter(|left| *left != welcome.student) {
            let engine = self.host.engine.as_ref();
            // A host that lost the joining may have given that number to somebody else.
            let name = engine.and_then(|engine| engine.lesson().name_of(left));
            let has = name.is_some_and(|name| name.starts_with(&self.seats[seat].name));
            self.check(!has, || {
                format!("who left as {left:?} came back as {:?}", welcome.student)
            });
        }
    }

    fn terminal_takes(&mut self, seat: usize, message: ToStudent) {
        self.check_same_place(seat, &message);
        self.note_seat(seat, format_args!("hears {message:?}"));
        self.check_confirmed(seat, &message);
        let life = self.host.life;
        let s = &mut self.seats[seat];
        match &message {
            ToStudent::Welcome(welcome) => {
                s.student = Some(welcome.student);
                s.place = Some(welcome.key);
                s.place_at = Some((welcome.student, welcome.key.0));
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
        if self.has(Bug::ForgetsEarlierCalls)
            && let ToStudent::Marked { call, .. } | ToStudent::AnswerRefused { call, .. } = &message
            && self.call_at(seat) != Some(*call)
        {
            return;
        }
        let ended = matches!(message, ToStudent::Ended { .. });
        self.with_terminal(seat, |terminal, now| terminal.handle_message(message, now));
        if ended {
            self.is_over(seat, None);
        }
    }

    /// The lesson is over for this program.
    pub fn is_over(&mut self, seat: usize, refused: Option<&Refusal>) {
        self.close_link(seat);
        let s = &mut self.seats[seat];
        s.over = true;
        s.place = None;
        self.with_terminal(seat, |terminal, _| terminal.handle_over(refused));
        let (untold, name) = (self.untold(seat), self.seats[seat].name.clone());
        self.check(untold == 0, || {
            format!("the lesson is over for {name}, who is owed {untold} answers")
        });
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

    pub(super) fn ask_clock(&mut self, seat: usize) {
        if let Link::In { conn, heard, .. } = self.seats[seat].link {
            let said = self.now;
            self.seats[seat].link = Link::In { conn, heard, said };
            let ask = ClientFrame::ClockAsk {
                t1: self.seat_now(seat),
            };
            self.send_up(conn, &ask);
        }
    }
}
