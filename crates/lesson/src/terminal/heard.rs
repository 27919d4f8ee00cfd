//! What the microphone hears, and what it means in the lesson.

use core::time::Duration;
use fifthpeg_core::{Pitch, Position};

use super::call::Call;
use super::hands::{Commit, Hands, HandsFree, Pluck, WITHDRAW_LIMIT};
use super::{KEYBOARD_ALLOWANCE, Terminal};
use crate::Moment;
use crate::marking::{Marking, places_sounding};
use crate::message::{Answer, FromStudent, Mode, Refusal, Source};
use crate::singing::SUNG_RANGE_HZ;
use crate::view::CallStage;

/// What the driver's ear reports, with moments on the student's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum HeardNote {
    /// A pluck whose pitch is decided.
    Pluck {
        /// Names it for [`HeardNote::Settled`] and [`HeardNote::Withdrawn`];
        /// never used again.
        id: u64,
        /// The pitch.
        pitch: Pitch,
        /// How far from it, roughly, in cents.
        cents: f32,
        /// The onset.
        at: Moment,
        /// How far the onset may be off either way.
        uncertainty: Duration,
    },
    /// Where a pluck's intonation has settled: it will not be withdrawn.
    Settled {
        /// Which pluck.
        id: u64,
        /// How far from its pitch, in cents.
        cents: f32,
        /// How far that moved, in cents.
        spread_cents: f32,
    },
    /// What was taken for a pluck was none.
    Withdrawn {
        /// Which pluck.
        id: u64,
        /// What it was.
        why: Doubt,
    },
    /// An onset that no note was named for.
    Unsure {
        /// The onset.
        at: Moment,
        /// Why not.
        why: Doubt,
    },
    /// A sung note that was held.
    Sung {
        /// The frequency, in hertz, vibrato averaged out.
        frequency_hz: f64,
        /// How far the voice moved about it, in cents either way.
        spread_cents: f32,
        /// When it began.
        at: Moment,
        /// How long it was held.
        lasted: Duration,
    },
}

/// Why something heard was not one clear note.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Doubt {
    /// Several notes at once.
    SeveralNotes,
    /// The pitch slid away.
    Slide,
    /// Too quiet beside the room's noise.
    TooQuiet,
    /// No clear pitch.
    NoClearPitch,
    /// Not a pluck: a voice, a knock.
    NotAPluck,
}

/// Whether the terminal listens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Listening {
    /// No microphone.
    #[default]
    Off,
    /// Not just now: a tone of the lesson sounds.
    Deaf,
    /// Yes.
    On,
}

/// The pluck heard last, for showing.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeardPluck {
    /// Its number.
    pub id: u64,
    /// The pitch.
    pub pitch: Pitch,
    /// How far from it, in cents.
    pub cents: f32,
    /// Whether that has settled, or is rough still.
    pub settled: bool,
    /// The onset, on this terminal's clock.
    pub at: Moment,
}

/// An answer by hand that waits for its place, where the exact place is marked.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct PlaceWanted {
    pub pitch: Pitch,
    pub places: Vec<Position>,
    /// Measured when it was plucked.
    pub response: Option<Duration>,
    pub uncertainty: Duration,
}

/// How far a voice is believed to have moved, in cents: what goes to the host.
const MOST_SPREAD_CENTS: f32 = 1200.0;

impl Terminal {
    /// Says whether and how the instrument is listened to; `None` without a
    /// microphone.
    pub fn set_hands_free(&mut self, settings: Option<HandsFree>) {
        self.hands_free = settings;
        if settings.is_none() {
            self.hands.clear();
            self.last_heard = None;
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
        match heard {
            HeardNote::Pluck {
                id,
                pitch,
                cents,
                at,
                uncertainty,
            } => {
                if self.deaf_between(at, uncertainty, Duration::ZERO) {
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
                    self.hands.pluck(Pluck {
                        id,
                        pitch,
                        at,
                        uncertainty,
                        sure_from: now + WITHDRAW_LIMIT,
                    });
                }
            }
            HeardNote::Settled { id, cents, .. } => {
                self.hands.settled(id, now);
                if let Some(last) = self.last_heard.as_mut().filter(|h| h.id == id) {
                    last.cents = cents;
                    last.settled = true;
                }
            }
            HeardNote::Withdrawn { id, why } => {
                if self.hands.withdrawn(id, why == Doubt::SeveralNotes) {
                    self.refuse_here(Refusal::HeardWithdrawn);
                }
                self.last_heard.take_if(|h| h.id == id);
            }
            HeardNote::Unsure { at, why } => {
                if why == Doubt::SeveralNotes
                    && !self.deaf_between(at, Duration::ZERO, Duration::ZERO)
                {
                    self.hands.chord(at);
                }
            }
            HeardNote::Sung {
                frequency_hz,
                spread_cents,
                at,
                lasted,
            } => {
                if !self.deaf_between(at, Duration::ZERO, lasted) {
                    self.sung(frequency_hz, spread_cents, at);
                }
            }
        }
        self.move_hands(settings, now);
    }

    /// Sends the tries and answers by hand that have become sure.
    pub(super) fn move_hands(&mut self, settings: HandsFree, now: Moment) {
        // Between a lost connection and the host naming the call again nothing
        // is decided.
        if !self.hands_may_answer() {
            return;
        }
        while let Some(pluck) = self.hands.next_try(now) {
            let at = Answer::Pitch(pluck.pitch);
            if let Some(call) = &mut self.call {
                call.keep_try(at);
                let message = FromStudent::Try {
                    call: call.id,
                    at,
                    source: Source::Instrument,
                };
                self.send(message);
            }
        }
        while let Some(commit) = self.hands.take(settings, now) {
            self.answer_by_hand(commit);
        }
    }

    fn answer_by_hand(&mut self, commit: Commit) {
        let Ok(marking) = self.rules().map(|r| r.marking) else {
            return;
        };
        let Some(call) = self.call.as_ref().filter(|c| !c.found) else {
            // More plucks of a note found already are playing.
            return;
        };
        let off = commit.onset_uncertainty.unwrap_or(KEYBOARD_ALLOWANCE);
        let (response, uncertainty) = call.response(commit.at, &self.clock, off);
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
                if let Some(call) = &mut self.call {
                    call.place_wanted = Some(PlaceWanted {
                        pitch: commit.pitch,
                        places,
                        response,
                        uncertainty,
                    });
                }
            }
        }
    }

    /// A key or foot switch commits the pluck heard last.
    pub(super) fn answer_heard(&mut self, now: Moment) -> Result<(), Refusal> {
        let settings = self.hands_free.ok_or(Refusal::NotListening)?;
        self.may_answer()?;
        self.hands.press(settings, now)?;
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
        self.pick(Some(Answer::Pitch(heard.pitch)))
    }

    /// The pitch that a friend whose turn it is may call by confirming it.
    pub(super) fn offered(&self) -> Option<Pitch> {
        self.may_pick().ok()?;
        self.last_heard.map(|h| h.pitch)
    }

    /// Something else begins: what was heard before does not count for it. An
    /// answer that only waited to be sure is told to come too late.
    pub(super) fn hands_down(&mut self) {
        let waits = self.hands_free.is_some_and(|s| self.hands.is_waiting(s));
        self.hands = Hands::default();
        self.last_heard = None;
        let Some(call) = &mut self.call else { return };
        let wanted = call.place_wanted.take().is_some();
        if (waits || wanted) && !call.found && !call.you_call {
            let late = Refusal::TooLate {
                call: call.id,
                serial: call.last_serial.saturating_add(1),
            };
            self.refuse_here(late);
        }
    }

    pub(super) fn listening(&self, now: Moment) -> Listening {
        match self.hands_free {
            None => Listening::Off,
            Some(s) if !s.headphones && self.deaf.at(now) => Listening::Deaf,
            Some(_) => Listening::On,
        }
    }

    /// The run of plucks that may still become an answer, for showing.
    pub(super) fn running(&self, now: Moment) -> Option<(Pitch, u8)> {
        let settings = self.hands_free?;
        if !self.hands_may_answer() || self.call.as_ref().is_none_or(|c| c.found) {
            return None;
        }
        self.hands.running(settings, now)
    }

    /// When listening has something to do or to show next, after `looked`.
    pub(super) fn hands_deadline(&self) -> Option<Moment> {
        let settings = self.hands_free?;
        let deaf = (!settings.headphones)
            .then(|| self.deaf.next_change(self.looked))
            .flatten();
        if !self.hands_may_answer() {
            return deaf;
        }
        let runs_out = self.hands.runs_out(settings).filter(|at| *at > self.looked);
        [deaf, runs_out, self.hands.deadline(settings)]
            .into_iter()
            .flatten()
            .min()
    }

    pub(super) fn hands_may_answer(&self) -> bool {
        self.call
            .as_ref()
            .is_some_and(|c| c.stage == CallStage::Open && !c.you_call)
    }

    /// Whether a tone of the lesson may have sounded from `at`, give or take
    /// `off`, until `lasted` later.
    fn deaf_between(&self, at: Moment, off: Duration, lasted: Duration) -> bool {
        let listens = self.hands_free.is_some_and(|s| s.headphones);
        let from = Moment::from_micros(0) + at.since(Moment::from_micros(0) + off);
        !listens && self.deaf.between(from, at + lasted + off)
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

    /// When the call starts as the host named it, if that still lay ahead when
    /// it came.
    fn expected_start(&self, call: &Call) -> Moment {
        self.clock
            .to_local(call.host_start)
            .filter(|at| !call.on_asking && *at <= call.arrived + super::FURTHEST_START)
            .map_or(call.arrived, |at| at.max(call.arrived))
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
    fn refuse_here(&mut self, refusal: Refusal) {
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
        let open = |c: &Call| c.stage == CallStage::Open;
        if self.call.as_ref().is_some_and(open) {
            return Err(Refusal::CallOpen);
        }
        Ok(())
    }
}
