//! Windowed magnitude spectra, and the peaks in them.

use std::f32::consts::PI;
use std::fmt;
use std::sync::Arc;

use realfft::RealToComplex;
use realfft::num_complex::Complex;

use crate::transform::forward;

/// A Fourier transform of one length, with all its memory.
pub(crate) struct Spectrum {
    plan: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex<f32>>,
    scratch: Vec<Complex<f32>>,
    /// The window of so many samples, and its sum: many spectra in a row are as long.
    window: Vec<f32>,
    windowed: usize,
    weight: f32,
}

impl fmt::Debug for Spectrum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Spectrum({})", self.input.len())
    }
}

impl Spectrum {
    pub fn new(length: usize) -> Spectrum {
        let plan = forward(length);
        Spectrum {
            input: plan.make_input_vec(),
            output: plan.make_output_vec(),
            scratch: plan.make_scratch_vec(),
            window: vec![0.0; length],
            windowed: 0,
            weight: 0.0,
            plan,
        }
    }

    /// Number of bins that [`Spectrum::magnitudes`] gives.
    pub fn bins(&self) -> usize {
        self.output.len()
    }

    /// Magnitudes of `samples` times a Hann window, filled up with noughts; a
    /// sine of amplitude 1 that falls on a bin gives 1.
    pub fn magnitudes(&mut self, samples: &[f32], into: &mut [f32]) {
        let length = samples.len().min(self.input.len());
        if self.windowed != length {
            self.windowed = length;
            self.weight = 0.0;
            for (i, window) in self.window[..length].iter_mut().enumerate() {
                *window = hann(i, length);
                self.weight += *window;
            }
        }
        let windowed = samples.iter().zip(&self.window);
        for (to, (from, window)) in self.input.iter_mut().zip(windowed) {
            *to = from * window;
        }
        self.input[length..].fill(0.0);
        // The lengths are those the plan was made with, so it cannot fail.
        let done =
            self.plan
                .process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch);
        debug_assert!(done.is_ok());
        let scale = 2.0 / self.weight.max(1.0);
        for (to, from) in into.iter_mut().zip(&self.output) {
            let [re, im] = [from.re, from.im].map(f64::from);
            *to = (re * re + im * im).sqrt() as f32 * scale;
        }
    }
}

/// The lesser of two numbers that are numbers: `f32::min` heeds those that are none, and
/// is a call in WebAssembly.
pub(crate) fn lesser(a: f32, b: f32) -> f32 {
    if b < a { b } else { a }
}

/// The greater of two.
pub(crate) fn greater(a: f32, b: f32) -> f32 {
    if b > a { b } else { a }
}

/// The Hann window, nought just outside its ends.
pub(crate) fn hann(i: usize, length: usize) -> f32 {
    let x = (i as f32 + 0.5) / length as f32;
    0.5 - 0.5 * (2.0 * PI * x).cos()
}

/// A local maximum of a magnitude spectrum.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Peak {
    pub hz: f32,
    pub magnitude: f32,
    /// How far it stands above the floor there, as a ratio.
    pub above_floor: f32,
}

/// Top of the parabola through the logarithms of a bin and its neighbours, in
/// bins from the middle one, and the height there (J. O. Smith and X. Serra,
/// "PARSHL", ICMC 1987).
pub(crate) fn parabola(left: f32, middle: f32, right: f32) -> (f32, f32) {
    let (a, b, c) = (
        left.max(1e-12).ln(),
        middle.max(1e-12).ln(),
        right.max(1e-12).ln(),
    );
    let curve = a - 2.0 * b + c;
    if curve >= -1e-9 {
        return (0.0, middle);
    }
    let shift = (0.5 * (a - c) / curve).clamp(-0.5, 0.5);
    (shift, (b - 0.25 * (a - c) * shift).exp())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sine_between_bins_is_found_where_it_is() {
        let mut spectrum = Spectrum::new(4096);
        let mut magnitudes = vec![0.0; spectrum.bins()];
        let bin_hz = 12_000.0 / 4096.0;
        for hz in [440.0f32, 441.3, 1046.7] {
            let samples: Vec<f32> = (0..600)
                .map(|i| (2.0 * PI * hz * i as f32 / 12_000.0).sin())
                .collect();
            spectrum.magnitudes(&samples, &mut magnitudes);
            let top = (1..magnitudes.len() - 1)
                .max_by(|&a, &b| magnitudes[a].total_cmp(&magnitudes[b]))
                .unwrap();
            let (shift, height) =
                parabola(magnitudes[top - 1], magnitudes[top], magnitudes[top + 1]);
            assert!(((top as f32 + shift) * bin_hz - hz).abs() < 0.05);
            assert!((height - 1.0).abs() < 0.01);
        }
    }
}
