//! A network of one hidden layer that tells kinds of sound apart by a portrait.

use crate::portrait::Portrait;

/// Kinds told apart: see [`crate::kind::Kinds`].
pub(crate) const KINDS: usize = 6;

/// A weight of this much is one.
const ONE: f32 = 32.0;

/// Weights by neuron, each in steps of a thirty-second: finer ones tell nothing more. One
/// taught when portraits had fewer numbers goes by those.
pub(crate) struct Network {
    pub first: &'static [&'static [i8]],
    pub first_bias: &'static [i8],
    pub last: &'static [&'static [i8]],
    pub last_bias: &'static [i8],
}

impl Network {
    /// How likely each of `N` things is, as logarithms, but for a number common to all.
    pub fn likely<const N: usize>(&self, portrait: &Portrait) -> [f32; N] {
        let weight = |w: i8| f32::from(w) / ONE;
        let mut likely = std::array::from_fn(|i| weight(self.last_bias[i]));
        for (neuron, (weights, bias)) in self.first.iter().zip(self.first_bias).enumerate() {
            let sum: f32 = (weights.iter().zip(portrait))
                .map(|(w, x)| weight(*w) * x)
                .sum();
            let fires = (sum + weight(*bias)).tanh();
            for (likely, weights) in likely.iter_mut().zip(self.last) {
                *likely += weight(weights[neuron]) * fires;
            }
        }
        likely
    }
}
