//! Seeded random numbers.

use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

/// Numbers that the seed decides.
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// The numbers of this seed.
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Between nought and one, one left out.
    pub fn unit(&mut self) -> f64 {
        (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        (self.unit() * n as f64) as usize
    }

    /// A standard Gaussian, by Box and Muller.
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (core::f64::consts::TAU * self.unit()).cos()
    }
}
