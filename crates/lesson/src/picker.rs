//! Random picks that neither bore nor give themselves away.
//!
//! # The rule
//!
//! Every pitch of the reach has a weight that grows with the number of calls
//! since it was last called, up to a ceiling; the pick is drawn by these
//! weights. With three pitches or more:
//!
//! | last called | weight |
//! |---|---|
//! | one call ago | 0: never the same pitch twice running |
//! | two calls ago | 1 |
//! | three calls ago | 2 |
//! | four calls ago | 3 |
//! | longer ago, or never | 4 |
//!
//! and the ceiling is no more than the number of pitches less one, so that
//! three or four pitches do not go round in a ring.
//!
//! With two pitches, "never twice running" would be a plain alternation that
//! nobody needs to listen to. There the last pitch has weight 1 and the other
//! 1 plus the number of times that the last one has now been heard running (up
//! to [`MEMORY`]): it comes again in one case of three, a third time in one of
//! four, and so on.
//!
//! The rule treats all pitches alike, so over many calls each comes equally
//! often. Notes called by hand count as called. The memory outlives a change
//! of reach.

use std::collections::VecDeque;

use fifthpeg_core::{Neck, Pitch, Position, Reach};
use rand_chacha::ChaCha8Rng;
use rand_core::{Rng, SeedableRng};

/// How many calls are remembered.
pub const MEMORY: usize = 5;
/// The greatest weight.
const CEILING: u64 = 4;

/// Picks notes, and every other random number of a lesson.
#[derive(Debug, Clone)]
pub struct Picker {
    rng: ChaCha8Rng,
    /// The last calls' pitches, newest first; at most [`MEMORY`].
    called: VecDeque<Pitch>,
}

impl Picker {
    /// A picker that makes the same picks again for the same seed.
    pub fn new(seed: u64) -> Self {
        Self {
            rng: ChaCha8Rng::seed_from_u64(seed),
            called: VecDeque::with_capacity(MEMORY),
        }
    }

    /// Picks one of these distinct pitches by the rule, without remembering
    /// it; `None` if there are none.
    pub fn pick_pitch(&mut self, pitches: &[Pitch]) -> Option<Pitch> {
        let weights: Vec<u64> = pitches
            .iter()
            .map(|p| self.weight(*p, pitches.len()))
            .collect();
        let index = self.draw(&weights)?;
        pitches.get(index).copied()
    }

    /// Picks one of these distinct pitches by the rule's weight times its own
    /// liking, without remembering it, and says which in the order given; `None`
    /// if there are none. A pitch without a liking is not picked.
    pub fn pick_by_liking(&mut self, pitches: &[Pitch], likings: &[u32]) -> Option<usize> {
        let weights: Vec<u64> = pitches
            .iter()
            .zip(likings)
            .map(|(p, liking)| self.weight(*p, pitches.len()) * u64::from(*liking))
            .collect();
        self.draw(&weights)
    }

    /// Picks one of the places of `pitch` in the reach, all alike; `None` if
    /// there is none.
    pub fn pick_place(&mut self, pitch: Pitch, reach: &Reach, neck: &Neck) -> Option<Position> {
        let places: Vec<Position> = reach
            .positions()
            .iter()
            .copied()
            .filter(|at| neck.pitch_at(*at) == Some(pitch))
            .collect();
        let index = self.draw(&vec![1; places.len()])?;
        places.get(index).copied()
    }

    /// Remembers that a pitch was called.
    pub fn remember(&mut self, pitch: Pitch) {
        self.called.truncate(MEMORY - 1);
        self.called.push_front(pitch);
    }

    /// A seed for the noise of one pluck.
    pub fn pluck_seed(&mut self) -> u32 {
        self.rng.next_u32()
    }

    /// The weight of one of `count` pitches.
    pub fn weight(&self, pitch: Pitch, count: usize) -> u64 {
        if count == 2 {
            let Some(last) = self.called.front() else {
                return 1;
            };
            let run = self.called.iter().take_while(|p| *p == last).count() as u64;
            return if pitch == *last { 1 } else { 1 + run };
        }
        if count < 2 {
            return 1;
        }
        let ceiling = CEILING.min(count as u64 - 1);
        match self.called.iter().position(|p| *p == pitch) {
            Some(calls_ago) => ceiling.min(calls_ago as u64),
            None => ceiling,
        }
    }

    /// Draws an index by weight; `None` if all weights are nought.
    fn draw(&mut self, weights: &[u64]) -> Option<usize> {
        let total: u64 = weights.iter().sum();
        let mut left = self.below(total)?;
        weights.iter().position(|w| match left.checked_sub(*w) {
            Some(rest) => {
                left = rest;
                false
            }
            None => true,
        })
    }

    /// A number below `n`, all alike: draws that would favour the low ones are
    /// thrown away.
    fn below(&mut self, n: u64) -> Option<u64> {
        if n == 0 {
            return None;
        }
        // 2^64 modulo n: this many of the highest draws are one too many.
        let uneven = (u64::MAX % n + 1) % n;
        loop {
            let drawn = self.rng.next_u64();
            if drawn <= u64::MAX - uneven {
                return Some(drawn % n);
            }
        }
    }
}
