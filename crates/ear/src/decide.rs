//! One pluck from its onset to its name: several looks, which vote.

use crate::news::{Before, News, TRANSFORM};
use crate::onset::{Onset, OnsetFinder};
use crate::ring::Ring;
use crate::ringing::Ringing;
use crate::score::{Fit, Scorer, evidence};

/// How long after the onset it is looked, in milliseconds.
const LOOKS_MS: [f64; 11] = [
    25.0, 32.0, 40.0, 48.0, 57.0, 67.0, 78.0, 92.0, 110.0, 130.0, 150.0,
];
/// Longest past that the ringing is taken from, in milliseconds.
const PAST_MS: f64 = 110.0;
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

/// Where a decision stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Standing {
    /// More has to be heard.
    Waiting,
    /// A note.
    Note(Fit),
    /// Nothing new was there.
    Nothing,
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
    /// Mean square of what is new.
    pub power: f32,
}

/// What all decisions share.
#[derive(Debug)]
pub(crate) struct Judge {
    pub scorer: Scorer,
    pub news: News,
    carry: Ringing,
    past: Vec<f32>,
    rate_hz: f64,
    first_look_ms: f64,
    a4_hz: f32,
    blur: f32,
}

impl Judge {
    pub fn new(rate_hz: f64, lowest: i32, highest: i32, a4_hz: f64) -> Judge {
        let highest_hz = (0.44 * rate_hz) as f32;
        let lowest_hz = a4_hz * ((f64::from(lowest) - 69.0) / 12.0).exp2();
        let past = (PAST_MS * 1e-3 * rate_hz) as usize;
        Judge {
            scorer: Scorer::new(lowest, highest, a4_hz, highest_hz),
            news: News::new(rate_hz as f32, (lowest_hz * 0.8) as f32, highest_hz),
            carry: Ringing::new(past, 200),
            past: vec![0.0; past],
            rate_hz,
            a4_hz: a4_hz as f32,
            first_look_ms: 2.8e3 / lowest_hz,
            blur: 0.18,
        }
    }

    /// Longest time after an onset that is looked at, in decimated samples.
    pub fn longest(&self) -> usize {
        (LOOKS_MS[LOOKS_MS.len() - 1] * 1e-3 * self.rate_hz) as usize + 1
    }

    fn samples(&self, ms: f64) -> usize {
        (ms * 1e-3 * self.rate_hz) as usize
    }
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
            ringing: vec![0.0; judge.longest()],
            astray: vec![0.0; TRANSFORM / 2 + 1],
            votes: vec![0.0; notes],
            last_best: usize::MAX,
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
        let peaks = judge.news.peaks(sound, from, length, &before, floor);
        let blur = judge.blur * judge.rate_hz as f32 / length as f32;
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
        if (same || last)
            && margin > wanted
            && fit.explained > LEAST_EXPLAINED
            && evidence > LEAST_EVIDENCE
        {
            return Standing::Note(fit);
        }
        match (last, judge.news.last_peaks().is_empty()) {
            (false, _) => Standing::Waiting,
            (true, true) => Standing::Nothing,
            (true, false) => Standing::Unclear,
        }
    }
}
