//! One pluck from its onset to its name: several looks, which vote.

use crate::news::News;
use crate::onset::{Onset, OnsetFinder};
use crate::ring::Ring;
use crate::ringing::Ringing;
use crate::score::{Fit, Scorer};

/// How long after the onset it is looked, in milliseconds.
const LOOKS_MS: [f64; 11] = [
    25.0, 32.0, 40.0, 48.0, 57.0, 67.0, 78.0, 92.0, 110.0, 130.0, 150.0,
];
/// Longest past that the ringing is taken from, in milliseconds.
const PAST_MS: f64 = 110.0;
/// The past ends this long before the onset, which is not known exactly.
const GUARD_MS: f64 = 4.0;

/// Where a decision stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum Standing {
    /// More has to be heard.
    Waiting,
    /// A note.
    Note(Fit),
    /// No note stands out.
    Unclear,
}

/// One onset that is being decided on.
#[derive(Debug)]
pub(crate) struct Decision {
    pub onset: Onset,
    pub busy: bool,
    look: usize,
    ringing: Vec<f32>,
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
            },
            busy: false,
            look: 0,
            ringing: vec![0.0; judge.longest()],
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
        self.votes.fill(0.0);
        self.last_best = usize::MAX;
        let end = onset.at as i64 - judge.samples(GUARD_MS) as i64;
        let from = clean_from
            .max(end - judge.past.len() as i64)
            .max(sound.begin() as i64);
        let length = (end - from).max(0) as usize;
        let past = &mut judge.past[..length];
        sound.copy(from, past);
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
        self.onset.at as i64 + judge.samples(LOOKS_MS[self.look.min(LOOKS_MS.len() - 1)]) as i64
    }

    /// Looks once more; call it when [`Decision::next_look`] was reached.
    pub fn look(&mut self, sound: &Ring, floor: &OnsetFinder, judge: &mut Judge) -> Standing {
        let ms = LOOKS_MS[self.look];
        self.look += 1;
        let last = self.look == LOOKS_MS.len();
        if ms < judge.first_look_ms && !last {
            return Standing::Waiting;
        }
        let length = judge.samples(ms);
        let peaks = judge.news.peaks(
            sound,
            self.onset.at as i64,
            length,
            &self.ringing[..length.min(self.ringing.len())],
            floor,
        );
        let blur = judge.blur * judge.rate_hz as f32 / length as f32;
        let fits = judge.scorer.score(peaks, blur);
        for (vote, fit) in self.votes.iter_mut().zip(fits) {
            // Later looks see more: half of what was known is kept.
            *vote = 0.5 * *vote + 0.5 * fit.score;
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
        let same = best == self.last_best;
        self.last_best = best;
        let wanted = match ms {
            ..35.0 => 0.25,
            ..60.0 => 0.15,
            ..100.0 => 0.08,
            _ => 0.04,
        };
        if same && margin > wanted && fit.explained > 0.55 && fit.score > 0.4 {
            return Standing::Note(fit);
        }
        if last {
            Standing::Unclear
        } else {
            Standing::Waiting
        }
    }
}
