//! The row of a string's partials, each measured by how far its phase turns
//! between two spectra (Flanagan and Golden, "Phase vocoder", Bell Syst. Tech.
//! J. 45:1493, 1966). A partial's decay turns no phase, so it does no harm.

use std::f64::consts::{PI, TAU};
use std::sync::Arc;

use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};

use crate::EarDoubt;

/// Length of the transform: longer than any stretch.
const SIZE: usize = 4096;
/// Partials that are looked for, and the highest place of one, in hertz.
const MOST_PARTIALS: usize = 14;
const HIGHEST_PARTIAL_HZ: f64 = 5_000.0;
/// A partial softer than this beside the strongest is not there, in dB.
const FAINTEST_DB: f64 = -46.0;
/// What lies beside the row may be this loud beside the strongest, in dB.
const BESIDE_DB: f64 = -16.0;
/// The first partial may be this much softer than the strongest before the row
/// must have no gaps.
const FIRST_DB: f64 = -30.0;
/// Partials of one string agree within this, in cents.
const AGREEMENT_CENTS: f64 = 4.0;
/// Stiffest string: more than any that is plucked (Fletcher and Rossing, "The
/// Physics of Musical Instruments", give up to about 1e-3).
const STIFFEST: f64 = 3e-3;
/// A partial that is louder than this part of the strongest weighs no more.
const WEIGHED_ALIKE: f64 = 0.25;

/// A string, as its partials show it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Row {
    /// Where the first partial lies, in hertz.
    pub first_hz: f64,
}

#[derive(Debug, Clone, Copy)]
struct Partial {
    number: f64,
    hz: f64,
    size: f64,
}

/// Two spectra of one sound, a short time apart.
pub(super) struct Spectra {
    rate_hz: f64,
    transform: Arc<dyn RealToComplex<f32>>,
    window: Vec<f32>,
    input: Vec<f32>,
    scratch: Vec<Complex<f32>>,
    early: Vec<Complex<f32>>,
    late: Vec<Complex<f32>>,
    /// Samples from one to the other, and in each.
    apart: usize,
    length: usize,
    partials: Vec<Partial>,
}

impl Spectra {
    pub fn new(rate_hz: f64, longest: usize) -> Spectra {
        debug_assert!(longest <= SIZE);
        let transform = RealFftPlanner::<f32>::new().plan_fft_forward(SIZE);
        Spectra {
            rate_hz,
            window: vec![0.0; longest],
            input: transform.make_input_vec(),
            scratch: transform.make_scratch_vec(),
            early: transform.make_output_vec(),
            late: transform.make_output_vec(),
            transform,
            apart: 0,
            length: 0,
            partials: Vec::with_capacity(MOST_PARTIALS),
        }
    }

    /// Takes a stretch of sound in.
    pub fn look(&mut self, stretch: &[f32]) {
        let apart = stretch.len() / 4;
        let length = stretch.len() - apart;
        if length != self.length {
            for (i, weight) in self.window[..length].iter_mut().enumerate() {
                let turn = TAU * (i as f64 + 0.5) / length as f64;
                *weight = (0.5 - 0.5 * turn.cos()) as f32;
            }
        }
        (self.apart, self.length) = (apart, length);
        for late in [false, true] {
            let from = if late { apart } else { 0 };
            self.input.fill(0.0);
            let pairs = stretch[from..from + length].iter().zip(&self.window);
            for (slot, (x, weight)) in self.input.iter_mut().zip(pairs) {
                *slot = x * weight;
            }
            let output = if late {
                &mut self.late
            } else {
                &mut self.early
            };
            // The lengths are those that the transform itself made.
            let done =
                self.transform
                    .process_with_scratch(&mut self.input, output, &mut self.scratch);
            debug_assert!(done.is_ok());
        }
    }

    /// Where the strongest partial lies, roughly, in hertz.
    pub fn loudest_hz(&self) -> f64 {
        let size = |bin: &usize| self.late[*bin].norm();
        let loudest = (1..self.late.len()).max_by(|a, b| size(a).total_cmp(&size(b)));
        loudest.unwrap_or(0) as f64 * self.rate_hz / SIZE as f64
    }

    /// The row whose first partial lies near a frequency, if one string alone
    /// sounds.
    pub fn row(&mut self, near_hz: f64) -> Result<Row, EarDoubt> {
        let strongest = self.strongest(0.7 * near_hz, HIGHEST_PARTIAL_HZ, |_| false);
        if strongest <= 0.0 {
            return Err(EarDoubt::NoClearPitch);
        }
        let faintest = strongest * from_db(FAINTEST_DB);
        let mut string = StiffString {
            ideal_hz: near_hz,
            stiffness: 0.0,
        };
        self.partials.clear();
        for number in 1..=MOST_PARTIALS {
            let number = number as f64;
            let expected = string.partial_hz(number);
            if expected > HIGHEST_PARTIAL_HZ {
                break;
            }
            if let Some(partial) = self.partial(number, expected, 0.2 * near_hz, faintest) {
                self.partials.push(partial);
                string = StiffString::through(&self.partials, strongest).unwrap_or(string);
            }
        }
        if self.partials.is_empty() {
            return Err(EarDoubt::NoClearPitch);
        }
        let lobe_hz = 2.2 * self.rate_hz / self.length as f64;
        let beside = self.strongest(0.4 * near_hz, HIGHEST_PARTIAL_HZ, |hz| {
            let number = (hz / string.ideal_hz).round().max(1.0);
            let neighbours = [number - 1.0, number, number + 1.0];
            neighbours
                .iter()
                .any(|n| *n > 0.0 && (string.partial_hz(*n) - hz).abs() < lobe_hz)
        });
        if beside > strongest * from_db(BESIDE_DB)
            || self.has_gaps(strongest)
            || string.disagreement(&self.partials, strongest) > AGREEMENT_CENTS
        {
            return Err(EarDoubt::SeveralNotes);
        }
        Ok(Row {
            first_hz: string.partial_hz(1.0),
        })
    }

    /// Two strings a fifth or a third apart have a row in common, one or two
    /// octaves below: with most of its partials missing, the first among them.
    fn has_gaps(&self, strongest: f64) -> bool {
        let first = self.partials[0];
        if first.number == 1.0 && first.size >= strongest * from_db(FIRST_DB) {
            return false;
        }
        let last = self.partials.last().map_or(1.0, |last| last.number);
        let there = self.partials.iter().filter(|p| p.number > 1.0).count() as f64;
        // Where the pick struck, a string has a partial less.
        let allowed = (last / 6.0).floor();
        last < 4.0 || last - 1.0 - there > allowed
    }

    /// A partial near where it is expected.
    fn partial(&self, number: f64, expected: f64, reach_hz: f64, faintest: f64) -> Option<Partial> {
        let bin_hz = self.rate_hz / SIZE as f64;
        let reach_hz = reach_hz.min(0.03 * expected).max(bin_hz);
        let low = ((expected - reach_hz) / bin_hz).floor() as usize;
        let high = ((expected + reach_hz) / bin_hz).ceil() as usize;
        let high = high.min(self.late.len() - 2);
        let size = |bin: usize| f64::from(self.late[bin].norm());
        let bin = (low.max(1)..=high).max_by(|a, b| size(*a).total_cmp(&size(*b)))?;
        if size(bin) < faintest || size(bin) < size(bin - 1) || size(bin) < size(bin + 1) {
            return None;
        }
        let turned = f64::from((self.late[bin] * self.early[bin].conj()).arg());
        let middle = TAU * bin as f64 * self.apart as f64 / SIZE as f64;
        let beyond = (turned - middle + PI).rem_euclid(TAU) - PI;
        Some(Partial {
            number,
            hz: bin as f64 * bin_hz + beyond / (TAU * self.apart as f64) * self.rate_hz,
            size: size(bin),
        })
    }

    fn strongest(&self, from_hz: f64, until_hz: f64, except: impl Fn(f64) -> bool) -> f64 {
        let bin_hz = self.rate_hz / SIZE as f64;
        let from = (from_hz / bin_hz).ceil() as usize;
        let until = ((until_hz / bin_hz) as usize).min(self.late.len() - 1);
        (from..=until)
            .filter(|bin| !except(*bin as f64 * bin_hz))
            .map(|bin| f64::from(self.late[bin].norm()))
            .fold(0.0, f64::max)
    }
}

/// A stiff string.
#[derive(Debug, Clone, Copy)]
struct StiffString {
    /// Frequency without stiffness, in hertz.
    ideal_hz: f64,
    stiffness: f64,
}

impl StiffString {
    fn partial_hz(self, number: f64) -> f64 {
        number * self.ideal_hz * (1.0 + self.stiffness * number * number).sqrt()
    }

    /// The string that fits partials best: (hz/n)² is a straight line over n².
    fn through(partials: &[Partial], strongest: f64) -> Option<StiffString> {
        let [mut w, mut wx, mut wy, mut wxx, mut wxy] = [0.0; 5];
        for partial in partials {
            let weight = weight(partial, strongest);
            let x = partial.number * partial.number;
            let y = (partial.hz / partial.number).powi(2);
            w += weight;
            wx += weight * x;
            wy += weight * y;
            wxx += weight * x * x;
            wxy += weight * x * y;
        }
        let spread = w * wxx - wx * wx;
        let knows_slope = partials.len() > 2 || partials[0].number == 1.0;
        let slope = if knows_slope && spread > 1e-9 * w * wxx {
            (w * wxy - wx * wy) / spread
        } else {
            0.0
        };
        let flat = wy / w;
        let slope = slope.clamp(0.0, STIFFEST * flat);
        let ideal = (wy - slope * wx) / w;
        (ideal > 0.0).then(|| StiffString {
            ideal_hz: ideal.sqrt(),
            stiffness: slope / ideal,
        })
    }

    /// How far partials lie off the string, in cents.
    fn disagreement(self, partials: &[Partial], strongest: f64) -> f64 {
        let (mut sum, mut weights) = (0.0, 0.0);
        for partial in partials {
            let weight = partial.size.min(WEIGHED_ALIKE * strongest);
            let cents = 1200.0 * (partial.hz / self.partial_hz(partial.number)).log2();
            sum += weight * cents * cents;
            weights += weight;
        }
        (sum / weights).sqrt()
    }
}

/// What a partial counts: a phase is the surer the stronger it is, and the
/// higher its number the less an error matters.
fn weight(partial: &Partial, strongest: f64) -> f64 {
    let size = partial.size.min(WEIGHED_ALIKE * strongest) / strongest;
    (partial.number * size).powi(2)
}

fn from_db(db: f64) -> f64 {
    10f64.powf(db / 20.0)
}
