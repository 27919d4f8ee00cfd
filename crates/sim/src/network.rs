//! Connections: frames on their way, delays, ends that are noticed or not.

use fifthpeg_host::engine::MOST_HELD;
use fifthpeg_wire::{ClientFrame, HostFrame, decode_host, encode_client, encode_host};

use std::collections::VecDeque;

use crate::bug::Bug;
use crate::clock::{MS, SECOND};
use crate::parts::Conn;
use crate::world::{Happening, World};

/// Frames that the network holds for one terminal before the host's queue
/// fills.
const WINDOW: usize = 32;
/// Frames that wait for one student at the host (as the host's own limit).
pub(crate) const QUEUE: usize = MOST_HELD + 64;

impl World {
    pub fn new_conn(&mut self, seat: usize) -> usize {
        self.conns.push(Conn {
            seat,
            program: self.seats[seat].program,
            life: self.host.life,
            host_open: false,
            terminal_open: true,
            up_lost: false,
            down_lost: false,
            last_up: 0,
            last_down: 0,
            opened: self.now,
            heard: self.now,
            student: None,
            queue: VecDeque::new(),
            waits_since: self.now,
            flying: 0,
            leaving: false,
        });
        self.conns.len() - 1
    }

    /// When nothing keeps a seat's frames any more.
    pub fn cut_off_until(&self, seat: usize) -> u64 {
        self.seats[seat].cut_off_until.max(self.all_cut_off_until)
    }

    /// One way's delay, lost and repeated packets included.
    pub fn delay(&mut self, seat: usize, up: bool) -> u64 {
        if self.calm {
            return self.dice.between(200, 2 * MS);
        }
        let s = &self.seats[seat];
        let (least, most) = if self.now < s.far_until {
            (150 * MS, 700 * MS)
        } else if up {
            s.delay_up_us
        } else {
            s.delay_down_us
        };
        let lossy = s.lost_per_mille;
        let mut delay = self.dice.between(least, most);
        while self.dice.chance(lossy) {
            delay += self.dice.between(200 * MS, 600 * MS);
        }
        delay
    }

    /// When a frame sent now arrives; a connection keeps the order.
    fn arrival(&mut self, conn: usize, up: bool) -> u64 {
        let seat = self.conns[conn].seat;
        let delay = self.delay(seat, up);
        let leaves = self.now.max(self.cut_off_until(seat));
        let c = &mut self.conns[conn];
        let last = if up { &mut c.last_up } else { &mut c.last_down };
        *last = (leaves + delay).max(*last);
        *last
    }

    pub fn send_up(&mut self, conn: usize, frame: &ClientFrame) {
        let bytes = match encode_client(frame) {
            Ok(bytes) => bytes,
            Err(e) => return self.fail(format!("a terminal cannot send {frame:?}: {e}")),
        };
        if self.conns[conn].up_lost || !self.conns[conn].terminal_open {
            return;
        }
        let at = self.arrival(conn, true);
        self.at(at, Happening::Up(conn, bytes));
    }

    /// What the host has to say, into the connection's queue; whether there was
    /// room.
    pub fn queue_down(&mut self, conn: usize, frame: &HostFrame) -> bool {
        let bytes = match encode_host(frame) {
            Ok(bytes) => bytes,
            Err(e) => {
                self.fail(format!("the host cannot send {frame:?}: {e}"));
                return true;
            }
        };
        let endless = self.has(Bug::QueuesWithoutEnd);
        let c = &mut self.conns[conn];
        if c.queue.len() >= QUEUE && !endless {
            return false;
        }
        if c.queue.is_empty() {
            c.waits_since = self.now;
        }
        c.queue.push_back(bytes);
        let most = c.queue.len();
        self.check(most <= QUEUE, || {
            format!("{most} frames wait for one student, more than {QUEUE}")
        });
        self.write_down(conn);
        true
    }

    /// Writes what the network takes.
    pub fn write_down(&mut self, conn: usize) {
        while self.conns[conn].flying < WINDOW {
            let Some(bytes) = self.conns[conn].queue.pop_front() else {
                break;
            };
            self.conns[conn].waits_since = self.now;
            self.conns[conn].flying += 1;
            if self.conns[conn].down_lost {
                // It stays in the window until somebody notices.
                continue;
            }
            let at = self.arrival(conn, false);
            self.at(at, Happening::Down(conn, bytes));
        }
        let c = &self.conns[conn];
        if c.leaving && c.queue.is_empty() {
            self.host_closes(conn);
        }
    }

    /// The host is done with a connection; the terminal hears of it after all
    /// that was sent.
    pub fn host_closes(&mut self, conn: usize) {
        if self.conns[conn].host_open {
            self.conns[conn].host_open = false;
            if !self.conns[conn].down_lost {
                let at = self.arrival(conn, false);
                self.at(at, Happening::TerminalSeesEnd(conn));
            }
        }
    }

    /// The host drops a connection with all that waits in it.
    pub fn host_cuts(&mut self, conn: usize) {
        self.conns[conn].queue.clear();
        self.host_closes(conn);
    }

    /// The terminal is done with a connection; the host hears of it after all
    /// that was sent.
    pub fn terminal_closes(&mut self, conn: usize) {
        if self.conns[conn].terminal_open {
            self.conns[conn].terminal_open = false;
            if !self.conns[conn].up_lost {
                let at = self.arrival(conn, true);
                self.at(at, Happening::HostSeesEnd(conn));
            }
        }
    }

    pub fn reaches_terminal(&mut self, conn: usize, bytes: &[u8]) {
        self.conns[conn].flying -= 1;
        if self.conns[conn].host_open {
            self.write_down(conn);
        }
        let c = &self.conns[conn];
        if !c.terminal_open || c.down_lost || self.seats[c.seat].program != c.program {
            return;
        }
        let seat = c.seat;
        let frame = match decode_host(bytes) {
            Ok(frame) => frame,
            Err(e) => return self.fail(format!("a terminal cannot read a frame: {e}")),
        };
        let again = encode_host(&frame);
        self.check(again.as_deref() == Ok(bytes), || {
            format!("{frame:?} is not the same when written again")
        });
        match frame {
            HostFrame::Lesson(message) => self.terminal_hears(seat, conn, message),
            // No lesson of these has class keys.
            HostFrame::KeyOffered(_) | HostFrame::KeyKept | HostFrame::Hall(_) => {}
            HostFrame::ClockAnswer { t1, t2, t3 } => {
                self.terminal_hears_clock(seat, conn, t1, t2, t3);
            }
        }
    }

    /// A connection is cut.
    pub fn cut(&mut self, conn: usize, up: bool, down: bool) {
        self.counts.cuts += 1;
        self.conns[conn].up_lost |= up;
        self.conns[conn].down_lost |= down;
        // Each end may hear of it soon, or find out by the silence.
        if self.dice.chance(500) {
            let at = self.now + self.dice.between(MS, SECOND);
            self.at(at, Happening::TerminalSeesEnd(conn));
        }
        if self.dice.chance(500) {
            let at = self.now + self.dice.between(MS, SECOND);
            self.at(at, Happening::HostSeesEnd(conn));
        }
    }
}
