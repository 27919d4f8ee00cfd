//! A network of one hidden layer that tells kinds of sound apart by a portrait.

use crate::portrait::Portrait;

/// Kinds told apart: see [`crate::kind::Kinds`].
pub(crate) const KINDS: usize = 6;

/// Weights by neuron. One taught when portraits had fewer numbers goes by those.
pub(crate) struct Network {
    pub first: &'static [&'static [f32]],
    pub first_bias: &'static [f32],
    pub last: &'static [&'static [f32]],
    pub last_bias: &'static [f32],
}

impl Network {
    /// How likely each kind is, as logarithms, but for a number common to all.
    pub fn kinds_of(&self, portrait: &Portrait) -> [f32; KINDS] {
        let mut likely: [f32; KINDS] = std::array::from_fn(|kind| self.last_bias[kind]);
        for (neuron, (weights, bias)) in self.first.iter().zip(self.first_bias).enumerate() {
            let sum: f32 = weights.iter().zip(portrait).map(|(w, x)| w * x).sum();
            let fires = (sum + bias).tanh();
            for (likely, weights) in likely.iter_mut().zip(self.last) {
                *likely += weights[neuron] * fires;
            }
        }
        likely
    }
}
