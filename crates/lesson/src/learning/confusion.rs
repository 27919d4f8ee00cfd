//! What a student takes notes for: counts of the kinds of confusion, with a
//! Dirichlet belief about their shares.
//!
//! Each share alone is then a Beta; its bounds are Beta quantiles. Counts fade
//! exponentially with time, so that an old habit can be lost. A single note has
//! few misses of its own: there the student's habit over all notes counts as
//! the prior.

use std::collections::BTreeMap;

use fifthpeg_core::Pitch;

use super::beta::beta_quantile;
use super::evidence::{Confusion, When};
use super::figures as f;

const KINDS: usize = Confusion::ALL.len();

/// Counts of confusions of one student.
#[derive(Debug, Clone, PartialEq)]
pub struct Confusions {
    all: [f64; KINDS],
    by_pitch: BTreeMap<Pitch, [f64; KINDS]>,
    at: When,
}

/// What part of the misses is of one kind.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MissShare {
    /// The kind.
    pub kind: Confusion,
    /// Expected share, above 0 and below 1; the four add up to 1.
    pub share: f64,
    /// The share is above this in 95 of 100 cases, by the model.
    pub low: f64,
    /// The share is below this in 95 of 100 cases, by the model.
    pub high: f64,
}

impl Confusions {
    /// None yet.
    pub fn new(at: When) -> Self {
        Self {
            all: [0.0; KINDS],
            by_pitch: BTreeMap::new(),
            at,
        }
    }

    /// Counts one.
    pub fn count(&mut self, pitch: Pitch, kind: Confusion, when: When) {
        let keep = self.keep(when);
        self.at = self.at.max(when);
        let rows = self.by_pitch.values_mut().chain([&mut self.all]);
        for row in rows {
            *row = row.map(|count| count * keep);
        }
        self.all[kind.index()] += 1.0;
        self.by_pitch.entry(pitch).or_default()[kind.index()] += 1.0;
    }

    /// How many misses are behind the shares, faded ones in part.
    pub fn misses(&self, when: When) -> f64 {
        self.keep(when) * self.all.iter().sum::<f64>()
    }

    /// The shares over all notes.
    pub fn shares(&self, when: When) -> [MissShare; KINDS] {
        let keep = self.keep(when);
        shares(self.all.map(|count| f::CONFUSION_PRIOR + keep * count))
    }

    /// The shares for one note.
    pub fn shares_of(&self, pitch: Pitch, when: When) -> [MissShare; KINDS] {
        let keep = self.keep(when);
        let own = self.by_pitch.get(&pitch).copied().unwrap_or_default();
        let habit = self.shares(when).map(|s| s.share);
        let mut counts = [0.0; KINDS];
        for ((count, own), habit) in counts.iter_mut().zip(own).zip(habit) {
            *count = keep * own + f::HABIT_WEIGHT * habit;
        }
        shares(counts)
    }

    fn keep(&self, when: When) -> f64 {
        (-when.days_since(self.at) / f::CONFUSION_DAYS).exp()
    }
}

/// The shares of a Dirichlet with these counts, its prior's included.
fn shares(counts: [f64; KINDS]) -> [MissShare; KINDS] {
    let total: f64 = counts.iter().sum();
    Confusion::ALL.map(|kind| {
        let a = counts[kind.index()];
        let b = total - a;
        MissShare {
            kind,
            share: a / total,
            low: beta_quantile(0.05, a, b),
            high: beta_quantile(0.95, a, b),
        }
    })
}
