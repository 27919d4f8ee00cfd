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
//! - What happened, for lines and notices: each [`Terminal::poll_event`].
//! - At [`Terminal::next_deadline`]: [`Terminal::handle_timeout`].
//! - With a microphone: [`Terminal::set_hands_free`], an ear that follows
//!   [`Terminal::tuning`] and [`Terminal::may_sing`], and each of its reports to
//!   [`Terminal::handle_heard`].
//!
//! # Response times
//! A response runs from the tone leaving this terminal's output to the answer
//! reaching the program. Its uncertainty is the sum of what the output does
//! not know of its start and of what the keyboard may have added:
//! [`KEYBOARD_ALLOWANCE`]. Keyboards take 11 to 73 ms from finger to program;
//! nothing is subtracted for it, the longest is carried as uncertainty. With
//! the host's speakers the start is the host's, converted, and the uncertainty
//! is the clock's with [`HOST_SPEAKERS_ALLOWANCE`] on top. An answer on the
//! instrument runs to the onset of its last pluck, and carries what the ear does
//! not know of that in place of the keyboard's.

mod asking;
mod call;
mod doubles;
mod heard;
mod instrument_input;
mod kept;
mod messages;
mod mute_windows;
mod news;
mod orders;
mod pluck_runs;
mod sound;
mod sounding;
mod view;

use core::time::Duration;
use std::collections::VecDeque;

use fifthpeg_core::Neck;

use crate::Moment;
use crate::clock::ClockEstimate;
use crate::message::{AnswerNotice, FromStudent, Refusal, Rules, SeatKey};
use crate::tally::Tally;
use crate::view::CallStage;

use asking::Asking;
pub use asking::{QUICK_ASKS, QUICK_GAP, STEADY_GAP};
use call::{CallStart, HeldCall};
pub use call::{HOST_SPEAKERS_ALLOWANCE, TRIES_SHOWN};
pub use doubles::Doubles;
pub use heard::{Doubt, HeardNote, HeardPluck, Listening, Uncounted};
pub use kept::ANSWERS_KEPT;
use kept::{KeptAnswers, Told};
use mute_windows::MuteWindows;
pub use mute_windows::{AFTERSOUND, LONGEST_MUTE, OTHERS_ALLOWANCE, longest_tone};
pub use news::{AnswerLost, AnswerOutcome, Ending, TerminalEvent};
pub use orders::StudentOrder;
use pluck_runs::PluckRuns;
pub use pluck_runs::{HandsFree, MOST_TIMES, WITHDRAW_LIMIT, WORD_LIMIT};
pub use sound::{SoundId, SoundKind, SoundOrder};
pub use view::{TerminalCall, TerminalView, TerminalWelcome};

/// The longest a keyboard takes from finger to program (design page: 11 to
/// 73 ms).
pub const KEYBOARD_ALLOWANCE: Duration = Duration::from_millis(73);

/// How long a call's first sound waits for a first clock exchange before it
/// sounds without one.
pub const CLOCK_PATIENCE: Duration = Duration::from_millis(200);

/// So long before its start a tone is ordered, however little is known of the
/// host's clock: outputs keep some hundredths of a second filled ahead, and a
/// tone has to be made.
pub const OUTPUT_LEAD: Duration = Duration::from_millis(150);

/// No start is taken that lies further ahead; a host that names one is wrong,
/// and the tone sounds at once.
pub const FURTHEST_START: Duration = Duration::from_secs(10);

/// Messages to the host that may wait while the connection is lost, beside
/// the answers, which have room of their own ([`ANSWERS_KEPT`]).
pub const UNSENT_KEPT: usize = 64;

/// A student's terminal.
#[derive(Debug, Clone, Default)]
pub struct Terminal {
    clock: ClockEstimate,
    asking: Asking,
    link_up: bool,
    /// Welcomed over the connection that is up now.
    joined: bool,
    key: Option<SeatKey>,
    welcome: Option<TerminalWelcome>,
    neck: Option<Neck>,
    call: Option<HeldCall>,
    /// Answers that the host has not spoken of yet.
    kept: KeptAnswers,
    /// Those whose marks were told last.
    told: Told,
    /// What happened and was not taken yet.
    news: VecDeque<TerminalEvent>,
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
    pluck_runs: PluckRuns,
    mute_windows: MuteWindows,
    last_heard: Option<HeardPluck>,
    uncounted: Option<Uncounted>,
    /// The latest moment told, up to which everything due has been looked at.
    looked: Moment,
    removed: bool,
}

impl Terminal {
    /// A terminal that is in no lesson yet.
    pub fn new() -> Self {
        Self::default()
    }

    /// A terminal that had this seat before its program was ended, and held these
    /// answers without a word of the host, each with where its call starts
    /// ([`Terminal::waiting_answers`]).
    pub fn coming_back(
        key: SeatKey,
        waiting: impl IntoIterator<Item = (AnswerNotice, Option<Moment>)>,
    ) -> Self {
        Self {
            key: Some(key),
            kept: KeptAnswers::kept_before(waiting),
            ..Self::default()
        }
    }

    /// Answers that wait for the host's word, to be kept for
    /// [`Terminal::coming_back`].
    pub fn waiting_answers(&self) -> impl Iterator<Item = (AnswerNotice, Option<Moment>)> + '_ {
        self.kept.all()
    }

    /// A connection to a host is up; the join is the driver's to send. Asks
    /// for the host's clock at once, since another host process has another
    /// clock.
    pub fn handle_connected(&mut self, now: Moment) {
        self.link_up = true;
        self.joined = false;
        self.kept.send_again();
        self.clock = ClockEstimate::new();
        self.asking.connected(now);
        self.outbox.clear();
    }

    /// The connection is gone. What is known of the lesson is kept, and
    /// answers given meanwhile wait.
    pub fn handle_disconnected(&mut self, _now: Moment) {
        self.link_up = false;
        self.joined = false;
        self.kept.send_again();
        self.asking.disconnected();
        self.outbox.clear();
        if let Some(call) = &mut self.call {
            call.keep_start(&self.clock);
            call.live = false;
        }
    }

    /// The machine was asleep: this terminal's clock may have stood still, while
    /// the host's went on. Asks for the host's clock anew; an answer to the open
    /// call is not timed any more.
    pub fn handle_slept(&mut self, now: Moment) {
        self.clock = ClockEstimate::new();
        if self.link_up {
            self.asking.connected(now);
        }
        if let Some(call) = &mut self.call {
            call.forget_start();
        }
    }

    /// One clock exchange: sent at `t1`, received at `t4` (student clock);
    /// received at `t2`, answered at `t3` (host clock). One that makes no
    /// sense is left out.
    pub fn handle_clock(&mut self, t1: Moment, t2: Moment, t3: Moment, t4: Moment) {
        if self.clock.add(t1, t2, t3, t4).is_ok() && self.awaiting_clock.take().is_some() {
            self.order_or_await_clock(t4);
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
        self.mute_windows.sounded(id, started, uncertainty, lasts);
        let Some(call) = self.call.as_mut().filter(|c| c.first_sound == Some(id)) else {
            return;
        };
        call.start = CallStart::Here {
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
        self.mute_windows.silent(id);
        self.tell_not_sounded(id);
    }

    /// Of a call's first hearing the host is told, so that its list shows who
    /// hears nothing.
    fn tell_not_sounded(&mut self, id: SoundId) {
        let first = |call: &&HeldCall| call.first_sound == Some(id) && !call.you_call;
        if let Some(call) = self.call.as_ref().filter(first).map(|call| call.id) {
            self.send(FromStudent::NotSounded { call });
        }
    }

    /// The driver reports that a tone could not be sounded. If it was to be the
    /// first hearing, the next one is the first in its place.
    pub fn handle_not_sounded(&mut self, id: SoundId) {
        self.mute_windows.silent(id);
        self.tell_not_sounded(id);
        if let Some(call) = self.call.as_mut().filter(|c| c.first_sound == Some(id)) {
            call.first_sound = None;
        }
    }

    /// Nothing more goes to or comes from the host: the lesson is over for this
    /// terminal, or did not let it in again, which the host `refused` with a
    /// reason. What it still waits for is lost.
    pub fn handle_over(&mut self, refused: Option<&Refusal>) {
        self.ended = true;
        self.removed |= refused == Some(&Refusal::TakenOut);
        let lost = self.kept.take_all();
        let why = if self.removed {
            AnswerLost::TakenOut
        } else {
            AnswerLost::Over
        };
        self.tell_lost(lost, why);
    }

    /// The next thing that happened, for lines and notices. Each is kept until it
    /// is taken.
    pub fn poll_event(&mut self) -> Option<TerminalEvent> {
        self.news.pop_front()
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
            self.listening_deadline(),
        ]
        .into_iter()
        .flatten()
        .min()
    }

    /// What to join with to get the old seat back; `None` before the first
    /// welcome, or when the host no longer knows it.
    pub fn key(&self) -> Option<SeatKey> {
        self.key
    }

    /// The rules and the neck, once they are known.
    fn rules_and_neck(&self) -> Option<(&Rules, &Neck)> {
        Some((&self.welcome.as_ref()?.rules, self.neck.as_ref()?))
    }

    /// What an ear needs to know of the instrument: the lesson's neck, and the
    /// frequency of its A4 in hertz.
    pub fn tuning(&self) -> Option<(&Neck, f64)> {
        let (rules, neck) = self.rules_and_neck()?;
        Some((neck, rules.a4_hz))
    }

    /// Whether a sung note would be taken just now: the lesson invites to sing,
    /// and a call is open that this student answers.
    pub fn may_sing(&self) -> bool {
        self.rules().is_ok_and(|r| r.sing_first) && self.instrument_may_answer()
    }

    /// The estimate of the host's clock.
    pub fn clock(&self) -> &ClockEstimate {
        &self.clock
    }

    /// The tally with a call that is shown and not closed yet: the host counts it
    /// when it closes.
    fn tally_shown(&self) -> Tally {
        let missed = self
            .call
            .as_ref()
            .is_some_and(|call| call.stage == CallStage::Revealed && !call.found && !call.you_call);
        Tally {
            calls: self.tally.calls + u32::from(missed && !self.ended),
            ..self.tally
        }
    }

    /// The lesson as the student may see it at `now`.
    pub fn view(&self, now: Moment) -> TerminalView {
        TerminalView {
            connected: self.joined,
            welcome: self.welcome.clone(),
            neck: self.neck.clone(),
            call: self.call.as_ref().map(|c| TerminalCall {
                running: self.running(now),
                hint: self
                    .rules_and_neck()
                    .and_then(|(rules, neck)| c.last_hint(rules, neck)),
                ..c.view(&self.clock)
            }),
            owed: self.kept.shown(),
            tally: self.tally_shown(),
            turn: self.turn.clone(),
            ended: self.ended,
            removed: self.removed,
            listening: self.listening(now),
            heard: self.last_heard,
            uncounted: self.uncounted,
            offered: self.offered(),
            last_refusal: self.last_refusal.clone(),
            refusals: self.refusals,
            clock_uncertainty: self.clock.uncertainty(now),
        }
    }
}
