//! Where a pluck's intonation settles, and whether it was a pluck after all.
//!
//! A plucked string starts sharp and settles (tension grows with the swing:
//! Fletcher and Rossing, "The Physics of Musical Instruments", 2nd ed., section
//! 5.5), so the intonation is read from 150 to 250 ms after the onset. Each
//! partial is read from its peak; a stiff string, f_n = n·f·√(1 + B·n²), is
//! fitted through them; what is told is its first partial, which is what a tuner
//! shows.

use fifthpeg_core::{Pitch, Reference, cents_between};

use crate::decide::Judge;
use crate::onset::OnsetFinder;
use crate::ring::Ring;
use crate::score::Fit;
use crate::spectrum::Peak;
use crate::{Doubt, PluckId, Settled};

/// When reading begins and ends, after the onset.
const FROM_S: f64 = 0.15;
const UNTIL_S: f64 = 0.25;
/// When it begins if the next pluck cuts it short.
const EARLY_FROM_S: f64 = 0.08;
/// Shorter than this is not read.
const SHORTEST_S: f64 = 0.06;
/// Partials that are read.
const PARTIALS: usize = 12;
/// How far from where it should be a partial is looked for, in cents.
const REACH_CENTS: f32 = 45.0;
/// A pitch that moved further than this slid.
const SLIDE_CENTS: f64 = 60.0;

/// A pluck that was named and has yet to settle.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Settling {
    pub id: PluckId,
    pub busy: bool,
    pitch: Pitch,
    fit: Fit,
    onset: i64,
    until: i64,
}

impl Default for Settling {
    fn default() -> Self {
        Settling {
            id: PluckId(0),
            busy: false,
            pitch: Pitch::A4,
            fit: Fit::default(),
            onset: 0,
            until: 0,
        }
    }
}

impl Settling {
    pub fn begin(id: PluckId, pitch: Pitch, fit: Fit, onset: i64, until: i64) -> Settling {
        Settling {
            id,
            busy: true,
            pitch,
            fit,
            onset,
            until,
        }
    }

    /// The next attack came.
    pub fn cut(&mut self, at: i64) {
        self.until = self.until.min(at);
    }

    /// When it is to be read.
    pub fn due(&self, rate_hz: f64) -> i64 {
        self.until.min(self.onset + (UNTIL_S * rate_hz) as i64)
    }
}

/// What became of a pluck.
pub(crate) enum Outcome {
    Settled(Settled),
    Withdrawn(Doubt),
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
        judge: &mut Judge,
    ) -> Outcome {
        let samples = |s: f64| (s * self.rate_hz) as i64;
        let end = settling.due(self.rate_hz);
        let guard = if end == settling.until {
            samples(0.003)
        } else {
            0
        };
        let end = end - guard;
        let from = (settling.onset + samples(FROM_S))
            .min(end - samples(UNTIL_S - FROM_S))
            .max(settling.onset + samples(EARLY_FROM_S));
        if end - from < samples(SHORTEST_S) {
            return Outcome::Unknown;
        }
        let length = (end - from) as usize;
        let peaks = judge.news.all_peaks(sound, from, length, floor);
        let rough_hz = reference.a4_hz() * ((f64::from(settling.fit.midi) - 69.0) / 12.0).exp2();
        let read = read(peaks, rough_hz, f64::from(settling.fit.stiffness));
        let blur = 0.18 * self.rate_hz as f32 / length as f32;
        let fits = judge.scorer.score(peaks, blur);
        let own = fits
            .iter()
            .find(|fit| (fit.midi - settling.fit.midi).abs() < 0.6)
            .copied()
            .unwrap_or_default();
        let best = fits
            .iter()
            .copied()
            .max_by(|a, b| a.score.total_cmp(&b.score))
            .unwrap_or_default();
        let moved = (best.midi - settling.fit.midi).abs();
        if moved * 100.0 > SLIDE_CENTS as f32
            && moved < 5.5
            && best.explained > 0.6
            && own.explained < 0.5 * best.explained
        {
            return Outcome::Withdrawn(Doubt::Slide);
        }
        match read {
            Some((hz, spread_cents)) => Outcome::Settled(Settled {
                id: settling.id,
                cents: cents_between(settling.pitch.frequency_hz(reference), hz),
                spread_cents,
            }),
            None => Outcome::Unknown,
        }
    }
}

/// The first partial of the string that fits the peaks best, in hertz, and how
/// uncertain that is, in cents.
fn read(peaks: &[Peak], rough_hz: f64, stiffness: f64) -> Option<(f64, f64)> {
    // For each partial found: n², (f_n/n)², and its weight.
    let mut found = [(0.0f64, 0.0f64, 0.0f64); PARTIALS];
    let mut count = 0;
    for n in 1..=PARTIALS {
        let number = n as f64;
        let at = rough_hz * number * (1.0 + stiffness * number * number).sqrt();
        let reach = at * (f64::from(REACH_CENTS) / 1200.0 * std::f64::consts::LN_2);
        let nearest = peaks
            .iter()
            .filter(|peak| (f64::from(peak.hz) - at).abs() < reach)
            .max_by(|a, b| a.magnitude.total_cmp(&b.magnitude));
        if let Some(peak) = nearest {
            let by_number = f64::from(peak.hz) / number;
            // The error in hertz falls with the height above the floor, and
            // counts less the higher the partial.
            let weight = number * number * f64::from(peak.magnitude);
            found[count] = (number * number, by_number * by_number, weight);
            count += 1;
        }
    }
    let found = &mut found[..count];
    if found.is_empty() {
        return None;
    }
    let mut line = fit_line(found, stiffness);
    for _ in 0..3 {
        // What lies far off belongs to another string: it counts less
        // (iteratively reweighted least squares; P. J. Huber, 1964).
        let mut again = [(0.0, 0.0, 0.0); PARTIALS];
        for (to, &(n2, y, weight)) in again.iter_mut().zip(found.iter()) {
            let off_cents = 600.0 * (y / (line.0 + line.1 * n2)).log2();
            *to = (n2, y, weight / (1.0 + (off_cents / 3.0).powi(2)));
        }
        line = fit_line(&again[..count], stiffness);
    }
    let (mut off2, mut weights) = (0.0, 0.0);
    for &(n2, y, weight) in found.iter() {
        let off_cents = (600.0 * (y / (line.0 + line.1 * n2)).log2()).clamp(-20.0, 20.0);
        off2 += weight * off_cents * off_cents;
        weights += weight;
    }
    let spread = if count > 1 {
        (off2 / weights / (count - 1) as f64).sqrt()
    } else {
        2.0
    };
    Some(((line.0 + line.1).sqrt(), spread.max(0.1)))
}

/// (f_n/n)² = f²·(1 + B·n²) is a line in n²: its height at nought and slope. With
/// few partials the slope is taken from the stiffness known already.
fn fit_line(points: &[(f64, f64, f64)], stiffness: f64) -> (f64, f64) {
    let (mut w, mut wx, mut wy, mut wxx, mut wxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for &(x, y, weight) in points {
        w += weight;
        wx += weight * x;
        wy += weight * y;
        wxx += weight * x * x;
        wxy += weight * x * y;
    }
    let spread = wxx - wx * wx / w;
    if points.len() >= 4 && spread > 0.0 {
        let slope = (wxy - wx * wy / w) / spread;
        let height = (wy - slope * wx) / w;
        // No string is that stiff, and none less than not at all.
        if height > 0.0 && (0.0..2e-3).contains(&(slope / height)) {
            return (height, slope);
        }
    }
    let height = points
        .iter()
        .map(|&(x, y, weight)| weight * y / (1.0 + stiffness * x))
        .sum::<f64>()
        / w;
    (height, height * stiffness)
}
