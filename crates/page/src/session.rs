//! The page's way into a lesson and back, and its terminal: no clock, no socket.
//! Whoever drives it opens the WebSocket that [`PageSession::wants`] names, hands in
//! what comes and sends what is to go.

mod at_lock;

use core::time::Duration;
use std::collections::VecDeque;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::backoff::{Backoff, KEEP_ALIVE, SILENCE};
use fifthpeg_lesson::message::{Hall, Refusal, SeatKey, ToStudent};
use fifthpeg_lesson::terminal::Terminal;
use fifthpeg_lesson::words::as_sentence;
use fifthpeg_lock::{Fingerprint, Passphrase, Puzzle, SeatSecret, StudentLock};
use fifthpeg_wire::{
    ClientFrame, Hello, HelloReply, HostFrame, WireError, decode_hello_reply, decode_host,
    decode_lock_reply, encode_client, encode_hello,
};

use crate::carrier::Carrier;
use crate::kept::Kept;

/// Which WebSocket of the host's to open.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Carrying {
    /// The one of open lessons.
    Open,
    /// The one for encryption within.
    Locked,
}

/// How it stands with the lesson.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PageStanding {
    /// On the way in, or back.
    Coming,
    /// In the lesson.
    In,
    /// In line at the lock.
    InLine,
    /// The connection is lost or was never made; it is tried again.
    Lost(String),
    /// The lesson is locked: words are wanted, and the last ones were wrong.
    WordsWanted {
        /// Words were given, and are not this lesson's (any more).
        wrong: bool,
    },
    /// Who answers could not prove that it is the host.
    NotTheHost,
    /// It goes on no more, and why.
    Over(String),
}

enum Phase {
    Down,
    Greeting,
    Naming,
    AtLock(Box<StudentLock>),
    Joining,
    In,
}

/// Numbers that are tried at once while the words wait in line, and how often.
const WORK: u64 = 4096;
const WORK_EACH: Duration = Duration::from_millis(100);
/// How long the host may take for each step on the way in.
const STEP_WITHIN: Duration = Duration::from_secs(8);
const PROGRAM: &str = env!("CARGO_PKG_VERSION");

/// One student at a page.
pub struct PageSession {
    pub(crate) terminal: Terminal,
    name: String,
    words: Option<Passphrase>,
    seat: Option<SeatSecret>,
    /// The host that proved itself, whose the seat is.
    host: Option<Fingerprint>,
    asked_with: Option<(SeatKey, Option<Fingerprint>)>,
    way: Carrying,
    carrier: Carrier,
    phase: Phase,
    standing: PageStanding,
    work: Option<(Puzzle, u64, Moment)>,
    out: VecDeque<Vec<u8>>,
    heard: Moment,
    said: Moment,
    since: Moment,
    backoff: Backoff,
    /// When to open a WebSocket again.
    retry: Option<Moment>,
    /// For a projector: no student.
    pub(crate) watches: bool,
    /// What is shown there.
    pub(crate) hall: Option<Box<Hall>>,
}

impl PageSession {
    /// A newcomer, with the words of the link or typed ones.
    pub fn new(name: &str, words: Option<Passphrase>, now: Moment) -> Self {
        Self {
            terminal: Terminal::new(),
            name: name.to_owned(),
            way: if words.is_some() {
                Carrying::Locked
            } else {
                Carrying::Open
            },
            words,
            seat: None,
            host: None,
            asked_with: None,
            carrier: Carrier::Open,
            phase: Phase::Down,
            standing: PageStanding::Coming,
            work: None,
            out: VecDeque::new(),
            heard: now,
            said: now,
            since: now,
            backoff: Backoff::default(),
            retry: Some(now),
            watches: false,
            hall: None,
        }
    }

    /// A page for a projector.
    pub fn hall(words: Option<Passphrase>, now: Moment) -> Self {
        Self {
            watches: true,
            ..Self::new("", words, now)
        }
    }

    /// Who was here before this page was loaded.
    pub(crate) fn coming_back(kept: &Kept, words: Option<Passphrase>, now: Moment) -> Option<Self> {
        let seat = kept.seat()?;
        let host = kept.host();
        let way = if host.is_some() || words.is_some() {
            Carrying::Locked
        } else {
            Carrying::Open
        };
        Some(Self {
            terminal: Terminal::coming_back(SeatKey(seat.key), kept.waiting()),
            seat: Some(seat),
            host,
            way,
            ..Self::new(&kept.name, words, now)
        })
    }

    /// What is to be kept in the browser; nothing before the first welcome, and
    /// nothing any more once it is over.
    pub(crate) fn to_keep(&self) -> Option<Kept> {
        if matches!(self.standing, PageStanding::Over(_)) {
            return None;
        }
        let seat = self.seat?;
        let waiting = self.terminal.waiting_answers();
        Some(Kept::new(&self.name, seat, self.host, waiting))
    }

    /// How it stands.
    pub fn standing(&self) -> &PageStanding {
        &self.standing
    }

    /// The name as given.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The key that the host is known by, in a locked lesson.
    pub fn host(&self) -> Option<Fingerprint> {
        self.host
    }

    /// Whether all that is said is encrypted.
    pub fn is_locked(&self) -> bool {
        self.way == Carrying::Locked
    }

    /// The WebSocket to open or to hold open; `None` if there is to be none.
    pub fn wants(&self, now: Moment) -> Option<Carrying> {
        let down = matches!(self.phase, Phase::Down);
        let due = self.retry.is_some_and(|retry| retry <= now);
        (!down || due).then_some(self.way)
    }

    /// Words typed by the student, while they are wanted.
    pub fn give_words(&mut self, words: Passphrase, now: Moment) {
        self.words = Some(words);
        self.way = Carrying::Locked;
        self.standing = PageStanding::Coming;
        self.retry = Some(now);
    }

    /// The WebSocket is open.
    pub fn opened(&mut self, now: Moment) {
        (self.heard, self.said, self.retry) = (now, now, None);
        self.out.clear();
        let carrier = match self.way {
            Carrying::Open => Ok(Carrier::Open),
            Carrying::Locked => Carrier::sealed(),
        };
        match carrier {
            Ok(carrier) => self.carrier = carrier,
            Err(e) => return self.lost(&e.to_string(), now),
        }
        self.phase = Phase::Greeting;
        self.say(encode_hello(&Hello::ours(PROGRAM)), now);
    }

    /// The WebSocket is closed, or did not open.
    pub fn closed(&mut self, now: Moment) {
        if self.retry.is_none_or(|retry| retry <= now) && self.is_to_be_tried() {
            self.lost("the connection to the host is lost", now);
        }
    }

    fn is_to_be_tried(&self) -> bool {
        !matches!(
            self.standing,
            PageStanding::Over(_) | PageStanding::WordsWanted { .. } | PageStanding::NotTheHost
        )
    }

    /// A message came over the WebSocket.
    pub fn received(&mut self, message: Vec<u8>, now: Moment) {
        if matches!(self.phase, Phase::Down) {
            return;
        }
        self.heard = now;
        match self.carrier.receive(message) {
            Ok((frames, at_once)) => {
                if !at_once.is_empty() {
                    self.out.push_back(at_once);
                }
                for frame in frames {
                    self.frame(&frame, now);
                }
            }
            Err(e) => self.lost(&e.to_string(), now),
        }
        self.drain(now);
    }

    /// The next message to send.
    pub fn poll_out(&mut self) -> Option<Vec<u8>> {
        self.out.pop_front()
    }

    /// When [`PageSession::handle_timeout`] is due.
    pub fn next_deadline(&self) -> Option<Moment> {
        let line = match self.phase {
            Phase::Down => self.retry,
            Phase::In => Some((self.said + KEEP_ALIVE).min(self.heard + SILENCE)),
            Phase::AtLock(_) if self.work.is_some() => self.work.as_ref().map(|work| work.2),
            _ => Some(self.heard + STEP_WITHIN),
        };
        [line, self.terminal.next_deadline()]
            .into_iter()
            .flatten()
            .min()
    }

    /// Time has come to it.
    pub fn handle_timeout(&mut self, now: Moment) {
        self.terminal.handle_timeout(now);
        match self.phase {
            Phase::Down => {}
            Phase::In if self.heard + SILENCE <= now => {
                self.lost("nothing was heard from the host", now);
            }
            Phase::In if self.said + KEEP_ALIVE <= now => self.ask_clock(now),
            Phase::In => {}
            _ if self.work.is_some() => self.work(now),
            _ if self.heard + STEP_WITHIN <= now => self.lost("the host does not answer", now),
            _ => {}
        }
        self.drain(now);
    }

    /// The machine was asleep, and its clock may have stood still.
    pub fn handle_slept(&mut self, now: Moment) {
        self.terminal.handle_slept(now);
        self.drain(now);
        if matches!(self.phase, Phase::Down) && self.retry.is_some() {
            self.retry = Some(now);
        }
    }

    /// Sends on what the terminal has to say.
    pub(crate) fn drain(&mut self, now: Moment) {
        while let Some(message) = self.terminal.poll_message() {
            if matches!(self.phase, Phase::In) {
                self.say(encode_client(&ClientFrame::Lesson(message)), now);
            }
        }
        while self.terminal.poll_clock_ask() {
            if matches!(self.phase, Phase::In) {
                self.ask_clock(now);
            }
        }
    }

    fn ask_clock(&mut self, now: Moment) {
        self.say(encode_client(&ClientFrame::ClockAsk { t1: now }), now);
    }

    fn say(&mut self, frame: Result<Vec<u8>, WireError>, now: Moment) {
        self.said = now;
        let sent = match frame {
            Ok(frame) => self.carrier.send(frame),
            Err(e) => return self.lost(&e.to_string(), now),
        };
        match sent {
            Ok(bytes) if bytes.is_empty() => {}
            Ok(bytes) => self.out.push_back(bytes),
            Err(e) => self.lost(&e.to_string(), now),
        }
    }

    fn down(&mut self, now: Moment) {
        if matches!(self.phase, Phase::In) {
            self.backoff.was_in(now.since(self.since));
            if !self.watches {
                self.terminal.handle_disconnected(now);
            }
        }
        self.phase = Phase::Down;
        self.work = None;
        self.retry = None;
    }

    fn lost(&mut self, why: &str, now: Moment) {
        self.later(why, Duration::ZERO, now);
    }

    fn later(&mut self, why: &str, at_least: Duration, now: Moment) {
        self.down(now);
        let chance = getrandom::u32().unwrap_or(0);
        self.retry = Some(now + at_least + self.backoff.next(chance));
        self.standing = PageStanding::Lost(why.to_owned());
    }

    fn over(&mut self, why: String, now: Moment) {
        self.down(now);
        self.standing = PageStanding::Over(why);
    }

    fn stop(&mut self, standing: PageStanding, now: Moment) {
        self.down(now);
        self.standing = standing;
    }

    fn frame(&mut self, bytes: &[u8], now: Moment) {
        let done = match self.phase {
            Phase::Down => Ok(()),
            Phase::Greeting => decode_hello_reply(bytes).map(|reply| self.greeted(reply, now)),
            Phase::Naming | Phase::AtLock(_) => {
                decode_lock_reply(bytes).map(|reply| self.at_lock(reply, now))
            }
            Phase::Joining | Phase::In => decode_host(bytes).map(|frame| self.told(frame, now)),
        };
        if let Err(e) = done {
            self.lost(&e.to_string(), now);
        }
    }

    fn greeted(&mut self, reply: HelloReply, now: Moment) {
        match reply {
            HelloReply::Ready { .. } if self.way == Carrying::Locked => self.phase = Phase::Naming,
            HelloReply::Ready { .. } => self.join(None, now),
            // From open to locked anyone may lead; the other way nobody.
            HelloReply::Locked { .. } => {
                let standing = PageStanding::WordsWanted { wrong: false };
                self.way = Carrying::Locked;
                self.stop(standing, now);
            }
            HelloReply::Outdated { .. } => self.over(
                "This page is of another version than the host. Load it again from the host."
                    .into(),
                now,
            ),
        }
    }

    fn join(&mut self, host: Option<Fingerprint>, now: Moment) {
        let seat = self.seat.filter(|_| self.host == host);
        let asked = self.asked_with.filter(|(_, at)| *at == host);
        let new_key = match asked {
            Some((key, _)) => key,
            None => {
                let mut bytes = [0; 16];
                if getrandom::fill(&mut bytes).is_err() {
                    return self.lost("this browser gives no random numbers", now);
                }
                SeatKey(u128::from_le_bytes(bytes))
            }
        };
        self.asked_with = Some((new_key, host));
        self.host = host;
        if self.watches {
            self.came_in(now);
            return self.say(encode_client(&ClientFrame::Watch), now);
        }
        self.phase = Phase::Joining;
        let key = seat.map(|seat| SeatKey(seat.key));
        self.say(
            encode_client(&ClientFrame::join(&self.name, key, new_key)),
            now,
        );
    }

    fn came_in(&mut self, now: Moment) {
        self.phase = Phase::In;
        self.since = now;
        self.standing = PageStanding::In;
    }

    fn forget_seat(&mut self, now: Moment) {
        self.seat = None;
        let refused = ToStudent::Refused(Refusal::UnknownSeat);
        self.terminal.handle_message(refused, now);
    }

    fn told(&mut self, frame: HostFrame, now: Moment) {
        let joining = matches!(self.phase, Phase::Joining);
        let message = match frame {
            HostFrame::ClockAnswer { t1, t2, t3 } => {
                self.terminal.handle_clock(t1, t2, t3, now);
                return;
            }
            // A page keeps no key: its address may be another host's next week.
            HostFrame::KeyOffered(_) => {
                return self.say(encode_client(&ClientFrame::KeyAnswer { public: None }), now);
            }
            HostFrame::KeyKept => return,
            HostFrame::Hall(hall) => {
                self.hall = Some(hall);
                return;
            }
            HostFrame::Lesson(message) => message,
        };
        match (&message, joining) {
            (ToStudent::Refused(why), _) if self.watches => {
                return self.over(as_sentence(&why.to_string()), now);
            }
            (ToStudent::Refused(Refusal::UnknownSeat), true) if self.seat.is_some() => {
                self.forget_seat(now);
                self.down(now);
                self.retry = Some(now);
                return;
            }
            (ToStudent::Refused(why), true) => {
                let why = why.clone();
                self.terminal.handle_over(Some(&why));
                return self.over(format!("The lesson did not let you in: {why}."), now);
            }
            (ToStudent::Welcome(welcome), _) => {
                self.seat = Some(SeatSecret {
                    student: welcome.student.0,
                    key: welcome.key.0,
                });
                if joining {
                    self.came_in(now);
                    self.terminal.handle_connected(now);
                }
            }
            _ => {}
        }
        let ended = match &message {
            ToStudent::Ended { removed: true, .. } => {
                Some("The host has taken you out of this lesson.")
            }
            ToStudent::Ended { .. } => Some("The lesson has ended."),
            _ => None,
        };
        self.terminal.handle_message(message, now);
        if let Some(why) = ended {
            self.over(why.to_owned(), now);
        }
    }

    /// The student leaves for good.
    pub fn leave(&mut self, now: Moment) {
        self.drain(now);
        self.phase = Phase::Down;
        self.retry = None;
        self.standing = PageStanding::Over("You have left the lesson.".to_owned());
    }
}
