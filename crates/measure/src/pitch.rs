//! The frequency of a fundamental, two ways.

use super::blackman_harris;
use rustfft::{FftPlanner, num_complex::Complex};
use std::f64::consts::TAU;

/// Left out at the start, where the pluck's noise and the body still ring, and
/// at the end, where the tone is drawn down; in seconds.
const SKIP_START_S: f64 = 0.02;
const SKIP_END_S: f64 = 0.07;

/// By phase: the tone is turned back at `near_hz`, averaged over windows of a
/// few periods, and a straight line is laid through the phases, each weighted by
/// its power. Tretter, "Estimating the frequency of a noisy sinusoid by linear
/// regression", IEEE Transactions on Information Theory 31:6 (1985). A falling
/// level does not bend the line, because it changes no phase.
///
/// `near_hz` must be within a semitone or so.
pub fn by_phase_hz(samples: &[f64], rate_hz: f64, near_hz: f64) -> f64 {
    // Neighbouring partials must fall outside the window's main lobe, which
    // reaches four bins either way.
    let length = ((8.0 / near_hz).max(0.02) * rate_hz).round() as usize;
    let window = blackman_harris(length);
    let start = (SKIP_START_S * rate_hz) as usize;
    let end = samples.len() - (SKIP_END_S * rate_hz) as usize;
    let mut estimate_hz = near_hz;
    for _ in 0..3 {
        let turned: Vec<Complex<f64>> = samples[..end]
            .iter()
            .enumerate()
            .map(|(n, x)| Complex::from_polar(*x, -TAU * estimate_hz * n as f64 / rate_hz))
            .collect();
        let mut points: Vec<(f64, f64, f64)> = Vec::new();
        for from in (start..end.saturating_sub(length)).step_by(length / 8) {
            let sum: Complex<f64> = turned[from..].iter().zip(&window).map(|(x, w)| x * w).sum();
            let phase = match points.last() {
                None => sum.arg(),
                // The nearest turn to the one before.
                Some((_, last, _)) => last + (sum.arg() - last + TAU * 1000.5) % TAU - TAU / 2.0,
            };
            points.push((from as f64 / rate_hz, phase, sum.norm_sqr()));
        }
        estimate_hz += slope(&points) / TAU;
    }
    estimate_hz
}

/// The weighted least-squares slope of `(x, y, weight)`.
fn slope(points: &[(f64, f64, f64)]) -> f64 {
    let total: f64 = points.iter().map(|p| p.2).sum();
    let mean_x = points.iter().map(|p| p.0 * p.2).sum::<f64>() / total;
    let mean_y = points.iter().map(|p| p.1 * p.2).sum::<f64>() / total;
    let over: f64 = points
        .iter()
        .map(|p| p.2 * (p.0 - mean_x) * (p.1 - mean_y))
        .sum();
    let under: f64 = points.iter().map(|p| p.2 * (p.0 - mean_x).powi(2)).sum();
    over / under
}

/// By spectrum: a windowed, zero-padded transform, and a parabola through the
/// three highest points of its logarithm. Gasior and Gonzalez, "Improving FFT
/// frequency measurement resolution by parabolic and Gaussian spectrum
/// interpolation", AIP Conference Proceedings 732 (2004).
///
/// `near_hz` must be within a semitone or so.
pub fn by_spectrum_hz(samples: &[f64], rate_hz: f64, near_hz: f64) -> f64 {
    let start = (SKIP_START_S * rate_hz) as usize;
    let length = ((24.0 / near_hz).max(0.25) * rate_hz) as usize;
    let part = &samples[start..(start + length).min(samples.len())];
    let size = (part.len() * 16).next_power_of_two();
    let mut bins: Vec<Complex<f64>> = part
        .iter()
        .zip(blackman_harris(part.len()))
        .map(|(x, w)| Complex::new(x * w, 0.0))
        .collect();
    bins.resize(size, Complex::new(0.0, 0.0));
    FftPlanner::new().plan_fft_forward(size).process(&mut bins);
    let at = |hz: f64| (hz * size as f64 / rate_hz).round() as usize;
    let peak = (at(near_hz / 1.06)..=at(near_hz * 1.06))
        .max_by(|a, b| bins[*a].norm_sqr().total_cmp(&bins[*b].norm_sqr()))
        .expect("a range of bins");
    let level = |bin: usize| bins[bin].norm_sqr().ln();
    let (below, here, above) = (level(peak - 1), level(peak), level(peak + 1));
    let shift = 0.5 * (below - above) / (below - 2.0 * here + above);
    (peak as f64 + shift) * rate_hz / size as f64
}

/// The first time, in seconds, at which the level passes a part of the highest.
pub fn onset_s(samples: &[f64], rate_hz: f64, part: f64) -> Option<f64> {
    let top = samples.iter().fold(0.0f64, |top, x| top.max(x.abs()));
    samples
        .iter()
        .position(|x| x.abs() > part * top)
        .map(|n| n as f64 / rate_hz)
}
