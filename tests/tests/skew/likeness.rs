//! How much later one channel holds what another holds: their cross-correlation.

use rustfft::{FftPlanner, num_complex::Complex};

/// Lag of `later` behind `first` in samples (below nought: ahead), and how alike
/// they are there, 1 for the same sound and 0 for none. The peak is refined by a
/// parabola through its neighbours.
pub fn lag(first: &[f64], later: &[f64]) -> (f64, f64) {
    let length = first.len().max(later.len());
    let size = (2 * length).next_power_of_two();
    let mut planner = FftPlanner::new();
    let forward = planner.plan_fft_forward(size);
    let spectrum = |samples: &[f64]| {
        let mut bins: Vec<Complex<f64>> = samples.iter().map(|x| Complex::new(*x, 0.0)).collect();
        bins.resize(size, Complex::new(0.0, 0.0));
        forward.process(&mut bins);
        bins
    };
    let mut product: Vec<Complex<f64>> = spectrum(first)
        .iter()
        .zip(spectrum(later))
        .map(|(a, b)| a.conj() * b)
        .collect();
    planner.plan_fft_inverse(size).process(&mut product);
    let at = |lag: i64| product[lag.rem_euclid(size as i64) as usize].re / size as f64;
    let furthest = length as i64 - 1;
    let peak = (-furthest..=furthest)
        .max_by(|a, b| at(*a).total_cmp(&at(*b)))
        .expect("there are lags");
    let (below, here, above) = (at(peak - 1), at(peak), at(peak + 1));
    let bend = below - 2.0 * here + above;
    let shift = if bend < 0.0 {
        0.5 * (below - above) / bend
    } else {
        0.0
    };
    let energy = |samples: &[f64]| samples.iter().map(|x| x * x).sum::<f64>();
    let both = (energy(first) * energy(later)).sqrt().max(1e-30);
    (peak as f64 + shift, here / both)
}
