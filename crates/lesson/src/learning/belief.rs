//! What is believed of one student: a joint Gaussian over the parts that a
//! note's logit is the sum of.
//!
//! A note is heard as well as the student's ability, the register's offset and
//! the note's own offset say together, so every answer tells something of every
//! other note. Parts that were never touched are at their priors and
//! independent of the rest, and take no room.
//!
//! Between calls each part returns towards its prior like an
//! Ornstein-Uhlenbeck process: what is known fades, the variance grows back, at
//! most to the prior's. (Growing variance with time: Glickman, "Parameter
//! estimation in large dynamic paired comparison experiments", Applied
//! Statistics 48:377, 1999. Exponential fading: a plain form of the forgetting
//! curves compared by Murre and Dros, PLoS ONE 10:e0120644, 2015.) A mean above
//! its prior falls; a mean below it stays: time makes nobody better.

use super::evidence::When;
use super::figures as f;
use super::moments::Gaussian;

/// The steps after the first answer, each taken in one's own manner.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Manner {
    /// Finding it after a wrong answer.
    Later,
    /// Not searching long.
    Short,
    /// Finding it at once.
    AtOnce,
}

/// One part of a logit.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum LogitPart {
    /// How well the student hears altogether.
    Ability,
    /// Offset of a register: the number of its point, counted upwards.
    Register(u8),
    /// Offset of a note, by its MIDI number.
    Note(u8),
    /// Offset of a step.
    Manner(Manner),
}

impl LogitPart {
    /// What is believed before anything is heard.
    pub fn prior(self) -> Gaussian {
        let (mean, sd) = match self {
            LogitPart::Ability => (f::ABILITY_MEAN, f::ABILITY_SD),
            LogitPart::Register(_) => (0.0, f::REGISTER_SD),
            LogitPart::Note(_) => (0.0, f::NOTE_SD),
            LogitPart::Manner(_) => (0.0, f::MANNER_SD),
        };
        Gaussian { mean, var: sd * sd }
    }

    /// Days in which what is known falls to 1/e.
    fn days(self) -> f64 {
        match self {
            LogitPart::Ability => f::ABILITY_DAYS,
            LogitPart::Register(_) | LogitPart::Note(_) => f::NOTE_DAYS,
            LogitPart::Manner(_) => f::MANNER_DAYS,
        }
    }

    /// Variance that one call adds.
    fn stir(self) -> f64 {
        match self {
            LogitPart::Ability => f::ABILITY_STIR,
            LogitPart::Note(_) => f::NOTE_STIR,
            LogitPart::Register(_) | LogitPart::Manner(_) => 0.0,
        }
    }
}

/// Parts and how much of each: a direction in the belief.
pub type Direction = Vec<(LogitPart, f64)>;

/// The belief of one student.
#[derive(Debug, Clone, PartialEq)]
pub struct Belief {
    parts: Vec<LogitPart>,
    mean: Vec<f64>,
    /// Row by row; symmetric.
    cov: Vec<f64>,
    at: When,
}

impl Belief {
    /// Nothing known yet.
    pub fn new(at: When) -> Self {
        Self {
            parts: Vec::new(),
            mean: Vec::new(),
            cov: Vec::new(),
            at,
        }
    }

    /// What is believed of a sum of parts at `when`; before the last evidence,
    /// as at the last evidence.
    pub fn along(&self, direction: &[(LogitPart, f64)], when: When) -> Gaussian {
        let days = when.days_since(self.at);
        let places: Vec<_> = direction
            .iter()
            .map(|(part, much)| (self.index(*part), *part, *much, kept(*part, days)))
            .collect();
        let (mut mean, mut var) = (0.0, 0.0);
        for (i, (place, part, much, keep)) in places.iter().enumerate() {
            let prior = part.prior();
            let Some(at) = place else {
                mean += much * prior.mean;
                var += much * much * prior.var;
                continue;
            };
            mean += much * faded(self.mean[*at], prior.mean, *keep);
            var += much * much * (1.0 - keep * keep) * prior.var;
            for (j, (other, _, other_much, other_keep)) in places.iter().enumerate() {
                if let Some(other_at) = other {
                    let cov = self.cov[at * self.parts.len() + other_at];
                    debug_assert!(i != j || cov >= 0.0);
                    var += much * other_much * keep * other_keep * cov;
                }
            }
        }
        Gaussian {
            mean,
            var: var.max(0.0),
        }
    }

    /// Lets time pass, if `when` is later than the last evidence.
    pub fn pass_to(&mut self, when: When) {
        let days = when.days_since(self.at);
        if days <= 0.0 {
            return;
        }
        self.at = when;
        let n = self.parts.len();
        let keep: Vec<f64> = self.parts.iter().map(|p| kept(*p, days)).collect();
        for i in 0..n {
            let prior = self.parts[i].prior();
            self.mean[i] = faded(self.mean[i], prior.mean, keep[i]);
            for j in 0..n {
                self.cov[i * n + j] *= keep[i] * keep[j];
            }
            self.cov[i * n + i] += (1.0 - keep[i] * keep[i]) * prior.var;
        }
    }

    /// A call of these parts: hearing teaches, so they may have moved. The
    /// variance never grows above the prior's.
    pub fn stir(&mut self, direction: &[(LogitPart, f64)]) {
        for (part, _) in direction {
            let at = self.add(*part);
            let n = self.parts.len();
            let var = &mut self.cov[at * n + at];
            *var = (*var + part.stir()).min(part.prior().var.max(*var));
        }
    }

    /// Takes in one right or wrong answer whose logit is the sum of these parts
    /// plus `offset`.
    pub fn learn(&mut self, direction: &[(LogitPart, f64)], offset: f64, right: bool) {
        let places: Vec<(usize, f64)> = direction
            .iter()
            .map(|(part, much)| (self.add(*part), *much))
            .collect();
        let before = self.along(direction, self.at);
        if before.var <= f64::EPSILON {
            return;
        }
        let after = before.after(offset, right);
        let n = self.parts.len();
        // Covariance of every part with the sum.
        let shared: Vec<f64> = (0..n)
            .map(|i| places.iter().map(|(at, m)| m * self.cov[i * n + at]).sum())
            .collect();
        let moved = (after.mean - before.mean) / before.var;
        let shrunk = (before.var - after.var) / (before.var * before.var);
        for i in 0..n {
            self.mean[i] += shared[i] * moved;
            for j in 0..n {
                self.cov[i * n + j] -= shared[i] * shared[j] * shrunk;
            }
            let var = &mut self.cov[i * n + i];
            *var = var.max(0.0);
        }
    }

    fn index(&self, part: LogitPart) -> Option<usize> {
        self.parts.iter().position(|p| *p == part)
    }

    /// The place of a part, which is taken in at its prior if it is new.
    fn add(&mut self, part: LogitPart) -> usize {
        if let Some(at) = self.index(part) {
            return at;
        }
        let n = self.parts.len();
        let mut cov = vec![0.0; (n + 1) * (n + 1)];
        for i in 0..n {
            cov[i * (n + 1)..][..n].copy_from_slice(&self.cov[i * n..][..n]);
        }
        cov[n * (n + 1) + n] = part.prior().var;
        self.cov = cov;
        self.mean.push(part.prior().mean);
        self.parts.push(part);
        n
    }
}

fn kept(part: LogitPart, days: f64) -> f64 {
    (-days / part.days()).exp()
}

/// A mean after time: above its prior it falls towards it.
fn faded(mean: f64, prior: f64, keep: f64) -> f64 {
    prior + (mean - prior) * if mean > prior { keep } else { 1.0 }
}
