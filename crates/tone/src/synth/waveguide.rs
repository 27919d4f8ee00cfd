//! A string as a loop: what leaves comes round again one period later, a little
//! weaker and duller.
//!
//! Jaffe and Smith, "Extensions of the Karplus-Strong Plucked-String
//! Algorithm", Computer Music Journal 7:2 (1983): the loop holds a delay of
//! whole samples, a loss filter and a fractional delay, and its whole phase
//! delay at the fundamental must be one period. Here loss and fraction are one
//! short filter of symmetric (so exactly linear-phase) Gaussian taps convolved
//! with a fifth-order Lagrange interpolator, and the fraction is solved for the
//! decaying pole itself, not for the undamped one: a banjo string loses enough
//! in one period for that to matter.

use std::f64::consts::TAU;

/// How fast a string falls, by frequency.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fall {
    /// Decibels per second at every frequency.
    pub flat_db_per_s: f64,
    /// More decibels per second at [`DULL_HZ`], growing as frequency squared.
    pub dull_db_per_s: f64,
}

/// Where [`Fall::dull_db_per_s`] is given.
pub(super) const DULL_HZ: f64 = 3000.0;

/// A tuned loop: `y[n] = x[n] + sum over j of taps[j] * y[n - delay - j]`.
#[derive(Debug, Clone)]
pub(super) struct Waveguide {
    delay: usize,
    taps: Vec<f64>,
}

impl Waveguide {
    /// The loop whose lowest mode has that frequency and fall.
    ///
    /// `frequency_hz` must leave at least seven samples in a period.
    pub(super) fn tuned(frequency_hz: f64, fall: Fall, rate: f64) -> Waveguide {
        let loss = gaussian_taps(dull_spread_s(frequency_hz, fall) * rate);
        let centre = (loss.len() / 2) as f64;
        let omega = TAU * frequency_hz / rate;
        let dull_here = fall.dull_db_per_s * (frequency_hz / DULL_HZ).powi(2);
        let fall_per_sample = (fall.flat_db_per_s + dull_here) / rate;
        let pole = Pole {
            omega,
            inverse_radius: 10f64.powf(fall_per_sample / 20.0),
        };

        // A fifth-order interpolator is at its best between its third and fourth
        // taps, where it also never amplifies.
        let period = TAU / omega;
        let delay = (period - centre - 2.0).floor();
        let mut fraction = period - centre - delay;
        for _ in 0..4 {
            // The angle is all but straight in the fraction, with slope -omega.
            let (_, angle) = pole.response(&convolve(&loss, &lagrange_taps(fraction)), delay);
            fraction += angle / omega;
        }
        let mut taps = convolve(&loss, &lagrange_taps(fraction));
        let (magnitude, _) = pole.response(&taps, delay);
        for tap in &mut taps {
            *tap /= magnitude;
        }
        Waveguide {
            delay: delay as usize,
            taps,
        }
    }

    /// The string's motion when driven by `drive`, for that many frames.
    pub(super) fn ring(&self, drive: &[f64], frames: usize) -> Vec<f64> {
        let mut motion = vec![0.0; frames];
        let reach = self.delay + self.taps.len() - 1;
        let mut reversed = self.taps.clone();
        reversed.reverse();
        for n in 0..frames {
            let returned: f64 = if n >= reach {
                let past = &motion[n - reach..n - self.delay + 1];
                past.iter().zip(&reversed).map(|(y, tap)| y * tap).sum()
            } else {
                self.taps
                    .iter()
                    .enumerate()
                    .filter(|(j, _)| n >= self.delay + j)
                    .map(|(j, tap)| tap * motion[n - self.delay - j])
                    .sum()
            };
            motion[n] = returned + drive.get(n).copied().unwrap_or(0.0);
        }
        motion
    }
}

/// A point inside the unit circle.
struct Pole {
    omega: f64,
    inverse_radius: f64,
}

impl Pole {
    /// Magnitude and angle there of `taps` behind a delay.
    fn response(&self, taps: &[f64], delay: f64) -> (f64, f64) {
        // The delay turns by nearly one circle; only the small rest matters.
        let (mut re, mut im) = (0.0, 0.0);
        for (j, tap) in taps.iter().enumerate() {
            let samples = delay + j as f64;
            let grown = tap * self.inverse_radius.powf(samples);
            re += grown * (self.omega * samples).cos();
            im -= grown * (self.omega * samples).sin();
        }
        (re.hypot(im), im.atan2(re))
    }
}

/// The spread of the Gaussian, in seconds, that loses `dull_db_per_s` at
/// [`DULL_HZ`] when passed once each period: its response is
/// `exp(-(omega * spread)^2 / 2)`, so its loss in decibels grows as frequency
/// squared.
fn dull_spread_s(frequency_hz: f64, fall: Fall) -> f64 {
    let db_per_period = fall.dull_db_per_s / frequency_hz;
    let nepers = db_per_period * std::f64::consts::LN_10 / 20.0;
    (2.0 * nepers).sqrt() / (TAU * DULL_HZ)
}

/// Symmetric taps that sum to one.
fn gaussian_taps(spread: f64) -> Vec<f64> {
    if spread < 0.6 {
        // Too narrow to sample: three taps of the same second moment.
        let side = spread * spread / 2.0;
        return vec![side, 1.0 - 2.0 * side, side];
    }
    let half = (4.5 * spread).ceil() as i64;
    let taps: Vec<f64> = (-half..=half)
        .map(|n| (-0.5 * (n as f64 / spread).powi(2)).exp())
        .collect();
    let sum: f64 = taps.iter().sum();
    taps.into_iter().map(|tap| tap / sum).collect()
}

/// Lagrange's interpolator through six samples, `fraction` behind the newest.
/// Laakso, Välimäki, Karjalainen and Laine, "Splitting the unit delay", IEEE
/// Signal Processing Magazine 13:1 (1996), equation 42.
fn lagrange_taps(fraction: f64) -> Vec<f64> {
    (0..6)
        .map(|n| {
            (0..6)
                .filter(|k| *k != n)
                .map(|k| (fraction - f64::from(k)) / f64::from(n - k))
                .product()
        })
        .collect()
}

fn convolve(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut out = vec![0.0; a.len() + b.len() - 1];
    for (i, x) in a.iter().enumerate() {
        for (j, y) in b.iter().enumerate() {
            out[i + j] += x * y;
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    const FALL: Fall = Fall {
        flat_db_per_s: 80.0,
        dull_db_per_s: 200.0,
    };

    #[test]
    fn the_interpolator_is_exact_on_polynomials_it_should_be_exact_on() {
        let taps = lagrange_taps(2.37);
        for power in 0..=5 {
            let value: f64 = taps
                .iter()
                .enumerate()
                .map(|(n, tap)| tap * (-(n as f64)).powi(power))
                .sum();
            assert!(
                (value - (-2.37f64).powi(power)).abs() < 1e-9,
                "power {power}"
            );
        }
    }

    #[test]
    fn no_mode_of_any_loop_grows() {
        for rate in [32_000.0, 44_100.0, 192_000.0] {
            for frequency_hz in [24.0, 73.4, 440.0, 2093.0, 4500.0] {
                let string = Waveguide::tuned(frequency_hz, FALL, rate);
                for step in 0..=2000 {
                    let omega = std::f64::consts::PI * f64::from(step) / 2000.0;
                    let on_circle = Pole {
                        omega,
                        inverse_radius: 1.0,
                    };
                    let (gain, _) = on_circle.response(&string.taps, string.delay as f64);
                    assert!(gain < 1.0, "{frequency_hz} Hz at {rate}: {gain} at {omega}");
                }
            }
        }
    }

    #[test]
    fn the_string_falls_as_fast_as_asked() {
        let (frequency_hz, rate) = (220.0, 48_000.0);
        let string = Waveguide::tuned(frequency_hz, FALL, rate);
        let motion = string.ring(&[1.0], 48_000);
        // The lowest mode alone, over whole periods at 220 Hz.
        let level = |from_s: f64| -> f64 {
            let from = (from_s * rate) as usize;
            let (mut re, mut im) = (0.0, 0.0);
            for (n, y) in motion.iter().enumerate().skip(from).take(4800) {
                let window = 0.5 - 0.5 * (TAU * (n - from) as f64 / 4800.0).cos();
                let angle = TAU * frequency_hz * n as f64 / rate;
                re += window * y * angle.cos();
                im += window * y * angle.sin();
            }
            20.0 * re.hypot(im).log10()
        };
        let fall = (level(0.2) - level(0.5)) / 0.3;
        let asked = FALL.flat_db_per_s + FALL.dull_db_per_s * (frequency_hz / DULL_HZ).powi(2);
        assert!((fall - asked).abs() < 0.2, "{fall} against {asked} dB/s");
    }
}
