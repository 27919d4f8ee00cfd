//! One pluck from its onset to its name: several looks, which vote.

use crate::attack::Attack;
use crate::judge::Judge;
use crate::news::{Before, TRANSFORM};
use crate::onset::{Onset, OnsetFinder};
use crate::ring::Ring;
use crate::score::{Fit, evidence};
use crate::second::second_note;
use crate::string::read;

/// How long after the onset it is looked, in milliseconds.
const LOOKS_MS: [f64; 10] = [
    32.0, 40.0, 48.0, 57.0, 67.0, 78.0, 92.0, 110.0, 130.0, 150.0,
];
/// The past ends this long before the onset, which is not known exactly.
const GUARD_MS: f64 = 4.0;

/// A pluck that is followed by another sooner than this is not named.
const SHORTEST_MS: f64 = 22.0;
/// Past that is used even if another attack lies in it, in milliseconds.
const LEAST_PAST_MS: f64 = 70.0;
/// How much of the past is held back to try out the carrying on.
const TEST_MS: f64 = 40.0;

/// Share of what is new that a note must explain.
const LEAST_EXPLAINED: f32 = 0.3;
/// Evidence there must be for a note, in nepers.
const LEAST_EVIDENCE: f32 = 1.8;

/// A plucked string moves less than this from look to look, in cents, beyond
/// what cannot be read better.
const STEADY_CENTS: f64 = 14.0;
/// Share of what is new from which on a note needs no more partials.
const MOSTLY: f32 = 0.8;
/// What began less sharply than a pluck is only named after this long.
const LATE_MS: f64 = 100.0;

/// Where a decision stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Standing {
    /// More has to be heard.
    Waiting,
    /// A note: its fit, its fundamental in hertz, and how uncertain that is, in
    /// cents.
    Note(Fit, f64, f64),
    /// Nothing new was there.
    Nothing,
    /// Two notes or more began together.
    Several,
    /// It did not begin as a plucked string does.
    NoPluck,
    /// No note stands out.
    Unclear,
}

/// One onset that is being decided on.
#[derive(Debug)]
pub(crate) struct Decision {
    pub onset: Onset,
    pub busy: bool,
    look: usize,
    /// Where the next attack came, if it came before the decision.
    pub until: i64,
    ringing: Vec<f32>,
    /// How far carrying on is to be trusted, for each bin.
    astray: Vec<f32>,
    votes: Vec<f32>,
    last_best: usize,
    /// The fundamental when the best note was first the best, in hertz, and
    /// how uncertain that was, in cents.
    first_hz: Option<(f64, f64)>,
    /// Mean square of what is new.
    pub power: f32,
}

impl Decision {
    pub fn new(judge: &Judge, notes: usize) -> Decision {
        Decision {
            onset: Onset {
                at: 0.0,
                uncertainty: 0.0,
                strength: 0.0,
                rise: 0.0,
            },
            busy: false,
            look: 0,
            until: i64::MAX,
            ringing: vec![0.0; judge.samples(LOOKS_MS[LOOKS_MS.len() - 1]) + 1],
            astray: vec![0.0; TRANSFORM / 2 + 1],
            votes: vec![0.0; notes],
            last_best: usize::MAX,
            first_hz: None,
            power: 0.0,
        }
    }

    /// Begins with an onset. `clean_from` is the position from which on no other
    /// attack is in the past.
    pub fn begin(&mut self, onset: Onset, clean_from: i64, sound: &Ring, judge: &mut Judge) {
        self.onset = onset;
        self.busy = true;
        self.look = 0;
        self.until = i64::MAX;
        self.votes.fill(0.0);
        self.last_best = usize::MAX;
        self.first_hz = None;
        let end = onset.at as i64 - judge.samples(GUARD_MS) as i64;
        let from = clean_from
            .min(end - judge.samples(LEAST_PAST_MS) as i64)
            .max(end - judge.past.len() as i64)
            .max(sound.begin() as i64);
        let length = (end - from).max(0) as usize;
        let longest = judge.samples(TEST_MS);
        let past = &mut judge.past[..length];
        sound.copy(from, past);
        // How well that goes is tried out on the past itself.
        let tested = longest.min(length / 3);
        let (known, held_back) = past.split_at(length - tested);
        judge.carry.carry_on(known, &mut self.ringing[..tested]);
        judge
            .news
            .astray(&self.ringing[..tested], held_back, &mut self.astray);
        // Starts at the guard, so that the rest lines up with the onset.
        self.ringing.fill(0.0);
        judge.carry.carry_on(past, &mut self.ringing);
        let guard = (onset.at as i64 - end) as usize;
        self.ringing.copy_within(guard.., 0);
        let kept = self.ringing.len() - guard;
        self.ringing[kept..].fill(0.0);
    }

    /// The fundamental of a fit, in hertz, read from all its partials, how
    /// uncertain it is, in cents, and the stiffness.
    fn tuned(&self, fit: &Fit, judge: &Judge) -> (f64, f64, f64) {
        let rough_hz = f64::from(judge.a4_hz) * ((f64::from(fit.midi) - 69.0) / 12.0).exp2();
        let peaks = judge.news.last_peaks();
        let stiffness = f64::from(fit.stiffness);
        match read(peaks, rough_hz, stiffness) {
            Some(reading) => (reading.hz, reading.spread_cents, reading.stiffness),
            None => (rough_hz, 10.0, stiffness),
        }
    }

    /// Position up to which must have been heard for the next look.
    pub fn next_look(&self, judge: &Judge) -> i64 {
        let look = LOOKS_MS[self.look.min(LOOKS_MS.len() - 1)];
        (self.onset.at as i64 + judge.samples(look) as i64).min(self.until)
    }

    /// Looks once more; call it when [`Decision::next_look`] was reached.
    pub fn look(&mut self, sound: &Ring, floor: &OnsetFinder, judge: &mut Judge) -> Standing {
        let ms = LOOKS_MS[self.look];
        self.look += 1;
        let room = (self.until - self.onset.at as i64).max(0) as usize;
        let cut_short = room < judge.samples(ms);
        let last = self.look == LOOKS_MS.len() || cut_short;
        if cut_short && room < judge.samples(SHORTEST_MS.max(judge.first_look_ms)) {
            return Standing::Unclear;
        }
        if ms < judge.first_look_ms && !last {
            return Standing::Waiting;
        }
        let length = judge.samples(ms).min(room);
        let from = self.onset.at as i64;
        let before = Before {
            ringing: &self.ringing[..length.min(self.ringing.len())],
            astray: &self.astray,
            until: from - judge.samples(GUARD_MS) as i64,
        };
        let blur = judge.blur_hz(length);
        let peaks = judge.news.peaks(sound, from, length, &before, floor);
        let fits = judge.scorer.score(peaks, blur);
        let first = self.last_best == usize::MAX;
        for (vote, fit) in self.votes.iter_mut().zip(fits) {
            if first {
                *vote = fit.score;
            }
            // Later looks see more: half of what was known is kept.
            *vote += 0.5 * (fit.score - *vote);
        }
        self.power = judge.news.power(0..length);
        let best = (0..fits.len())
            .max_by(|&a, &b| self.votes[a].total_cmp(&self.votes[b]))
            .unwrap_or(0);
        let fit = fits[best];
        let rival = (0..fits.len())
            .filter(|&note| note != best && (fits[note].midi - fit.midi).abs() > 0.3)
            .map(|note| self.votes[note])
            .fold(f32::MIN, f32::max);
        let margin = self.votes[best] - rival;
        let evidence = evidence(judge.news.last_peaks(), &fit, judge.a4_hz, blur);
        let same = best == self.last_best;
        self.last_best = best;
        let wanted = match ms {
            ..42.0 => 0.12,
            ..60.0 => 0.09,
            ..100.0 => 0.06,
            _ => 0.03,
        };
        let clear = margin > wanted && fit.explained > LEAST_EXPLAINED && evidence > LEAST_EVIDENCE;
        let (hz, spread, stiffness) = self.tuned(&fit, judge);
        if !same {
            self.first_hz = None;
        }
        let (first_hz, first_spread) = *self.first_hz.get_or_insert((hz, spread));
        let drift = (1200.0 * (hz / first_hz).log2()).abs() - 2.0 * (spread + first_spread);
        let attack = Attack::measure(&judge.news, judge.rate_hz, length, hz);
        let settled = clear && (same || last);
        if settled {
            // One or two partials beside others are what a knock has too.
            let thin = fit.found < 3 && fit.explained < MOSTLY;
            if thin && (ms < LATE_MS || !attack.lasts()) {
                return if last {
                    Standing::NoPluck
                } else {
                    Standing::Waiting
                };
            }
            if attack.is_plucked() && drift < STEADY_CENTS {
                if second_note(judge, fit.midi, (hz, stiffness), blur) {
                    return Standing::Several;
                }
                return Standing::Note(fit, hz, spread);
            }
            if ms > LATE_MS && attack.may_be_plucked() && drift < STEADY_CENTS {
                return Standing::Note(fit, hz, spread);
            }
            if last {
                return Standing::NoPluck;
            }
        }
        match (last, judge.news.last_peaks().is_empty()) {
            (false, _) => Standing::Waiting,
            (true, true) => Standing::Nothing,
            (true, false) => Standing::Unclear,
        }
    }
}
