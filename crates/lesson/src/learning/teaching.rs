//! Picks that teach: for one student or a whole class.
//!
//! For every note of the reach and every student there, three things are
//! weighed:
//!
//! 1. **Near the aim.** The chance of a right first answer should be near the
//!    student's aim, which starts at 85% ([`f::AIM`](super::figures::AIM)) and
//!    moves against the running share: who has found much lately gets harder
//!    notes, who has missed much gets easier ones. The further from the aim,
//!    the worse, by the square: a class is served best where nobody is far off.
//! 2. **Where a call moves most.** p(1 - p), p being the chance: the slope of
//!    the logistic curve (how much the chance rises for the same gain of the
//!    ear), and Fisher's information of a Rasch answer.
//! 3. **What is not known.** Half the logarithm of how much the answer would
//!    narrow the belief. As time widens beliefs, it brings back notes not heard
//!    for long.
//!
//! The class's score of a note is the mean over its students; one who is
//! drowning (running share below 60%) counts double. The pick is drawn by
//! softmax of the score, times the weight of the plain picker's rule, so no
//! note comes twice running and nothing can be foretold, and the same seed
//! picks the same.

use fifthpeg_core::Pitch;

use super::evidence::{StudentKey, When};
use super::figures as f;
use super::model::Model;
use crate::picker::Picker;

/// Likings are whole numbers up to this, so that the last bit of a logarithm
/// does not change a pick.
const FINE: f64 = 1e6;

/// How picks weigh. The two ready ones are those of the simulation in
/// `docs/picking.md`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Weighing {
    /// Share of right first answers aimed at, between 0 and 1.
    pub aim: f64,
    /// How far a student's aim moves against the running share.
    pub steer: f64,
    /// A chance this far from the aim costs one.
    pub width: f64,
    /// What the greatest p(1 - p), a quarter, is worth.
    pub slope: f64,
    /// What each unit of information (a nat) is worth.
    pub news: f64,
    /// How much one counts who is drowning.
    pub drowning: f64,
    /// Softmax temperature: a note that scores less by this comes 1/e times as
    /// often.
    pub temperature: f64,
    /// The temperature is at least this share of the scores' standard
    /// deviation: however much one note is best, others come too.
    pub looseness: f64,
}

impl Weighing {
    /// For one student alone: mostly where a call moves most, so that fewest
    /// calls are needed; the aim pulls weakly. All but the aim are our choice.
    pub const ALONE: Weighing = Weighing {
        width: 1.0,
        ..Weighing::CLASS
    };

    /// For a class: mostly near the aim, so that nobody is bored or drowned.
    /// All but the aim are our choice.
    pub const CLASS: Weighing = Weighing {
        aim: f::AIM,
        steer: 0.5,
        width: 0.3,
        slope: 1.0,
        news: 1.0,
        drowning: 2.0,
        temperature: 0.1,
        looseness: 0.3,
    };

    /// The ready one for so many students.
    pub const fn of(students: usize) -> Weighing {
        if students == 1 {
            Weighing::ALONE
        } else {
            Weighing::CLASS
        }
    }
}

/// A pick, and what is expected of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pick {
    /// The note.
    pub pitch: Pitch,
    /// Expected share of right first answers among those picked for; `None` if
    /// that is nobody.
    pub found_first: Option<f64>,
}

/// Picks one of these distinct notes for these students, without remembering
/// it; `None` if there are no notes. With nobody to pick for, by the plain
/// rule.
///
/// `pitches` are the notes of the reach, all of them: their number is the
/// reach's size.
pub fn pick(
    model: &Model,
    picker: &mut Picker,
    students: &[StudentKey],
    pitches: &[Pitch],
    when: When,
    weighing: &Weighing,
) -> Option<Pick> {
    if students.is_empty() {
        return Some(Pick {
            pitch: picker.pick_pitch(pitches)?,
            found_first: None,
        });
    }
    let scores = scores(model, students, pitches, when, weighing);
    let likings = likings(&scores, weighing, |at| {
        picker.weight(pitches[at], pitches.len()) > 0
    });
    let at = picker.pick_by_liking(pitches, &likings)?;
    Some(Pick {
        pitch: pitches[at],
        found_first: Some(scores[at].found_first),
    })
}

/// Softmax of the scores, as whole numbers: [`FINE`] for the best of those that
/// may come, no less than one for any.
fn likings(scores: &[Score], weighing: &Weighing, may_come: impl Fn(usize) -> bool) -> Vec<u32> {
    let open: Vec<f64> = (0..scores.len())
        .filter(|at| may_come(*at))
        .map(|at| scores[at].score)
        .collect();
    let mean = open.iter().sum::<f64>() / open.len().max(1) as f64;
    let square = open.iter().map(|s| (s - mean).powi(2)).sum::<f64>();
    let spread = (square / open.len().max(1) as f64).sqrt();
    let best = open.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let temperature = weighing
        .temperature
        .max(weighing.looseness * spread)
        .max(1e-3);
    scores
        .iter()
        .map(|s| (FINE * ((s.score - best) / temperature).exp()).clamp(1.0, FINE) as u32)
        .collect()
}

/// How well one note suits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Score {
    /// Expected share of right first answers.
    pub found_first: f64,
    /// The more, the better; finite.
    pub score: f64,
}

/// How well each note suits these students, in the order of `pitches`.
pub fn scores(
    model: &Model,
    students: &[StudentKey],
    pitches: &[Pitch],
    when: When,
    weighing: &Weighing,
) -> Vec<Score> {
    let own: Vec<Own> = students
        .iter()
        .map(|key| Own::of(model, *key, when, weighing))
        .collect();
    let weights: f64 = own.iter().map(|o| o.weight).sum();
    let score = |pitch: &Pitch| {
        let (mut found_first, mut score) = (0.0, 0.0);
        for o in &own {
            let (chance, var) = o.chance(model, *pitch, pitches.len(), when);
            found_first += chance / own.len() as f64;
            score += o.weight / weights * o.score(chance, var, weighing);
        }
        Score { found_first, score }
    };
    pitches.iter().map(score).collect()
}

/// What one student brings to a pick.
struct Own {
    key: StudentKey,
    aim: f64,
    weight: f64,
}

impl Own {
    fn of(model: &Model, key: StudentKey, when: When, weighing: &Weighing) -> Self {
        let running = model
            .listener(key)
            .map_or(weighing.aim, |l| l.running(when));
        let aim = weighing.aim + weighing.steer * (weighing.aim - running);
        let drowning = running < f::DROWNING;
        Self {
            key,
            aim: aim.clamp(0.5, 0.98),
            weight: if drowning { weighing.drowning } else { 1.0 },
        }
    }

    fn chance(&self, model: &Model, pitch: Pitch, reach_size: usize, when: When) -> (f64, f64) {
        match model.listener(self.key) {
            Some(listener) => listener.first_answer(pitch, reach_size, when),
            None => {
                let as_anybody = model.estimate(self.key, pitch, reach_size, when);
                (as_anybody.found_first, as_anybody.logit.var)
            }
        }
    }

    fn score(&self, chance: f64, var: f64, weighing: &Weighing) -> f64 {
        let off = (chance - self.aim) / weighing.width.max(1e-3);
        let slope = chance * (1.0 - chance);
        let news = 0.5 * (var * slope).ln_1p();
        weighing.slope * 4.0 * slope + weighing.news * news - off * off
    }
}
