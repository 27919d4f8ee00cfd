//! What is heard from the instrument, and what it means in the lesson: tries,
//! answers, an offered call, a sung note. When plucks are an answer is decided
//! in `pluck_runs`, when not to listen in `mute_windows`.
//!
//! # Times
//! The response time of a row runs to the onset of its last pluck. Its
//! uncertainty is what the output does not know of the tone's start and what
//! the ear does not know of the onset; nothing is added for a keyboard. Where
//! the exact place is marked, the place is asked for afterwards, and the time
//! stays that of the pluck.
//!
//! # What can go wrong on the way
//! - The connection is lost: tries and answers wait, like those of the screen.
//! - The note is shown or the call closed before a row is sure: it does not
//!   count, and the student is told. So does an answer on its way to the host.
//! - The note has been found: more plucks are tries, and answer nothing.
//! - A note that this neck has nowhere: mostly it is a voice, now and then a
//!   string far out of tune. It is no try, and does not answer; two in a row
//!   are told. Where any octave is right, it counts: the instrument may reach
//!   further than the neck of the lesson.

use core::time::Duration;
use fifthpeg_core::{Pitch, Position, Reach, Reference, cents_between};

use super::call::{HeldCall, PlaceWanted};
use super::heard::{Doubt, HeardNote, HeardPluck, Listening, Uncounted};
use super::pluck_runs::{Commit, HandsFree, Pluck, PluckRuns, WITHDRAW_LIMIT, WORD_LIMIT, Word};
use super::{FURTHEST_START, KEYBOARD_ALLOWANCE, Terminal, TerminalEvent};
use crate::Moment;
use crate::marking::{Marking, may_be_played, places_sounding};
use crate::message::{Answer, FromStudent, Mode, Refusal, Source};
use crate::singing::SUNG_RANGE_HZ;
use crate::view::CallStage;

/// How far a voice is believed to have moved, in cents: what goes to the host.
const MOST_SPREAD_CENTS: f32 = 1200.0;

/// How far the beginning of a sung note and an onset heard in it may lie apart.
const VOICE_BEGINS_WITHIN: Duration = Duration::from_millis(200);

impl Terminal {
    /// Says whether and how the instrument is listened to; `None` without a
    /// microphone.
    ///
    /// A microphone that is lost takes nothing back any more: an answer by a key
    /// that only waited to be sure is given. A row that waited to hear whether it may
    /// answer is not, and that is told, as is a key's answer where the connection is
    /// lost as well.
    pub fn set_hands_free(&mut self, settings: Option<HandsFree>) {
        if let (None, Some(before)) = (settings, self.hands_free) {
            let row_waits = self.pluck_runs.row_waits(before);
            self.pluck_runs.all_sure();
            self.move_hands(before, self.looked);
            if (row_waits || self.pluck_runs.is_waiting(before))
                && self.call.as_ref().is_some_and(|c| !c.found)
            {
                self.refuse_here(Refusal::HeardWithdrawn);
            }
        }
        self.hands_free = settings;
        if settings.is_none() {
            self.pluck_runs.clear();
            self.last_heard = None;
            self.uncounted = None;
        }
    }

    /// What the ear reports, at `now`. Reports come in the order in which the
    /// ear makes them; the onsets they tell of lie a little back.
    ///
    /// Left out is what was played before the call sounded, and what may be a
    /// tone of the lesson itself.
    pub fn handle_heard(&mut self, heard: HeardNote, now: Moment) {
        let Some(settings) = self.hands_free else {
            return;
        };
        let known = self.last_heard.map(|h| h.id);
        match heard {
            HeardNote::Pluck {
                id,
                pitch,
                cents,
                at,
                uncertainty,
            } => {
                if self.deaf_between(at, uncertainty, Duration::ZERO) {
                    self.pluck_runs.break_off(at, settings);
                    return;
                }
                self.last_heard = Some(HeardPluck {
                    id,
                    pitch,
                    cents,
                    settled: false,
                    at,
                });
                if self.counts_from().is_some_and(|from| at >= from) {
                    let pluck = Pluck {
                        id,
                        pitch,
                        at,
                        uncertainty,
                        sure_from: now + WITHDRAW_LIMIT,
                        word_by: now + WORD_LIMIT,
                    };
                    self.pluck_runs.pluck(pluck, settings);
                }
            }
            HeardNote::Settled { id, cents, .. } => {
                self.pluck_runs.settled(id, now);
                if let Some(last) = self.last_heard.as_mut().filter(|h| h.id == id) {
                    last.cents = cents;
                    last.settled = true;
                }
            }
            HeardNote::MayAnswer { id } => {
                if self.pluck_runs.told(id, Word::May, now).is_some() {
                    self.uncounted = None;
                }
            }
            HeardNote::MayNotAnswer { id, why } => self.not_counted(id, why, now),
            HeardNote::Withdrawn { id, why } => {
                if self.pluck_runs.withdrawn(id, why == Doubt::SeveralNotes) {
                    self.refuse_here(Refusal::HeardWithdrawn);
                }
                self.last_heard.take_if(|h| h.id == id);
            }
            HeardNote::Unsure { at, why } => {
                if why == Doubt::SeveralNotes {
                    self.pluck_runs.break_off(at, settings);
                }
            }
            HeardNote::Sung {
                frequency_hz,
                spread_cents,
                at,
                lasted,
            } => {
                self.was_a_voice(frequency_hz, at);
                if !self.deaf_between(at, Duration::ZERO, lasted) {
                    self.sung(frequency_hz, spread_cents, at);
                }
            }
        }
        // A note that answers at once has been heard first.
        let heard = self.last_heard.filter(|h| Some(h.id) != known);
        if let Some(heard) = heard {
            let running = self.running(now);
            self.happened(TerminalEvent::Plucked {
                heard,
                running: running.and_then(|(pitch, n)| (pitch == heard.pitch).then_some(n)),
                offered: self.offered().is_some(),
                off_neck: !self.may_be_played(heard.pitch),
            });
        }
        self.move_hands(settings, now);
    }

    /// A pluck may not answer: a player who takes it for one is told.
    fn not_counted(&mut self, id: u64, why: Doubt, now: Moment) {
        let played = why.is_pluck_like();
        let told = self.pluck_runs.told(id, Word::MayNot { played }, now);
        let Some(pitch) = told.filter(|_| played) else {
            return;
        };
        let before = self.uncounted.filter(|u| u.pitch == pitch);
        let uncounted = Uncounted {
            id,
            pitch,
            why,
            in_a_row: before.map_or(1, |u| u.in_a_row.saturating_add(1)),
        };
        self.uncounted = Some(uncounted);
        let open = self.call.as_ref().is_some_and(|c| !c.found);
        if open && self.may_be_played(pitch) {
            self.happened(TerminalEvent::NotCounted(uncounted));
        }
    }

    /// Sends the tries and answers on the instrument that have become sure.
    pub(super) fn move_hands(&mut self, settings: HandsFree, now: Moment) {
        // Between a lost connection and the host naming the call again nothing
        // is decided.
        if !self.instrument_may_answer() {
            return;
        }
        self.pluck_runs.give_up(now);
        while let Some(pluck) = self.pluck_runs.next_try(now) {
            if !self.may_be_played(pluck.pitch) {
                continue;
            }
            let at = Answer::Pitch(pluck.pitch);
            if let Some(call) = &mut self.call {
                call.keep_try(at);
                self.tally.tries += 1;
                let message = FromStudent::Try {
                    call: call.id,
                    at,
                    source: Source::Instrument,
                };
                self.send(message);
            }
        }
        while let Some(commit) = self.pluck_runs.take(settings, now) {
            self.answer_played(commit);
        }
    }

    fn answer_played(&mut self, commit: Commit) {
        self.uncounted = None;
        let Ok(marking) = self.rules().map(|r| r.marking) else {
            return;
        };
        let Some(call) = self.call.as_ref().filter(|c| !c.found) else {
            // More plucks of a note found already are playing.
            return;
        };
        let off = commit.onset_uncertainty.unwrap_or(KEYBOARD_ALLOWANCE);
        let (response, uncertainty) = call.response(commit.at, &self.clock, off);
        if !self.may_be_played(commit.pitch) {
            self.refuse_here(Refusal::HeardOffNeck);
            return;
        }
        if marking != Marking::ExactPlace {
            let answer = Answer::Pitch(commit.pitch);
            self.give(answer, Source::Instrument, response, uncertainty);
            return;
        }
        let places = self
            .neck
            .as_ref()
            .map_or_else(Vec::new, |n| places_sounding(n, commit.pitch));
        match places[..] {
            [] => self.refuse_here(Refusal::HeardOffNeck),
            // It can have been played nowhere else.
            [only] => {
                let answer = Answer::Place(only);
                self.give(answer, Source::Instrument, response, uncertainty);
            }
            _ => {
                let pitch = commit.pitch;
                if let Some(call) = &mut self.call {
                    call.place_wanted = Some(PlaceWanted {
                        pitch,
                        places: places.clone(),
                        response,
                        uncertainty,
                    });
                    self.happened(TerminalEvent::PlaceWanted { pitch, places });
                }
            }
        }
    }

    /// Whether a note heard can be meant for the lesson's neck.
    fn may_be_played(&self, pitch: Pitch) -> bool {
        let rules = self.rules().ok().zip(self.neck.as_ref());
        rules.is_none_or(|(rules, neck)| may_be_played(rules.marking, neck, pitch))
    }

    /// A key or foot switch commits the pluck heard last.
    pub(super) fn answer_heard(&mut self, now: Moment) -> Result<(), Refusal> {
        let settings = self.hands_free.ok_or(Refusal::NotListening)?;
        self.may_answer()?;
        self.pluck_runs.press(settings, now)?;
        self.move_hands(settings, now);
        Ok(())
    }

    /// Where the pitch heard was played. The time is that of the pluck: the
    /// note was found then, and naming the place is writing it down.
    pub(super) fn answer_place(&mut self, place: Position) -> Result<(), Refusal> {
        let call = self.may_answer()?;
        let wanted = call.place_wanted.as_ref().ok_or(Refusal::NothingHeard)?;
        if !wanted.places.contains(&place) {
            let neck = self.neck.as_ref().ok_or(Refusal::NotConnected)?;
            neck.pitch_at(place).ok_or(Refusal::NoSuchPlace(place))?;
            return Err(Refusal::OtherPitchThanHeard(wanted.pitch));
        }
        let (response, uncertainty) = (wanted.response, wanted.uncertainty);
        let answer = Answer::Place(place);
        self.give(answer, Source::Instrument, response, uncertainty);
        Ok(())
    }

    /// Calls the pitch heard last, in a lesson of friends.
    pub(super) fn call_heard(&mut self) -> Result<(), Refusal> {
        self.hands_free.ok_or(Refusal::NotListening)?;
        self.may_pick()?;
        let heard = self.last_heard.ok_or(Refusal::NothingHeard)?;
        // The host would refuse it as well; here it is refused at once.
        let reach = self.neck.as_ref().zip(self.rules().ok());
        let reach = reach.and_then(|(neck, rules)| Reach::resolve(neck, &rules.reach).ok());
        if reach.is_some_and(|reach| !reach.contains_pitch(heard.pitch)) {
            return Err(Refusal::OutsideReach);
        }
        self.pick(Some(Answer::Pitch(heard.pitch)))
    }

    /// The pitch that a friend whose turn it is may call by confirming it.
    pub(super) fn offered(&self) -> Option<Pitch> {
        self.may_pick().ok()?;
        self.last_heard.map(|h| h.pitch)
    }

    /// Something else begins: what was heard before does not count for it. An
    /// answer that only waited to be sure is told to come too late.
    pub(super) fn stop_playing(&mut self) {
        let waits = self
            .hands_free
            .is_some_and(|s| self.pluck_runs.is_waiting(s));
        self.pluck_runs = PluckRuns::default();
        self.last_heard = None;
        self.uncounted = None;
        let Some(call) = &mut self.call else { return };
        let wanted = call.place_wanted.take().is_some();
        if (waits || wanted) && !call.found && !call.you_call {
            self.refuse_here(Refusal::TooLate);
        }
    }

    /// Whether the instrument is listened to at `now`.
    pub fn listening(&self, now: Moment) -> Listening {
        match self.hands_free {
            None => Listening::Off,
            Some(s) if self.mute_windows.between(now, now, s.headphones) => Listening::Muted,
            Some(_) => Listening::On,
        }
    }

    /// When the last tone of the lesson that was ordered or heard of has ended:
    /// what is spoken before then talks over it.
    pub fn tones_until(&self) -> Option<Moment> {
        let headphones = self.hands_free.is_some_and(|s| s.headphones);
        self.mute_windows.heard_until(headphones)
    }

    /// The run of plucks that may still become an answer, for showing.
    pub(super) fn running(&self, now: Moment) -> Option<(Pitch, u8)> {
        let settings = self.hands_free?;
        if !self.instrument_may_answer() || self.call.as_ref().is_none_or(|c| c.found) {
            return None;
        }
        self.pluck_runs.running(settings, now)
    }

    /// When listening has something to do or to show next, after `looked`.
    pub(super) fn listening_deadline(&self) -> Option<Moment> {
        let settings = self.hands_free?;
        let muted = self
            .mute_windows
            .next_change(self.looked, settings.headphones);
        if !self.instrument_may_answer() {
            return muted;
        }
        let runs_out = self
            .pluck_runs
            .runs_out(settings)
            .filter(|at| *at > self.looked);
        [muted, runs_out, self.pluck_runs.deadline(settings)]
            .into_iter()
            .flatten()
            .min()
    }

    pub(super) fn instrument_may_answer(&self) -> bool {
        self.call
            .as_ref()
            .is_some_and(|c| c.stage == CallStage::Open && !c.you_call)
    }

    /// Whether a tone of the lesson may have sounded from `at`, give or take
    /// `off`, until `lasted` later.
    fn deaf_between(&self, at: Moment, off: Duration, lasted: Duration) -> bool {
        let headphones = self.hands_free.is_some_and(|s| s.headphones);
        self.mute_windows
            .between(at - off, at + lasted + off, headphones)
    }

    /// From when plucks count for the open call: not before its tone. Where the
    /// start is not known here, from when the call came.
    fn counts_from(&self) -> Option<Moment> {
        let call = self
            .call
            .as_ref()
            .filter(|c| c.stage == CallStage::Open && !c.you_call)?;
        if call.waiting_to_ask() {
            return None;
        }
        let started = call.started(&self.clock).map(|(at, _)| at);
        started.or_else(|| Some(self.expected_start(call)))
    }

    /// When the call starts as it was ordered here, or as the host named it if
    /// that still lay ahead when the call came.
    fn expected_start(&self, call: &HeldCall) -> Moment {
        let named = self.clock.to_local(call.host_start);
        let named = named.filter(|at| !call.on_asking && *at <= call.arrived + FURTHEST_START);
        call.first_ordered
            .or(named)
            .map_or(call.arrived, |at| at.max(call.arrived))
    }

    /// The beginning of a sung note that was taken for a pluck was none.
    fn was_a_voice(&mut self, frequency_hz: f64, at: Moment) {
        let reference = self.rules().ok().map(|r| Reference::new(r.a4_hz));
        let reference = reference.and_then(Result::ok).unwrap_or_default();
        let is_it = |pitch: Pitch, onset: Moment| {
            let apart = onset.since(at).max(at.since(onset));
            let cents = cents_between(pitch.frequency_hz(reference), frequency_hz);
            apart <= VOICE_BEGINS_WITHIN && cents.abs() <= 100.0
        };
        self.pluck_runs.forget(is_it);
        self.last_heard.take_if(|h| is_it(h.pitch, h.at));
    }

    fn sung(&mut self, frequency_hz: f64, spread_cents: f32, at: Moment) {
        let asked = self.rules().is_ok_and(|r| r.sing_first);
        let in_call = self.counts_from().is_some_and(|from| at >= from);
        let fits = SUNG_RANGE_HZ.contains(&frequency_hz) && spread_cents.is_finite();
        if let Some(call) = self.call.as_ref().filter(|_| asked && in_call && fits) {
            let message = FromStudent::Sung {
                call: call.id,
                frequency_hz,
                spread_cents: spread_cents.clamp(0.0, MOST_SPREAD_CENTS),
            };
            self.send(message);
        }
    }

    /// Refuses what nobody gave an order for.
    pub(super) fn refuse_here(&mut self, refusal: Refusal) {
        self.happened(TerminalEvent::Refused(refusal.clone()));
        self.note_refusal(refusal);
    }

    pub(super) fn note_refusal(&mut self, refusal: Refusal) {
        self.refusals = self.refusals.wrapping_add(1);
        self.last_refusal = Some(refusal);
    }

    /// Whether it is this student's turn to call a note.
    pub(super) fn may_pick(&self) -> Result<(), Refusal> {
        if self.rules()?.mode != Mode::Friends {
            return Err(Refusal::HostOnly);
        }
        if !self.joined {
            return Err(Refusal::NotConnected);
        }
        if !matches!(self.turn, Some((_, true))) {
            return Err(Refusal::NotYourTurn);
        }
        let open = |c: &HeldCall| c.stage == CallStage::Open;
        if self.call.as_ref().is_some_and(open) {
            return Err(Refusal::CallOpen);
        }
        Ok(())
    }
}
