//! The student's terminal as a state machine: what it knows of the lesson,
//! what it sounds and when, what it tells the host. It reads no clock, sounds
//! nothing and sends nothing itself; a driver does, with the `handle_*` and
//! `poll_*` below. Every [`Moment`] here is on the student's own clock unless
//! it says otherwise.
//!
//! # Driving it
//! - A connection is up: [`Terminal::handle_connected`], then send the join
//!   with [`Terminal::key`], then pass on what comes in.
//! - After every `handle_*`: send each [`Terminal::poll_message`], sound each
//!   [`Terminal::poll_sound`] and report it with
//!   [`Terminal::handle_sounded`] or [`Terminal::handle_not_sounded`], and ask
//!   for the host's clock if [`Terminal::poll_clock_ask`] says so.
//! - At [`Terminal::next_deadline`]: [`Terminal::handle_timeout`].
//!
//! # Response times
//! A response runs from the tone leaving this terminal's output to the answer
//! reaching the program. Its uncertainty is the sum of what the output does
//! not know of its start and of what the keyboard may have added:
//! [`KEYBOARD_ALLOWANCE`]. Keyboards take 11 to 73 ms from finger to program;
//! nothing is subtracted for it, the longest is carried as uncertainty. With
//! the host's speakers the start is the host's, converted, and the uncertainty
//! is the clock's with [`HOST_SPEAKERS_ALLOWANCE`] on top.

mod asking;
mod call;
mod deaf;
mod hands;
mod heard;
mod orders;
mod sound;
mod sounding;
mod view;

use core::time::Duration;
use std::collections::VecDeque;

use fifthpeg_core::Neck;

use crate::Moment;
use crate::clock::ClockEstimate;
use crate::message::{CallId, FromStudent, PlaceKey, Refusal, Rules, ToStudent, Welcome};
use crate::tally::Tally;
use crate::view::CallStage;

use asking::Asking;
pub use asking::{QUICK_ASKS, QUICK_GAP, STEADY_GAP};
use call::{Call, Start};
pub use call::{HOST_SPEAKERS_ALLOWANCE, TRIES_SHOWN};
use deaf::Deafness;
pub use deaf::{AFTERSOUND, LONGEST_DEAF, longest_tone};
use hands::Hands;
pub use hands::{HandsFree, MOST_TIMES, WITHDRAW_LIMIT};
pub use heard::{Doubt, HeardNote, HeardPluck, Listening};
pub use orders::StudentOrder;
pub use sound::{SoundId, SoundKind, SoundOrder};
pub use view::{TerminalCall, TerminalView, TerminalWelcome};

/// The longest a keyboard takes from finger to program (design page: 11 to
/// 73 ms).
pub const KEYBOARD_ALLOWANCE: Duration = Duration::from_millis(73);

/// How long a call's first sound waits for a first clock exchange before it
/// sounds without one.
pub const CLOCK_PATIENCE: Duration = Duration::from_millis(200);

/// No start is taken that lies further ahead; a host that names one is wrong,
/// and the tone sounds at once.
pub const FURTHEST_START: Duration = Duration::from_secs(10);

/// Messages to the host that may wait while the connection is lost, beside
/// the answers, which always wait.
const UNSENT_KEPT: usize = 64;

/// A student's terminal.
#[derive(Debug, Clone, Default)]
pub struct Terminal {
    clock: ClockEstimate,
    asking: Asking,
    link_up: bool,
    /// Welcomed over the connection that is up now.
    joined: bool,
    key: Option<PlaceKey>,
    welcome: Option<TerminalWelcome>,
    neck: Option<Neck>,
    call: Option<Call>,
    /// The open call's first sound waits for a clock exchange until then.
    awaiting_clock: Option<Moment>,
    tally: Tally,
    turn: Option<(String, bool)>,
    ended: bool,
    last_refusal: Option<Refusal>,
    refusals: u32,
    outbox: VecDeque<FromStudent>,
    unsent: VecDeque<FromStudent>,
    sounds: VecDeque<SoundOrder>,
    next_sound: u64,
    /// How the instrument is listened to, if it is.
    hands_free: Option<HandsFree>,
    hands: Hands,
    deaf: Deafness,
    last_heard: Option<HeardPluck>,
    /// The latest moment told, up to which everything due has been looked at.
    looked: Moment,
    /// Who left a lesson of friends last, and how many have.
    friend_left: Option<String>,
    friends_left: u32,
    removed: bool,
}

impl Terminal {
    /// A terminal that is in no lesson yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// A connection to a host is up; the join is the driver's to send. Asks
    /// for the host's clock at once, since another host process has another
    /// clock.
    pub fn handle_connected(&mut self, now: Moment) {
        self.link_up = true;
        self.joined = false;
        self.clock = ClockEstimate::new();
        self.asking.connected(now);
        self.outbox.clear();
    }

    /// The connection is gone. What is known of the lesson is kept, and
    /// answers given meanwhile wait.
    pub fn handle_disconnected(&mut self, _now: Moment) {
        self.link_up = false;
        self.joined = false;
        self.asking.disconnected();
        self.outbox.clear();
        if let Some(call) = &mut self.call {
            call.live = false;
        }
    }

    /// One clock exchange: sent at `t1`, received at `t4` (student clock);
    /// received at `t2`, answered at `t3` (host clock). One that makes no
    /// sense is left out.
    pub fn handle_clock(&mut self, t1: Moment, t2: Moment, t3: Moment, t4: Moment) {
        if self.clock.add(t1, t2, t3, t4).is_ok() && self.awaiting_clock.take().is_some() {
            self.order_first_sound(t4);
        }
    }

    /// Time has come to [`Terminal::next_deadline`].
    pub fn handle_timeout(&mut self, now: Moment) {
        self.asking.timeout(now);
        if self.awaiting_clock.is_some_and(|until| until <= now) {
            self.awaiting_clock = None;
            self.order_first_sound(now);
        }
        self.looked = self.looked.max(now);
        if let Some(settings) = self.hands_free {
            self.move_hands(settings, now);
        }
    }

    /// The driver reports when a tone really started or will start
    /// (`started`), how far that may be off, and how long it `lasts`. A tone
    /// that nobody can hear is [`Terminal::handle_silent`] instead.
    pub fn handle_sounded(
        &mut self,
        id: SoundId,
        started: Moment,
        uncertainty: Duration,
        lasts: Duration,
    ) {
        self.deaf.sounded(id, started, uncertainty, lasts);
        let Some(call) = self.call.as_mut().filter(|c| c.first_sound == Some(id)) else {
            return;
        };
        call.start = Start::Here {
            at: started,
            uncertainty,
        };
        if !call.sounded_told && !call.you_call {
            call.sounded_told = true;
            let message = FromStudent::Sounded { call: call.id };
            self.send(message);
        }
    }

    /// The driver reports that its output took a tone and makes no sound: nobody's
    /// hearing started, and nothing keeps this terminal from listening.
    pub fn handle_silent(&mut self, id: SoundId) {
        self.deaf.silent(id);
    }

    /// The driver reports that a tone could not be sounded. If it was to be the
    /// first hearing, the next one is the first in its place.
    pub fn handle_not_sounded(&mut self, id: SoundId) {
        self.deaf.silent(id);
        if let Some(call) = self.call.as_mut().filter(|c| c.first_sound == Some(id)) {
            call.first_sound = None;
        }
    }

    /// Takes in what the host says, arrived at `now`.
    pub fn handle_message(&mut self, message: ToStudent, now: Moment) {
        match message {
            ToStudent::Welcome(welcome) => self.welcomed(*welcome),
            ToStudent::Rules(rules) => self.take_rules(*rules),
            ToStudent::Call(notice) => self.called(&notice, now),
            ToStudent::HearAgain { call, start } => self.heard_again(call, start, now),
            ToStudent::Marked {
                call,
                serial,
                mark,
                tally,
            } => {
                self.tally = tally;
                if let Some(call) = self.call_of(call) {
                    call.mark_answer(serial, mark);
                }
            }
            ToStudent::Reveal {
                call,
                pitch,
                places,
                marks,
            } => {
                self.hands_down();
                let call = self.revealed_call(call);
                let away = !call.live;
                call.live = true;
                call.stage = CallStage::Revealed;
                call.revealed = Some((pitch, places));
                for (serial, mark) in marks {
                    call.mark_answer(serial, mark);
                }
                self.awaiting_clock = None;
                if away {
                    self.answer_again();
                }
            }
            ToStudent::Closed { call, tally } => {
                self.tally = tally;
                if self.call_of(call).is_some() {
                    self.hands_down();
                }
                if let Some(call) = self.call_of(call) {
                    let away = !call.live;
                    call.live = true;
                    call.stage = CallStage::Closed;
                    self.awaiting_clock = None;
                    if away {
                        self.answer_again();
                    }
                }
            }
            ToStudent::Turn { caller, yours } => {
                // What was heard before is not offered for calling.
                self.last_heard = None;
                self.turn = Some((caller, yours));
            }
            ToStudent::Progress { call, students } => {
                if let Some(call) = self.call_of(call) {
                    call.progress = students;
                }
            }
            ToStudent::Refused(refusal) => self.refused(refusal),
            ToStudent::Ended { tally, removed } => {
                self.hands_down();
                self.tally = tally;
                self.removed = removed;
                self.ended = true;
                self.awaiting_clock = None;
                if let Some(call) = &mut self.call {
                    call.stage = CallStage::Closed;
                }
            }
            ToStudent::HostSounds { call, start } => {
                if self.call_of(call).is_some() {
                    self.sounds_in_the_room(start, now);
                }
            }
            ToStudent::Sung { call, sung } => {
                if let Some(call) = self.call_of(call) {
                    call.sung = Some(sung);
                }
            }
            ToStudent::FriendLeft { name } => {
                self.friend_left = Some(name);
                self.friends_left = self.friends_left.wrapping_add(1);
            }
        }
    }

    /// The next message to the host.
    pub fn poll_message(&mut self) -> Option<FromStudent> {
        self.outbox.pop_front()
    }

    /// The next tone to sound.
    pub fn poll_sound(&mut self) -> Option<SoundOrder> {
        self.sounds.pop_front()
    }

    /// Whether to ask for the host's clock now; true once for each asking.
    pub fn poll_clock_ask(&mut self) -> bool {
        self.asking.poll()
    }

    /// When [`Terminal::handle_timeout`] is due next.
    pub fn next_deadline(&self) -> Option<Moment> {
        [
            self.asking.deadline(),
            self.awaiting_clock,
            self.hands_deadline(),
        ]
        .into_iter()
        .flatten()
        .min()
    }

    /// What to join with to get the old place back; `None` before the first
    /// welcome, or when the host no longer knows it.
    pub fn key(&self) -> Option<PlaceKey> {
        self.key
    }

    /// What an ear needs to know of the instrument: the lesson's neck, and the
    /// frequency of its A4 in hertz.
    pub fn tuning(&self) -> Option<(&Neck, f64)> {
        Some((self.neck.as_ref()?, self.welcome.as_ref()?.rules.a4_hz))
    }

    /// Whether a sung note would be taken just now: the lesson invites to sing,
    /// and a call is open that this student answers.
    pub fn may_sing(&self) -> bool {
        self.rules().is_ok_and(|r| r.sing_first) && self.hands_may_answer()
    }

    /// The estimate of the host's clock.
    pub fn clock(&self) -> &ClockEstimate {
        &self.clock
    }

    /// The lesson as the student may see it at `now`.
    pub fn view(&self, now: Moment) -> TerminalView {
        TerminalView {
            connected: self.joined,
            welcome: self.welcome.clone(),
            neck: self.neck.clone(),
            call: self.call.as_ref().map(|c| TerminalCall {
                running: self.running(now),
                ..c.view(&self.clock)
            }),
            tally: self.tally,
            turn: self.turn.clone(),
            ended: self.ended,
            removed: self.removed,
            listening: self.listening(now),
            heard: self.last_heard,
            offered: self.offered(),
            friend_left: self.friend_left.clone(),
            friends_left: self.friends_left,
            last_refusal: self.last_refusal.clone(),
            refusals: self.refusals,
            clock_uncertainty: self.clock.uncertainty(now),
        }
    }

    fn call_of(&mut self, id: CallId) -> Option<&mut Call> {
        self.call.as_mut().filter(|c| c.id == id)
    }

    fn welcomed(&mut self, welcome: Welcome) {
        let same_place = self.key == Some(welcome.key);
        self.key = Some(welcome.key);
        self.joined = true;
        self.ended = false;
        self.removed = false;
        self.turn = None;
        self.tally = welcome.tally;
        self.neck = Neck::build(welcome.rules.neck.clone()).ok();
        self.welcome = Some(TerminalWelcome {
            student: welcome.student,
            name: welcome.name,
            rules: welcome.rules,
        });
        if same_place {
            // Over, unless the host names it again right after this.
            if let Some(call) = &mut self.call {
                call.stage = CallStage::Closed;
            }
        } else {
            // Another lesson, or another seat in it: its calls count afresh.
            self.hands.clear();
            self.last_heard = None;
            self.call = None;
            self.unsent.clear();
        }
    }

    fn take_rules(&mut self, rules: Rules) {
        if self
            .welcome
            .as_ref()
            .is_none_or(|w| w.rules.neck != rules.neck)
        {
            self.neck = Neck::build(rules.neck.clone()).ok();
        }
        if let Some(welcome) = &mut self.welcome {
            welcome.rules = rules;
        }
    }

    /// The call a reveal speaks of; a new one for who joins only now.
    fn revealed_call(&mut self, id: CallId) -> &mut Call {
        let known = self.call.take().filter(|c| c.id == id);
        self.call
            .insert(known.unwrap_or_else(|| Call::only_revealed(id)))
    }

    fn refused(&mut self, refusal: Refusal) {
        match refusal {
            Refusal::UnknownPlace => self.key = None,
            Refusal::TooLate { call, serial } => {
                if let Some(call) = self.call_of(call) {
                    call.drop_answer(serial);
                }
            }
            // Only an answer is refused for these, and answers are taken in
            // order: the oldest without a mark is the one.
            Refusal::TooManyAnswers(_)
            | Refusal::FoundAlready
            | Refusal::PlaceNeeded
            | Refusal::OctaveNeeded => {
                if let Some(call) = &mut self.call {
                    call.drop_refused_answer();
                }
            }
            _ => {}
        }
        self.refusals = self.refusals.wrapping_add(1);
        self.last_refusal = Some(refusal);
    }
}
