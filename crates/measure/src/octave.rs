//! Which octave a listener is likely to hear, by two estimators that know
//! nothing of the note: one in time, one in frequency.

use super::spectrum;
use rustfft::{FftPlanner, num_complex::Complex};

/// The range that both search, in hertz: an octave and more beyond any note
/// under test, so that a wrong octave can be found either way.
const SEARCH_HZ: std::ops::RangeInclusive<f64> = 30.0..=5000.0;

/// By the normalised square difference of the tone with itself, first high peak:
/// McLeod and Wyvill, "A smarter way to find pitch", ICMC 2005.
pub fn by_self_likeness_hz(samples: &[f64], rate_hz: f64) -> f64 {
    let part = &samples[..(0.15 * rate_hz) as usize];
    let longest = (rate_hz / SEARCH_HZ.start()) as usize;
    let likeness = self_likeness(part, longest);
    // Peaks are looked for after the first fall below zero, as published.
    let first_fall = likeness
        .iter()
        .position(|x| *x < 0.0)
        .unwrap_or(longest - 1);
    let mut peaks: Vec<(usize, f64)> = Vec::new();
    let mut best: Option<(usize, f64)> = None;
    for (lag, here) in likeness.iter().enumerate().take(longest).skip(first_fall) {
        if *here > 0.0 {
            if best.is_none_or(|(_, top)| *here > top) {
                best = Some((lag, *here));
            }
        } else {
            peaks.extend(best.take());
        }
    }
    peaks.extend(best);
    let top = peaks.iter().fold(0.0f64, |top, (_, x)| top.max(*x));
    let lag = peaks
        .iter()
        .find(|(_, x)| *x > 0.9 * top)
        .expect("a tone resembles itself")
        .0;
    let (below, here, above) = (likeness[lag - 1], likeness[lag], likeness[lag + 1]);
    let shift = 0.5 * (below - above) / (below - 2.0 * here + above);
    rate_hz / (lag as f64 + shift)
}

/// `2 * sum(x[n] x[n + lag]) / sum(x[n]^2 + x[n + lag]^2)` for each lag.
fn self_likeness(part: &[f64], lags: usize) -> Vec<f64> {
    let size = (part.len() * 2).next_power_of_two();
    let mut bins: Vec<Complex<f64>> = part.iter().map(|x| Complex::new(*x, 0.0)).collect();
    bins.resize(size, Complex::new(0.0, 0.0));
    let mut planner = FftPlanner::new();
    planner.plan_fft_forward(size).process(&mut bins);
    for bin in &mut bins {
        *bin = Complex::new(bin.norm_sqr() / size as f64, 0.0);
    }
    planner.plan_fft_inverse(size).process(&mut bins);
    let mut squares = 2.0 * part.iter().map(|x| x * x).sum::<f64>();
    (0..=lags)
        .map(|lag| {
            let likeness = 2.0 * bins[lag].re / squares.max(1e-30);
            squares -= part[lag].powi(2) + part[part.len() - 1 - lag].powi(2);
            likeness
        })
        .collect()
}

/// By subharmonic summation: the frequency whose multiples, each weighing 0.84
/// of the one before, hold the most. Hermes, "Measurement of pitch by
/// subharmonic summation", JASA 83:257 (1988).
pub fn by_harmonic_sum_hz(samples: &[f64], rate_hz: f64) -> f64 {
    let power = spectrum::power(samples, rate_hz, 0.25);
    let width_hz = power[1].0;
    let amplitude = |hz: f64| {
        let bin = (hz / width_hz).round() as usize;
        power.get(bin).map_or(0.0, |(_, power)| power.sqrt())
    };
    let steps = (48.0 * (SEARCH_HZ.end() / SEARCH_HZ.start()).log2()) as i32;
    let score = |hz: f64| -> f64 {
        (1..=15)
            .map(|number| 0.84f64.powi(number - 1) * amplitude(hz * f64::from(number)))
            .sum()
    };
    (0..=steps)
        .map(|step| SEARCH_HZ.start() * 2f64.powf(f64::from(step) / 48.0))
        .max_by(|a, b| score(*a).total_cmp(&score(*b)))
        .expect("a range of steps")
}
