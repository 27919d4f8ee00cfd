//! Two readers of the pitch that go about it in other ways than the scores of
//! partials (`score`): where unlike readers agree, they are seldom wrong.
//!
//! One takes the spectrum after the onset less the spectrum before it, so that
//! what was ringing is gone whatever its phase, presses its loudness together and
//! looks for its spacing by autocorrelation (the generalised autocorrelation of T.
//! Tolonen and M. Karjalainen, "A computationally efficient multipitch analysis
//! model", IEEE Trans. Speech and Audio Processing 8:6, 2000). It needs no single
//! partial to be strong, and is led astray by subharmonics. The other looks at how
//! the wave repeats (`period`), and is led astray by a resonance that is louder
//! than the note.

use std::fmt;
use std::sync::Arc;

use realfft::RealToComplex;
use realfft::num_complex::Complex;

use crate::news::TRANSFORM;
use crate::period::Periods;
use crate::transform::forward;

/// The autocorrelation is taken in steps this many times finer than samples.
const FINER: usize = 4;
/// Power that loudness is pressed together with: between the 2/3 of magnitudes
/// that Tolonen and Karjalainen found best and a logarithm.
const PRESSED: f32 = 0.38;
/// Of the power before the onset, so many times are taken away: both are
/// estimates, and noise swings.
const TAKEN: f32 = 2.0;
/// A shorter period that is nearly as high as the highest is the period.
const NEARLY: f32 = 0.9;

/// One reader's pitch.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Read {
    /// Nought for none.
    pub hz: f64,
    /// How clear it is, up to 1.
    pub clarity: f64,
}

impl Read {
    /// Whether two readings are one note.
    pub fn agrees(&self, hz: f64) -> bool {
        self.hz > 0.0 && hz > 0.0 && (1200.0 * (self.hz / hz).log2()).abs() < ONE_NOTE_CENTS
    }
}

/// Readings of one note differ by less than this: a stiff string's partials lie
/// wide.
const ONE_NOTE_CENTS: f64 = 60.0;

/// Reads the spacing of what is new in a spectrum.
pub(crate) struct Spacing {
    plan: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    lags: std::ops::Range<usize>,
    rate_hz: f64,
}

impl fmt::Debug for Spacing {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Spacing({:?})", self.lags)
    }
}

impl Spacing {
    /// For pitches between two frequencies.
    pub fn new(rate_hz: f64, lowest_hz: f64, highest_hz: f64) -> Spacing {
        let plan = forward(TRANSFORM * FINER);
        let rate_hz = rate_hz * FINER as f64;
        Spacing {
            input: plan.make_input_vec(),
            output: plan.make_output_vec(),
            scratch: plan.make_scratch_vec(),
            lags: (rate_hz / highest_hz) as usize..(rate_hz / lowest_hz) as usize + 2,
            rate_hz,
            plan,
        }
    }

    /// Reads magnitudes from a bin on, less those before.
    pub fn read(&mut self, now: &[f32], before: &[f32], first: usize) -> Read {
        self.input.fill(0.0);
        let mut sum = 0.0f32;
        for bin in first..now.len() {
            let fresh = now[bin] * now[bin] - TAKEN * before[bin] * before[bin];
            let pressed = fresh.max(0.0).powf(PRESSED);
            self.input[bin] = pressed;
            sum += pressed;
        }
        if sum <= 0.0 {
            return Read::default();
        }
        // The lengths are those the plan was made with, so it cannot fail.
        let done =
            self.plan
                .process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch);
        debug_assert!(done.is_ok());
        let height = |lag: usize| self.output[lag].re;
        let is_peak =
            |&lag: &usize| height(lag) > height(lag - 1) && height(lag) >= height(lag + 1);
        let peaks = || self.lags.clone().filter(is_peak);
        let Some(highest) = peaks().map(height).reduce(f32::max) else {
            return Read::default();
        };
        let Some(lag) = peaks().find(|&lag| height(lag) >= NEARLY * highest) else {
            return Read::default();
        };
        let (a, b, c) = (height(lag - 1), height(lag), height(lag + 1));
        let bend = a - 2.0 * b + c;
        let shift = if bend < 0.0 {
            0.5 * (a - c) / bend
        } else {
            0.0
        };
        Read {
            hz: self.rate_hz / (lag as f64 + f64::from(shift)),
            clarity: f64::from(b / sum),
        }
    }
}

/// Reads how a wave repeats.
#[derive(Debug)]
pub(crate) struct Repeats {
    periods: Periods,
    longest: usize,
    rate_hz: f64,
}

impl Repeats {
    /// For pitches between two frequencies, and stretches of up to `longest`.
    pub fn new(rate_hz: f64, lowest_hz: f64, highest_hz: f64, longest: usize) -> Repeats {
        let most = (rate_hz / lowest_hz) as usize + 2;
        let longest = longest.max(2 * most);
        Repeats {
            periods: Periods::new(longest, ((rate_hz / highest_hz) as usize).max(4), most),
            longest,
            rate_hz,
        }
    }

    /// Reads the end of a stretch.
    pub fn read(&mut self, stretch: &[f32]) -> Read {
        let stretch = &stretch[stretch.len().saturating_sub(self.longest)..];
        if !self.periods.fits(stretch.len()) {
            return Read::default();
        }
        self.periods.look(stretch);
        let Some(chosen) = self.periods.chosen() else {
            return Read::default();
        };
        let refined = self.periods.refined(chosen);
        Read {
            hz: self.rate_hz / refined.period,
            clarity: chosen.clarity,
        }
    }
}
