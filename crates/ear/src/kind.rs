//! What kind of sound a named pluck was, by its portrait.
//!
//! A small network of one hidden layer, taught by `tests/reference/ear/teach.py`
//! on plucked strings, talk, tones and knocks that anybody can fetch or make. It
//! tells how likely each kind is.

use crate::Doubt;
use crate::portrait::{Portrait, TRAITS};
use crate::weights::{FIRST, FIRST_BIAS, LAST, LAST_BIAS};

/// Neurons of the hidden layer.
pub(crate) const HIDDEN: usize = 24;
/// Kinds told apart: see [`Kinds`].
pub(crate) const KINDS: usize = 6;

/// How likely each kind of sound is: one string, several at once, a string that
/// slides, a voice, a held tone, a knock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Kinds([f32; KINDS]);

/// What else than one string it may be, in the order of the network.
const OTHERS: [Doubt; KINDS - 1] = [
    Doubt::SeveralNotes,
    Doubt::Slide,
    Doubt::Voice,
    Doubt::HeldTone,
    Doubt::Knock,
];

impl Kinds {
    pub fn of(portrait: &Portrait) -> Kinds {
        let hidden: [f32; HIDDEN] = std::array::from_fn(|i| {
            let sum = (0..TRAITS).map(|j| FIRST[i][j] * portrait[j]).sum::<f32>();
            (sum + FIRST_BIAS[i]).tanh()
        });
        let mut likely: [f32; KINDS] = std::array::from_fn(|i| {
            (0..HIDDEN).map(|j| LAST[i][j] * hidden[j]).sum::<f32>() + LAST_BIAS[i]
        });
        let most = likely.iter().copied().fold(f32::MIN, f32::max);
        likely = likely.map(|x| (x - most).exp());
        let sum: f32 = likely.iter().sum();
        Kinds(likely.map(|x| x / sum))
    }

    /// How likely it is one plucked string.
    pub fn string(&self) -> f32 {
        self.0[0]
    }

    /// What it most likely is, if it is not that.
    pub fn otherwise(&self) -> Doubt {
        let best = (1..KINDS).max_by(|&a, &b| self.0[a].total_cmp(&self.0[b]));
        best.map_or(Doubt::NotAPluck, |kind| OTHERS[kind - 1])
    }
}
