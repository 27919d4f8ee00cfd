//! The body: a few broad resonances between the string and the ear.

use std::f64::consts::TAU;

/// One resonance.
#[derive(Debug, Clone, Copy)]
pub(super) struct Resonance {
    /// Where it is strongest, in hertz.
    pub frequency_hz: f64,
    /// Its sharpness: frequency over width.
    pub q: f64,
    /// What it adds at its peak, as a part of the direct sound.
    pub gain: f64,
}

/// Passes `samples` through the modes side by side, with the direct sound.
pub(super) fn resonate(samples: &[f64], modes: &[Resonance], rate: f64) -> Vec<f64> {
    let mut out = samples.to_vec();
    for mode in modes {
        let mut filter = BandPass::new(mode, rate);
        for (y, x) in out.iter_mut().zip(samples) {
            *y += mode.gain * filter.next(*x);
        }
    }
    out
}

/// Takes the edge off above `corner_hz`: 6 dB an octave.
pub(super) fn soften(samples: &mut [f64], corner_hz: f64, rate: f64) {
    let keep = (-TAU * corner_hz / rate).exp();
    let mut state = 0.0;
    for x in samples {
        state = (1.0 - keep) * *x + keep * state;
        *x = state;
    }
}

/// A two-pole band-pass of unit gain at its centre: the bilinear transform of
/// `(s/q) / (s^2 + s/q + 1)`.
struct BandPass {
    b0: f64,
    a1: f64,
    a2: f64,
    x: [f64; 2],
    y: [f64; 2],
}

impl BandPass {
    fn new(mode: &Resonance, rate: f64) -> BandPass {
        let omega = TAU * mode.frequency_hz / rate;
        let alpha = omega.sin() / (2.0 * mode.q);
        let a0 = 1.0 + alpha;
        BandPass {
            b0: alpha / a0,
            a1: -2.0 * omega.cos() / a0,
            a2: (1.0 - alpha) / a0,
            x: [0.0; 2],
            y: [0.0; 2],
        }
    }

    fn next(&mut self, x: f64) -> f64 {
        let y = self.b0 * (x - self.x[1]) - self.a1 * self.y[0] - self.a2 * self.y[1];
        self.x = [x, self.x[0]];
        self.y = [y, self.y[0]];
        y
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mode_passes_its_own_frequency_and_little_else() {
        let mode = Resonance {
            frequency_hz: 650.0,
            q: 3.0,
            gain: 1.0,
        };
        let gain_at = |frequency_hz: f64| {
            let mut filter = BandPass::new(&mode, 48_000.0);
            let out: Vec<f64> = (0..48_000)
                .map(|n| filter.next((TAU * frequency_hz * f64::from(n) / 48_000.0).sin()))
                .collect();
            out[24_000..].iter().fold(0.0f64, |top, y| top.max(y.abs()))
        };
        assert!((gain_at(650.0) - 1.0).abs() < 0.01);
        assert!(gain_at(100.0) < 0.06 && gain_at(5000.0) < 0.06);
    }
}
