//! From the microphone's rate down to the rate at which pitch is looked at.
//!
//! A windowed-sinc low-pass filter, evaluated only where a sample is kept
//! (Crochiere and Rabiner, "Multirate Digital Signal Processing", 1983).

use std::f64::consts::PI;

/// The rate aimed at: partials up to about 5.3 kHz are seen.
const AIM_HZ: f64 = 12_000.0;
/// Length of the filter on each side of its middle, in kept samples.
const HALF: usize = 12;

/// Keeps one sample in `factor`, after a low-pass filter.
#[derive(Debug, Clone)]
pub(crate) struct Decimator {
    factor: usize,
    taps: Vec<f32>,
    /// Written twice, so that the last samples always lie in one piece.
    past: Vec<f32>,
    at: usize,
    until_next: usize,
}

impl Decimator {
    pub fn new(rate_hz: f64) -> Decimator {
        let factor = ((rate_hz / AIM_HZ).round() as usize).max(1);
        let half = (HALF * factor) as f64;
        let length = 2 * HALF * factor + 1;
        let cut = 0.46 / factor as f64;
        let mut taps: Vec<f32> = (0..length)
            .map(|i| {
                let x = i as f64 - half;
                let sinc = if x == 0.0 {
                    2.0 * cut
                } else {
                    (2.0 * PI * cut * x).sin() / (PI * x)
                };
                let window = 0.42
                    + 0.5 * (PI * x / (half + 1.0)).cos()
                    + 0.08 * (2.0 * PI * x / (half + 1.0)).cos();
                (sinc * window) as f32
            })
            .collect();
        if factor == 1 {
            taps.fill(0.0);
            taps[HALF] = 1.0;
        }
        Decimator {
            factor,
            past: vec![0.0; 2 * taps.len()],
            taps,
            at: 0,
            until_next: 0,
        }
    }

    pub fn factor(&self) -> usize {
        self.factor
    }

    /// How far what comes out lags behind what went in, in samples that come
    /// out.
    pub fn delay(&self) -> f64 {
        HALF as f64
    }

    /// Takes one sample in; one in `factor` times, one comes out.
    pub fn push(&mut self, sample: f32) -> Option<f32> {
        let length = self.taps.len();
        self.past[self.at] = sample;
        self.past[self.at + length] = sample;
        self.at = if self.at + 1 == length {
            0
        } else {
            self.at + 1
        };
        if self.until_next > 0 {
            self.until_next -= 1;
            return None;
        }
        self.until_next = self.factor - 1;
        let past = &self.past[self.at..self.at + length];
        Some(dot(past, &self.taps))
    }

    pub fn forget(&mut self) {
        self.past.fill(0.0);
        self.until_next = 0;
    }
}

/// Sum of products, in four lanes so that it is done quickly.
pub(crate) fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut lanes = [0.0f32; 8];
    let (a8, a_rest) = a.as_chunks::<8>();
    let (b8, b_rest) = b.as_chunks::<8>();
    for (x, y) in a8.iter().zip(b8) {
        for lane in 0..8 {
            lanes[lane] += x[lane] * y[lane];
        }
    }
    let rest: f32 = a_rest.iter().zip(b_rest).map(|(x, y)| x * y).sum();
    lanes.iter().sum::<f32>() + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    fn gain_db(rate_hz: f64, tone_hz: f64) -> f64 {
        let mut decimator = Decimator::new(rate_hz);
        let out: Vec<f32> = (0..rate_hz as usize / 2)
            .filter_map(|i| decimator.push((2.0 * PI * tone_hz * i as f64 / rate_hz).sin() as f32))
            .skip(100)
            .collect();
        let power: f32 = out.iter().map(|x| x * x).sum::<f32>() / out.len() as f32;
        10.0 * f64::from(2.0 * power).log10()
    }

    #[test]
    fn lets_the_partials_through_and_keeps_the_rest_out() {
        for rate_hz in [44_100.0, 48_000.0, 96_000.0] {
            assert!(gain_db(rate_hz, 440.0).abs() < 0.1);
            assert!(gain_db(rate_hz, 4_000.0).abs() < 0.5);
            assert!(gain_db(rate_hz, 7_500.0) < -50.0, "{rate_hz}");
            assert!(gain_db(rate_hz, 15_000.0) < -60.0, "{rate_hz}");
        }
    }
}
