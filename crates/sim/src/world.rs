//! One lesson's world: true time, what is on its way, and who is there.

use core::fmt;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};

use fifthpeg_book::{Recalled, WriterEvent};
use fifthpeg_lesson::LessonSetup;
use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::terminal::SoundId;

use crate::act::Act;
use crate::bug::Bug;
use crate::clock::{Clock, START_US};
use crate::dice::Dice;
use crate::parts::{Conn, Disk, Earlier, HostSide, Seat};
use crate::trace::Trace;
use crate::truth::{AnswerKey, Stored, Truth};

/// What is on its way.
#[derive(Debug)]
pub(crate) enum Happening {
    /// A frame reaches the host.
    Up(usize, Vec<u8>),
    /// A frame reaches a terminal.
    Down(usize, Vec<u8>),
    /// A terminal's connection is made, or refused.
    Connected(usize, bool),
    HostSeesEnd(usize),
    TerminalSeesEnd(usize),
    /// The disk is done with what it was writing.
    DiskDone(u32),
    /// The book tells the host something.
    Report(u32, WriterEvent),
    /// The book tells the host who a student is.
    Recalled(u32, StudentId, Result<Option<Recalled>, String>),
    HostBack,
    /// A tone starts at a terminal of that generation.
    Tone(usize, u32, SoundId),
    /// Somebody does something.
    Act(Act),
}

/// Sums over lessons.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Counts {
    /// Calls made.
    pub calls: u64,
    /// Answers that students gave at terminals.
    pub given: u64,
    /// Answers of which students were told what came of them.
    pub told: u64,
    /// Of these, neither marked nor too late: the reason was told.
    pub told_lost: u64,
    /// Answers of which nothing was told though their terminals live.
    pub untold: u64,
    /// Answers that terminals were told are held.
    pub confirmed: u64,
    /// Of these, missing from the book.
    pub lost: u64,
    /// Answers that are in the book more often than they were given.
    pub doubled: u64,
    /// Hosts killed and started again.
    pub crashes: u64,
    /// Connections that ended while somebody wanted them.
    pub cuts: u64,
    /// Answers sent again after a lost connection.
    pub resent: u64,
    /// Starts that were named and compared.
    pub starts: u64,
    /// Response times compared.
    pub times: u64,
    /// Students whom the book knew from earlier lessons.
    pub recalled: u64,
    /// Lessons that went on by themselves after a kill and one key.
    pub went_on: u64,
}

impl core::ops::AddAssign for Counts {
    fn add_assign(&mut self, more: Self) {
        self.calls += more.calls;
        self.given += more.given;
        self.told += more.told;
        self.told_lost += more.told_lost;
        self.untold += more.untold;
        self.confirmed += more.confirmed;
        self.lost += more.lost;
        self.doubled += more.doubled;
        self.crashes += more.crashes;
        self.cuts += more.cuts;
        self.resent += more.resent;
        self.starts += more.starts;
        self.times += more.times;
        self.recalled += more.recalled;
        self.went_on += more.went_on;
    }
}

/// The world of one lesson.
pub(crate) struct World {
    pub now: u64,
    pub dice: Dice,
    pub bug: Option<Bug>,
    pub trace: Trace,
    pub counts: Counts,
    /// The first thing that was not as it must be.
    pub failure: Option<String>,
    order: BinaryHeap<Reverse<(u64, u64)>>,
    happenings: BTreeMap<u64, Happening>,
    next: u64,
    pub setup: LessonSetup,
    pub neck_places: Vec<fifthpeg_core::Position>,
    pub seats: Vec<Seat>,
    pub conns: Vec<Conn>,
    pub host: HostSide,
    pub disk: Disk,
    pub earlier: Earlier,
    pub truth: Truth,
    pub stored: Stored,
    pub confirmed: BTreeMap<AnswerKey, u64>,
    /// Nothing goes wrong any more.
    pub calm: bool,
    /// The moment the lesson began at, on the host's clock.
    pub began: fifthpeg_lesson::Moment,
    /// When the book's writer says what it said last.
    pub disk_says_at: u64,
    /// Nobody gets through until then.
    pub all_cut_off_until: u64,
}

impl World {
    pub fn new(
        seed: u64,
        setup: LessonSetup,
        seats: Vec<Seat>,
        host_clock: Clock,
        disk: Disk,
        bug: Option<Bug>,
        keep_trace: bool,
    ) -> Self {
        let host = HostSide::new(host_clock);
        Self {
            now: START_US,
            dice: Dice::new(seed ^ 0x5eed_fa11),
            bug,
            trace: Trace::new(keep_trace),
            counts: Counts::default(),
            failure: None,
            order: BinaryHeap::new(),
            happenings: BTreeMap::new(),
            next: 0,
            truth: Truth::new(&setup),
            neck_places: fifthpeg_core::Neck::build(setup.rules.neck.clone())
                .map_or_else(|_| Vec::new(), |neck| neck.positions()),
            setup,
            seats,
            conns: Vec::new(),
            host,
            disk,
            // Until a script says that there are any.
            earlier: Earlier::new(seed, false),
            stored: Stored::default(),
            confirmed: BTreeMap::new(),
            calm: false,
            began: fifthpeg_lesson::Moment::default(),
            disk_says_at: 0,
            all_cut_off_until: 0,
        }
    }

    pub fn has(&self, bug: Bug) -> bool {
        self.bug == Some(bug)
    }

    pub fn note(&mut self, who: &str, what: fmt::Arguments<'_>) {
        self.trace.note(self.now - START_US, who, what);
    }

    /// Something is not as it must be.
    pub fn fail(&mut self, what: impl Into<String>) {
        let what = what.into();
        self.note("WRONG", format_args!("{what}"));
        self.failure.get_or_insert(what);
    }

    pub fn check(&mut self, holds: bool, what: impl FnOnce() -> String) {
        if !holds {
            self.fail(what());
        }
    }

    pub fn at(&mut self, us: u64, what: Happening) {
        self.next += 1;
        self.order.push(Reverse((us.max(self.now), self.next)));
        self.happenings.insert(self.next, what);
    }

    /// Lets true time go on until then, with all that falls due.
    pub fn pass_until(&mut self, until: u64) {
        while self.failure.is_none() {
            let coming = self.order.peek().map(|Reverse((t, _))| *t);
            let timer = self.next_timer();
            let next = [coming, timer.map(|(t, _)| t)].into_iter().flatten().min();
            let Some(next) = next.filter(|t| *t <= until) else {
                break;
            };
            self.now = self.now.max(next);
            if coming == Some(next) {
                if let Some(Reverse((_, n))) = self.order.pop()
                    && let Some(what) = self.happenings.remove(&n)
                {
                    self.happen(what);
                }
            } else if let Some((_, whose)) = timer {
                match whose {
                    Timer::Seat(seat) => self.seat_timeout(seat),
                    Timer::Host => self.host_timeout(),
                    Timer::Conn(conn) => self.conn_timeout(conn),
                }
            }
        }
        self.now = self.now.max(until);
    }

    fn next_timer(&self) -> Option<(u64, Timer)> {
        let seats =
            (0..self.seats.len()).filter_map(|i| Some((self.seat_deadline(i)?, Timer::Seat(i))));
        let host = self.host_deadline().map(|t| (t, Timer::Host));
        let conns =
            (0..self.conns.len()).filter_map(|i| Some((self.conn_deadline(i)?, Timer::Conn(i))));
        seats.chain(host).chain(conns).min_by_key(|(t, _)| *t)
    }

    fn happen(&mut self, what: Happening) {
        match what {
            Happening::Up(conn, bytes) => self.reaches_host(conn, &bytes),
            Happening::Down(conn, bytes) => self.reaches_terminal(conn, &bytes),
            Happening::Connected(conn, made) => self.connected(conn, made),
            Happening::HostSeesEnd(conn) => self.host_sees_end(conn),
            Happening::TerminalSeesEnd(conn) => self.terminal_sees_end(conn),
            Happening::DiskDone(life) => self.disk_done(life),
            Happening::Report(life, report) => self.host_hears_book(life, report),
            Happening::Recalled(life, student, said) => self.host_recalls(life, student, said),
            Happening::HostBack => self.host_back(),
            Happening::Tone(seat, program, id) => self.tone_starts(seat, program, id),
            Happening::Act(act) => self.act(act),
        }
    }
}

#[derive(Debug, Clone, Copy)]
enum Timer {
    Seat(usize),
    Host,
    Conn(usize),
}
