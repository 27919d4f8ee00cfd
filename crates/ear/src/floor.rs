//! The steady noise under everything, tracked for each band.
//!
//! Minimum statistics (R. Martin, "Noise power spectral density estimation based
//! on optimal smoothing and minimum statistics", IEEE Trans. Speech and Audio
//! Processing 9:5, 2001): the least of the smoothed power over a second or two,
//! raised a little because a least lies below the mean.

use crate::spectrum::lesser;

/// Sub-spans that the span of the minimum is made of.
const SUB_SPANS: usize = 6;
/// How far the minimum of the smoothed power lies below its mean, as a factor
/// of power; measured with white noise in the tests.
const BIAS: f32 = 2.2;

/// Tracks the floor of a number of bands.
#[derive(Debug, Clone)]
pub(crate) struct Floor {
    smooth: Vec<f32>,
    current: Vec<f32>,
    past: [Vec<f32>; SUB_SPANS],
    /// The least of those.
    least: Vec<f32>,
    floor: Vec<f32>,
    steps: usize,
    sub_span: usize,
    sub_at: usize,
    smoothing: f32,
}

impl Floor {
    /// For some bands, with a step every `step_s` seconds and a span of
    /// `span_s` seconds.
    pub fn new(bands: usize, step_s: f64, span_s: f64) -> Floor {
        Floor {
            smooth: vec![0.0; bands],
            current: vec![f32::MAX; bands],
            past: std::array::from_fn(|_| vec![f32::MAX; bands]),
            least: vec![f32::MAX; bands],
            floor: vec![0.0; bands],
            steps: 0,
            sub_span: ((span_s / SUB_SPANS as f64 / step_s) as usize).max(1),
            sub_at: 0,
            smoothing: (step_s / 0.06) as f32,
        }
    }

    /// Takes in the power of each band.
    pub fn step(&mut self, powers: &[f32]) {
        let warming = 1.0 / (self.steps + 1) as f32;
        let smoothing = self.smoothing.max(warming);
        let smooth = self.smooth.iter_mut().zip(powers);
        let least = self.current.iter_mut().zip(&self.least);
        for ((floor, (smooth, power)), (current, before)) in
            self.floor.iter_mut().zip(smooth).zip(least)
        {
            *smooth += smoothing * (power - *smooth);
            *current = lesser(*current, *smooth);
            *floor = lesser(*current, *before) * BIAS;
        }
        self.steps += 1;
        if self.steps.is_multiple_of(self.sub_span) {
            self.past[self.sub_at].copy_from_slice(&self.current);
            self.current.fill(f32::MAX);
            self.sub_at = (self.sub_at + 1) % SUB_SPANS;
            self.least.fill(f32::MAX);
            for past in &self.past {
                for (least, past) in self.least.iter_mut().zip(past) {
                    *least = lesser(*least, *past);
                }
            }
        }
    }

    /// The floor of each band, in power.
    pub fn powers(&self) -> &[f32] {
        &self.floor
    }

    pub fn forget(&mut self) {
        self.steps = 0;
        self.current.fill(f32::MAX);
        self.least.fill(f32::MAX);
        for past in &mut self.past {
            past.fill(f32::MAX);
        }
    }
}
