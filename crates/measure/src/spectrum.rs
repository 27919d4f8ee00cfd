//! Levels: of partials, of a whole tone as the ear weighs it, over time.

use super::blackman_harris;
use rustfft::{FftPlanner, num_complex::Complex};

/// Power at each frequency of the first `seconds`: pairs of hertz and power, up
/// to half the rate. Windowed, so that partials stand apart.
pub fn power(samples: &[f64], rate_hz: f64, seconds: f64) -> Vec<(f64, f64)> {
    let length = ((seconds * rate_hz) as usize).min(samples.len());
    windowed_power(&samples[..length], rate_hz, &blackman_harris(length))
}

/// The same without a window: the powers add up to the mean square of just that
/// part, its loud beginning included.
pub fn flat_power(samples: &[f64], rate_hz: f64, seconds: f64) -> Vec<(f64, f64)> {
    let length = ((seconds * rate_hz) as usize).min(samples.len());
    windowed_power(&samples[..length], rate_hz, &vec![1.0; length])
}

fn windowed_power(part: &[f64], rate_hz: f64, window: &[f64]) -> Vec<(f64, f64)> {
    let size = (part.len() * 2).next_power_of_two();
    let window_power: f64 = window.iter().map(|w| w * w).sum();
    let mut bins: Vec<Complex<f64>> = part
        .iter()
        .zip(window)
        .map(|(x, w)| Complex::new(x * w, 0.0))
        .collect();
    bins.resize(size, Complex::new(0.0, 0.0));
    FftPlanner::new().plan_fft_forward(size).process(&mut bins);
    bins.iter()
        .take(size / 2)
        .enumerate()
        .map(|(bin, value)| {
            let hz = bin as f64 * rate_hz / size as f64;
            (hz, 2.0 * value.norm_sqr() / (window_power * size as f64))
        })
        .collect()
}

/// The level of each partial in decibels: the power within a quarter of the
/// fundamental either side, from the first partial up, as far as 16 kHz.
pub fn partials_db(power: &[(f64, f64)], fundamental_hz: f64) -> Vec<f64> {
    (1..)
        .map(f64::from)
        .take_while(|number| number * fundamental_hz < 16_000.0)
        .map(|number| {
            let sum: f64 = power
                .iter()
                .filter(|(hz, _)| (hz / fundamental_hz - number).abs() < 0.25)
                .map(|(_, power)| power)
                .sum();
            10.0 * sum.log10()
        })
        .collect()
}

/// Where the spectrum balances: the mean frequency, weighted by amplitude.
pub fn centroid_hz(power: &[(f64, f64)]) -> f64 {
    let (mut over, mut under) = (0.0, 0.0);
    for (hz, power) in power {
        over += hz * power.sqrt();
        under += power.sqrt();
    }
    over / under
}

/// A-weighting in decibels, IEC 61672-1:2013, annex E.
pub fn a_weight_db(hz: f64) -> f64 {
    let f2 = hz * hz;
    let response = 12_194f64.powi(2) * f2 * f2
        / ((f2 + 20.6f64.powi(2))
            * ((f2 + 107.7f64.powi(2)) * (f2 + 737.9f64.powi(2))).sqrt()
            * (f2 + 12_194f64.powi(2)));
    20.0 * response.log10() + 2.0
}

/// K-weighting in decibels: the two filters of ITU-R BS.1770-4, annex 1, tables
/// 1 and 2, which are given for 48 kHz.
pub fn k_weight_db(hz: f64) -> f64 {
    let shelf = (
        [
            1.535_124_859_586_97,
            -2.691_696_189_406_38,
            1.198_392_810_852_85,
        ],
        [1.0, -1.690_659_293_182_41, 0.732_480_774_215_85],
    );
    let high_pass = (
        [1.0, -2.0, 1.0],
        [1.0, -1.990_047_454_833_98, 0.990_072_250_366_21],
    );
    let turn = Complex::from_polar(1.0, -std::f64::consts::TAU * hz / 48_000.0);
    let at = |taps: [f64; 3]| turn * (turn * taps[2] + taps[1]) + taps[0];
    let gain = |(over, under): ([f64; 3], [f64; 3])| (at(over) / at(under)).norm();
    20.0 * (gain(shelf) * gain(high_pass)).log10()
}

/// The level of a spectrum under a weighting, in decibels.
pub fn weighted_db(power: &[(f64, f64)], weight_db: fn(f64) -> f64) -> f64 {
    let sum: f64 = power
        .iter()
        .filter(|(hz, _)| *hz > 10.0)
        .map(|(hz, power)| power * 10f64.powf(weight_db(*hz) / 10.0))
        .sum();
    10.0 * sum.log10()
}

/// How long until the level (root mean square over 20 ms) has fallen that far
/// below its highest for good, in seconds.
pub fn fall_s(samples: &[f64], rate_hz: f64, db: f64) -> f64 {
    let block = (0.02 * rate_hz) as usize;
    let levels: Vec<f64> = samples
        .chunks(block)
        .map(|block| block.iter().map(|x| x * x).sum::<f64>() / block.len() as f64)
        .collect();
    let top = levels.iter().copied().fold(0.0, f64::max);
    let limit = top * 10f64.powf(-db / 10.0);
    let last = levels.iter().rposition(|level| *level > limit).unwrap_or(0);
    (last + 1) as f64 * 0.02
}
