//! Where a pluck's intonation settles, and whether it was a pluck after all.
//!
//! A plucked string starts sharp and settles (tension grows with the swing:
//! Fletcher and Rossing, "The Physics of Musical Instruments", 2nd ed., section
//! 5.5), so the intonation is read from 150 to 250 ms after the onset. Each
//! partial is read from its peak; a stiff string, f_n = n·f·√(1 + B·n²), is
//! fitted through them; what is told is its first partial, which is what a tuner
//! shows.

use fifthpeg_core::{Pitch, Reference, cents_between};

use crate::cut::{Cut, THROUGH_DB};
use crate::decide::{Decision, GUARD_MS, Named};
use crate::onset::{After, Onset, OnsetFinder};
use crate::portrait::Sitting;
use crate::ring::Ring;
use crate::room::decibels;
use crate::string::{Reading, read};
use crate::strum::{LONGEST_WAIT_S, SOON_S, WAIT_S};
use crate::workspace::Workspace;
use crate::{EarDoubt, PluckId};

/// When reading begins and ends, after the onset.
const FROM_S: f64 = 0.15;
const UNTIL_S: f64 = 0.25;
/// When it begins if the next pluck cuts it short.
const EARLY_FROM_S: f64 = 0.08;
/// Shorter than this is not read.
const SHORTEST_S: f64 = 0.06;
/// A pitch that moved further than this slid.
const SLIDE_CENTS: f64 = 60.0;
/// Further than this, in semitones, it is another note.
const FURTHEST_SLIDE: f32 = 5.5;
/// The pick that touches the string is this much softer than what follows, in
/// dB, and sooner after it than this, in seconds.
pub(crate) const TOUCH_DB: f64 = 10.0;
const TOUCH_S: f64 = 0.18;
const AFTER_S: f64 = 0.015;
/// How loud a pluck is is measured for so long, in seconds.
const LOUD_S: f64 = 0.1;
/// At least this share of what is heard is new.
const LEAST_NEW: f64 = 0.1;
/// Most of what is heard is noise where no more than this share is tones.
const TONED: f64 = 0.3;
/// Noise makes no peak this far above its floor, as a ratio.
const CLEARLY: f32 = 6.0;
/// With this share of what is heard, its partials are what they are taken for.
const SURE_SHARE: f64 = 0.3;

/// A pluck that was named and has yet to settle.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Settling {
    /// None where no note was named.
    pub id: Option<PluckId>,
    pub busy: bool,
    pub pitch: Pitch,
    named: Named,
    pub onset: Onset,
    cut: Cut,
    pub level_db: f64,
    pub after: After,
    /// Another onset came so soon before it that both may be a strum's.
    pub soon_after: bool,
    /// A string of a strum.
    pub strummed: bool,
    /// Read, and may not answer for this; unless it turns out to be a strum's.
    pub stands: Option<EarDoubt>,
}

impl Default for Settling {
    fn default() -> Self {
        Settling {
            id: None,
            busy: false,
            pitch: Pitch::A4,
            named: Named::default(),
            onset: Onset::default(),
            cut: Cut::default(),
            level_db: 0.0,
            after: After::default(),
            soon_after: false,
            strummed: false,
            stands: None,
        }
    }
}

impl Settling {
    /// Begins with a pluck that was named, or not.
    pub fn begin(
        id: Option<PluckId>,
        pitch: Pitch,
        named: Named,
        decision: &Decision,
        level_db: f64,
    ) -> Settling {
        Settling {
            id,
            busy: true,
            pitch,
            named,
            onset: decision.onset,
            cut: decision.cut,
            level_db,
            after: decision.after,
            soon_after: decision.soon_after,
            strummed: level_db - decision.after_several_db < THROUGH_DB,
            stands: None,
        }
    }

    /// All that its portrait is drawn from.
    pub fn sitting(&self, rate_hz: f64) -> Sitting {
        Sitting {
            named: self.named,
            onset: self.onset,
            end: self.end(rate_hz),
            after: self.after,
            later_ms: 0.0,
        }
    }

    /// How loud it is: the mean square from its onset on for a tenth of a second.
    pub fn power(&self, sound: &Ring, rate_hz: f64) -> f64 {
        power(sound, self.onset.at as i64, self.loud_for(rate_hz))
    }

    /// How loud it is in itself, in dB: as it was named, and beyond what rang just
    /// before, half of which has died away. The two err in different ways.
    pub fn itself_db(&self, sound: &Ring, rate_hz: f64) -> f64 {
        let span = self.loud_for(rate_hz);
        let from = self.onset.at as i64 - (GUARD_MS * 1e-3 * rate_hz) as i64 - span;
        let (all, before) = (self.power(sound, rate_hz), power(sound, from, span));
        0.5 * (self.level_db + decibels((all - 0.5 * before).max(LEAST_NEW * all)))
    }

    /// So many samples tell how loud it is.
    fn loud_for(&self, rate_hz: f64) -> i64 {
        (self.end(rate_hz) - self.onset.at as i64).clamp(1, (LOUD_S * rate_hz) as i64)
    }

    /// How long it is heard, in seconds.
    pub fn lasts(&self, rate_hz: f64) -> f64 {
        (self.end(rate_hz) - self.onset.at as i64) as f64 / rate_hz
    }

    /// The next attack came, and raised the level by so much.
    pub fn cut(&mut self, at: i64, jump_db: f64) {
        self.cut.comes(at, jump_db);
    }

    /// It is known how loud an attack was.
    pub fn heard_through(&mut self, attack: &Decision, level_db: f64) {
        let at = attack.onset.at as i64;
        (self.cut).heard_through(at, self.level_db - level_db, attack.cut);
    }

    /// Where the next attack came, if it did so soon that both may be a strum's.
    pub fn cut_soon(&self, rate_hz: f64) -> Option<i64> {
        (self.lasts(rate_hz) < SOON_S).then_some(self.cut.at)
    }

    /// Where what is read ends.
    fn end(&self, rate_hz: f64) -> i64 {
        self.cut.at.min(self.longest(rate_hz))
    }

    /// Where it ends if nothing cuts it off.
    fn longest(&self, rate_hz: f64) -> i64 {
        self.onset.at as i64 + (UNTIL_S * rate_hz) as i64
    }

    /// When it is to be read: not before it is known whether what came cut it off; or
    /// when it has waited for what becomes of the next string.
    pub fn due(&self, rate_hz: f64, decisions: &[Decision]) -> i64 {
        let unknown = |d: &Decision| d.busy && self.cut.may_be_heard_through(d.onset.at as i64);
        match self.stands {
            Some(_) => {
                let next = self.end(rate_hz) + ((UNTIL_S + WAIT_S) * rate_hz) as i64;
                next.min(self.onset.at as i64 + (LONGEST_WAIT_S * rate_hz) as i64)
            }
            None if decisions.iter().any(unknown) => self.longest(rate_hz),
            None => self.end(rate_hz),
        }
    }
}

/// What became of a pluck.
pub(crate) enum Outcome {
    /// In cents from its note, and how far the partials disagree.
    Settled(f64, f64),
    Withdrawn(EarDoubt),
    /// Too short to tell.
    Unknown,
}

/// Reads plucks that have settled.
#[derive(Debug)]
pub(crate) struct Settler {
    rate_hz: f64,
}

impl Settler {
    pub fn new(rate_hz: f64) -> Settler {
        Settler { rate_hz }
    }

    pub fn settle(
        &mut self,
        settling: &Settling,
        reference: Reference,
        sound: &Ring,
        floor: &OnsetFinder,
        workspace: &mut Workspace,
    ) -> Outcome {
        let samples = |s: f64| (s * self.rate_hz) as i64;
        let onset = settling.onset.at as i64;
        let end = settling.end(self.rate_hz);
        let span = end - onset;
        if end == settling.cut.at
            && span < samples(TOUCH_S)
            && power(sound, end + samples(0.003), samples(AFTER_S))
                > power(sound, onset, span) * 10f64.powf(TOUCH_DB / 10.0)
        {
            return Outcome::Withdrawn(EarDoubt::Knock);
        }
        let guard = if end == settling.cut.at {
            samples(0.003)
        } else {
            0
        };
        let end = end - guard;
        let from = (onset + samples(FROM_S))
            .min(end - samples(UNTIL_S - FROM_S))
            .max(onset + samples(EARLY_FROM_S));
        if end - from < samples(SHORTEST_S) {
            return Outcome::Unknown;
        }
        let length = (end - from) as usize;
        let blur = workspace.blur_hz(length);
        let peaks = workspace.news.all_peaks(sound, from, length, floor);
        let rough_hz =
            reference.a4_hz() * ((f64::from(settling.named.fit.midi) - 69.0) / 12.0).exp2();
        let toned: f64 = peaks
            .iter()
            .filter(|peak| peak.above_floor > CLEARLY)
            .map(|peak| 0.5 * f64::from(peak.magnitude).powi(2))
            .sum();
        let read = read(peaks, rough_hz, f64::from(settling.named.fit.stiffness));
        let fits = workspace.scorer.score(peaks, blur);
        let own = fits
            .iter()
            .find(|fit| (fit.midi - settling.named.fit.midi).abs() < 0.6)
            .copied()
            .unwrap_or_default();
        let best = fits
            .iter()
            .copied()
            .max_by(|a, b| a.score.total_cmp(&b.score))
            .unwrap_or_default();
        let late = power(sound, from, end - from);
        let share = read.map_or(0.0, |reading| reading.share);
        let moved = (best.midi - settling.named.fit.midi).abs();
        if moved * 100.0 > SLIDE_CENTS as f32
            && moved < FURTHEST_SLIDE
            && best.explained > 0.5
            && own.explained < 0.6 * best.explained
            && share < SURE_SHARE
        {
            return Outcome::Withdrawn(EarDoubt::Slide);
        }
        let Some(Reading {
            hz, spread_cents, ..
        }) = read
        else {
            return Outcome::Unknown;
        };
        let drift = cents_between(settling.named.hz, hz).abs()
            - 2.0 * (spread_cents + settling.named.spread_cents);
        let sure = share > SURE_SHARE && toned > TONED * late;
        if sure && drift > SLIDE_CENTS {
            return Outcome::Withdrawn(EarDoubt::Slide);
        }
        let cents = cents_between(settling.pitch.frequency_hz(reference), hz);
        Outcome::Settled(cents, spread_cents)
    }
}

/// Mean square of some samples from a position on.
fn power(sound: &Ring, from: i64, length: i64) -> f64 {
    let sum: f64 = (from..from + length)
        .map(|i| f64::from(sound.at(i)).powi(2))
        .sum();
    sum.max(1e-12) / length.max(1) as f64
}
