//! Fourier transforms of real samples, of lengths that are powers of two.
//!
//! Where the program comes over a network, as the page in a browser does, all the
//! ways there are to transform any length weigh more than the rest of the ear: there
//! it has one, half as long and complex (W. Press et al., "Numerical Recipes", 3rd ed.,
//! section 12.3.2).

use std::sync::Arc;

use realfft::RealToComplex;

/// A transform of that length.
#[cfg(not(target_arch = "wasm32"))]
pub(crate) fn forward(length: usize) -> Arc<dyn RealToComplex<f32>> {
    realfft::RealFftPlanner::<f32>::new().plan_fft_forward(length)
}

/// A transform of that length.
#[cfg(target_arch = "wasm32")]
pub(crate) fn forward(length: usize) -> Arc<dyn RealToComplex<f32>> {
    Arc::new(halved::Halved::new(length))
}

#[cfg(any(test, target_arch = "wasm32"))]
mod halved {
    use std::f64::consts::TAU;

    use realfft::num_complex::Complex;
    use realfft::{FftError, RealToComplex};
    use rustfft::algorithm::Radix4;
    use rustfft::{Fft, FftDirection};

    type Result = core::result::Result<(), FftError>;

    pub(crate) struct Halved {
        half: Radix4<f32>,
        /// From each bin of the half to the one of the whole.
        turns: Vec<Complex<f32>>,
        length: usize,
    }

    impl Halved {
        pub(crate) fn new(length: usize) -> Halved {
            let turn = |bin| TAU * bin as f64 / length as f64;
            let turns = (0..=length / 4).map(|bin| Complex {
                re: -turn(bin).sin() as f32,
                im: -turn(bin).cos() as f32,
            });
            Halved {
                half: Radix4::new(length / 2, FftDirection::Forward),
                turns: turns.collect(),
                length,
            }
        }
    }

    impl RealToComplex<f32> for Halved {
        fn process(&self, input: &mut [f32], output: &mut [Complex<f32>]) -> Result {
            self.process_with_scratch(input, output, &mut self.make_scratch_vec())
        }

        fn process_with_scratch(
            &self,
            input: &mut [f32],
            output: &mut [Complex<f32>],
            scratch: &mut [Complex<f32>],
        ) -> Result {
            let half = self.length / 2;
            if input.len() != self.length {
                return Err(FftError::InputBuffer(self.length, input.len()));
            }
            if output.len() != half + 1 {
                return Err(FftError::OutputBuffer(half + 1, output.len()));
            }
            for (to, pair) in output.iter_mut().zip(input.chunks_exact(2)) {
                *to = Complex::new(pair[0], pair[1]);
            }
            self.half.process_with_scratch(&mut output[..half], scratch);
            output[half] = output[0];
            for (bin, turn) in self.turns.iter().enumerate() {
                let (low, high) = (output[bin], output[half - bin].conj());
                let (even, odd) = ((low + high) * 0.5, (low - high) * 0.5 * turn);
                output[bin] = even + odd;
                output[half - bin] = (even - odd).conj();
            }
            Ok(())
        }

        fn get_scratch_len(&self) -> usize {
            self.half.get_inplace_scratch_len()
        }

        fn len(&self) -> usize {
            self.length
        }

        fn make_input_vec(&self) -> Vec<f32> {
            vec![0.0; self.length]
        }

        fn make_output_vec(&self) -> Vec<Complex<f32>> {
            vec![Complex::default(); self.complex_len()]
        }

        fn make_scratch_vec(&self) -> Vec<Complex<f32>> {
            vec![Complex::default(); self.get_scratch_len()]
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_halved_transform_gives_what_the_planned_one_does() {
        for length in [8, 256, 4096, 16_384] {
            let samples: Vec<f32> = (0..length)
                .map(|i: usize| ((i * 7919 % 1013) as f32 / 506.5 - 1.0) * (1.0 + i as f32).recip())
                .collect();
            let mut outputs = [Vec::new(), Vec::new()];
            let halved: Arc<dyn RealToComplex<f32>> = Arc::new(halved::Halved::new(length));
            for (plan, output) in [forward(length), halved].iter().zip(&mut outputs) {
                *output = plan.make_output_vec();
                plan.process(&mut samples.clone(), output).unwrap();
            }
            let most = outputs[0].iter().map(|bin| bin.norm()).fold(0.0, f32::max);
            for (bin, (planned, halved)) in outputs[0].iter().zip(&outputs[1]).enumerate() {
                let off = (planned - halved).norm();
                assert!(off < 2e-6 * most, "{length}, bin {bin}: {planned} {halved}");
            }
        }
    }
}
