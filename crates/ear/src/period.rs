//! How periodic a stretch of sound is, and with what period: the normalised
//! square difference function of McLeod and Wyvill ("A smarter way to find
//! pitch", ICMC 2005), a relative of YIN's difference function (de Cheveigne and
//! Kawahara, JASA 111:1917, 2002).

use crate::decimate::dot;

/// Part of the highest peak that an earlier one must reach to be the period:
/// McLeod and Wyvill's constant k, which they put between 0.8 and 1.
const EARLY_ENOUGH: f64 = 0.9;
/// And how much further from 1 it may be than the highest: a clean sound with
/// one strong overtone is nearly as clear at that overtone's period.
const MUCH_LESS_CLEAR: f64 = 3.0;
const LITTLE: f64 = 0.02;
/// Peaks that are kept.
const MOST_PEAKS: usize = 32;
/// Lags on each side of a peak that the curve through it is laid over.
const AROUND: usize = 3;
/// Points of that curve that are looked at, for each lag.
const STEPS: usize = 10;

/// A period that would explain a stretch of sound.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Peak {
    /// The period, in samples, between the samples as well.
    pub period: f64,
    /// 1 for what repeats exactly, near 0 for noise.
    pub clarity: f64,
}

/// Finds periods in stretches of one length.
#[derive(Debug, Clone)]
pub(crate) struct Periods {
    shortest: usize,
    longest: usize,
    /// The function, one value a lag.
    likeness: Vec<f64>,
    /// Sums of squares from the beginning.
    power: Vec<f64>,
    peaks: Vec<Peak>,
}

impl Periods {
    /// For stretches of `length` samples and periods between two lags, of which
    /// the longest is at most half the length.
    pub fn new(length: usize, shortest: usize, longest: usize) -> Periods {
        debug_assert!(longest * 2 <= length && shortest > AROUND);
        Periods {
            shortest,
            longest,
            likeness: vec![0.0; longest + AROUND + 1],
            power: vec![0.0; length + 1],
            peaks: Vec::with_capacity(MOST_PEAKS),
        }
    }

    /// Whether a stretch of a length is long enough, and no longer than there is
    /// room for.
    pub fn fits(&self, length: usize) -> bool {
        (3 * self.longest / 2 + 2 * AROUND..self.power.len()).contains(&length)
    }

    /// The peaks of a stretch, by rising period.
    pub fn look(&mut self, stretch: &[f32]) -> &[Peak] {
        self.measure(stretch);
        self.collect();
        &self.peaks
    }

    /// The period among the peaks that were found last: the shortest that is
    /// nearly as clear as the clearest.
    pub fn chosen(&self) -> Option<Peak> {
        let highest = self.highest()?;
        let enough = (EARLY_ENOUGH * highest).max(1.0 - MUCH_LESS_CLEAR * (1.0 - highest) - LITTLE);
        let mut peaks = self.peaks.iter();
        peaks.find(|peak| peak.clarity >= enough).copied()
    }

    /// The clearness of the clearest peak.
    pub fn highest(&self) -> Option<f64> {
        self.peaks.iter().map(|peak| peak.clarity).reduce(f64::max)
    }

    /// The same period, measured over as many periods as there is room for:
    /// what the curve between two lags leaves open is divided by their number.
    pub fn refined(&self, peak: Peak) -> Peak {
        let mut best = peak;
        for times in 2.. {
            let wanted = best.period * f64::from(times);
            let near = |other: &&Peak| (other.period - wanted).abs() < 0.15 * peak.period;
            match self.peaks.iter().find(near) {
                Some(far) if far.clarity > 0.8 * peak.clarity => {
                    best.period = far.period / f64::from(times);
                }
                _ => return best,
            }
        }
        best
    }

    /// Half the shortest period: there a sound of that period is below nought.
    fn first_lag(&self) -> usize {
        (self.shortest / 2).max(AROUND)
    }

    fn measure(&mut self, stretch: &[f32]) {
        let length = stretch.len();
        for (i, x) in stretch.iter().enumerate() {
            self.power[i + 1] = self.power[i] + f64::from(*x) * f64::from(*x);
        }
        let total = self.power[length];
        for lag in self.first_lag() - AROUND..=self.longest + AROUND {
            let both = f64::from(dot(&stretch[..length - lag], &stretch[lag..]));
            let power = self.power[length - lag] + (total - self.power[lag]);
            self.likeness[lag] = if power > 0.0 { 2.0 * both / power } else { 0.0 };
        }
    }

    /// The highest point of each stretch above nought that begins after a
    /// stretch below, so that the shortest lags, where all sound is like itself,
    /// are left out.
    fn collect(&mut self) {
        self.peaks.clear();
        let values = &self.likeness;
        let mut best: Option<usize> = None;
        let mut was_below = false;
        for lag in self.first_lag()..=self.longest {
            if values[lag] <= 0.0 {
                was_below = true;
                keep(&mut self.peaks, values, best.take());
                continue;
            }
            let is_peak = values[lag] > values[lag - 1] && values[lag] >= values[lag + 1];
            if lag >= self.shortest
                && was_below
                && is_peak
                && best.is_none_or(|best| values[lag] > values[best])
            {
                best = Some(lag);
            }
        }
        keep(&mut self.peaks, values, best);
    }
}

/// Puts a lag with the peak of the curve through it and its neighbours.
fn keep(peaks: &mut Vec<Peak>, values: &[f64], lag: Option<usize>) {
    let Some(lag) = lag else { return };
    if peaks.len() == MOST_PEAKS {
        return;
    }
    let around = &values[lag - AROUND..=lag + AROUND];
    let mut best = (0.0, f64::NEG_INFINITY);
    for step in 0..=2 * STEPS {
        let off = step as f64 / STEPS as f64 - 1.0;
        let height = curve(around, off);
        if height > best.1 {
            best = (off, height);
        }
    }
    let step = 1.0 / STEPS as f64;
    let [before, here, after] = [-step, 0.0, step].map(|by| curve(around, best.0 + by));
    let bend = before - 2.0 * here + after;
    let turn = if bend < 0.0 {
        (0.5 * (before - after) / bend).clamp(-1.0, 1.0)
    } else {
        0.0
    };
    peaks.push(Peak {
        period: lag as f64 + best.0 + turn * step,
        clarity: here - 0.25 * (before - after) * turn,
    });
}

/// Lagrange's polynomial through values one lag apart, at a distance from the
/// middle one.
fn curve(values: &[f64], off: f64) -> f64 {
    let middle = (values.len() / 2) as f64;
    let at = middle + off;
    let mut sum = 0.0;
    for (i, value) in values.iter().enumerate() {
        let mut part = *value;
        for j in 0..values.len() {
            if i != j {
                part *= (at - j as f64) / (i as f64 - j as f64);
            }
        }
        sum += part;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    fn sound(length: usize, period: f64, partials: &[(f64, f64)]) -> Vec<f32> {
        (0..length)
            .map(|i| {
                let turns = i as f64 / period;
                let at = |(n, size): &(f64, f64)| size * (TAU * n * turns + n).sin();
                partials.iter().map(at).sum::<f64>() as f32
            })
            .collect()
    }

    #[test]
    fn a_period_between_samples_is_found_with_or_without_its_fundamental() {
        let mut periods = Periods::new(432, 9, 190);
        for period in [10.3, 27.71, 61.5, 143.2] {
            for partials in [
                &[(1.0, 1.0), (2.0, 0.7), (3.0, 0.5)][..],
                &[(2.0, 0.7), (3.0, 0.5), (4.0, 0.3)][..],
            ] {
                if period < 20.0 && partials[0].0 > 1.0 {
                    continue;
                }
                periods.look(&sound(432, period, partials));
                let chosen = periods.chosen().expect("a period");
                let refined = periods.refined(chosen);
                assert!((refined.period / period - 1.0).abs() < 0.002, "{refined:?}");
                assert!(refined.clarity > 0.95, "{refined:?}");
            }
        }
    }

    #[test]
    fn silence_has_no_period() {
        let mut periods = Periods::new(432, 9, 190);
        assert!(periods.look(&[0.0; 432]).is_empty());
        assert_eq!(periods.chosen(), None);
    }
}
