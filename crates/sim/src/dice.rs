//! Everything random of a simulated lesson, from its seed.

use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

/// Random numbers that are the same for the same seed.
#[derive(Debug, Clone)]
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// Dice of this seed.
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Any number.
    pub fn any(&mut self) -> u64 {
        self.0.next_u64()
    }

    /// From nought to one less than `n`; nought if `n` is.
    pub fn below(&mut self, n: u64) -> u64 {
        self.any() % n.max(1)
    }

    /// Both ends are among them.
    pub fn between(&mut self, least: u64, most: u64) -> u64 {
        least + self.below(most.saturating_sub(least) + 1)
    }

    /// True that many times in a thousand.
    pub fn chance(&mut self, per_mille: u64) -> bool {
        self.below(1000) < per_mille
    }

    /// One of them.
    pub fn pick<T: Copy>(&mut self, of: &[T]) -> T {
        of[self.below(of.len() as u64) as usize]
    }
}
