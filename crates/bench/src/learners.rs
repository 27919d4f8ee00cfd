//! Made-up learners, of five kinds that hear, learn and forget by different
//! rules; one only is near the model's own form. All their figures are our
//! choice.

use std::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_lesson::learning::{Confusion, Outcome};

use crate::dice::Dice;

/// What a learner did in one call.
pub struct Attempt {
    /// Whether it found the note, and when.
    pub outcome: Outcome,
    /// How often the tone was heard.
    pub hearings: u32,
    /// How many places were tried.
    pub tries: u32,
    /// How long it took.
    pub response: Duration,
    /// What was taken for what.
    pub miss: Option<Confusion>,
}

/// The kinds of learner.
#[derive(Clone, Copy, PartialEq)]
pub enum Kind {
    /// Logistic: each call adds to the note, a little to its neighbours.
    Logistic,
    /// Hears a pitch with an error in semitones, and slips by octaves; both
    /// shrink with practice.
    Blurred,
    /// Knows a note or does not; learns it at a stroke.
    AllOrNone,
    /// Logistic, and forgets most of it within days.
    Forgetting,
    /// Logistic, but for one region that is hardly heard and learned slowly.
    OneDeafRegion,
}

impl Kind {
    /// Every kind, with its name; the first three are those of the classes.
    pub const ALL: [(Kind, &str); 5] = [
        (Kind::Logistic, "logistic"),
        (Kind::Blurred, "blurred"),
        (Kind::AllOrNone, "all-or-none"),
        (Kind::Forgetting, "forgetting"),
        (Kind::OneDeafRegion, "one deaf region"),
    ];
}

/// A made-up learner.
#[derive(Clone)]
pub struct Learner {
    kind: Kind,
    /// By MIDI number.
    notes: Vec<Note>,
}

#[derive(Clone, Copy)]
struct Note {
    /// Logistic: logit above guessing. Blurred: error in semitones, one
    /// standard deviation. All or none: 1 if known.
    at_first: f64,
    now: f64,
    /// Blurred: chance of an octave slip.
    slip_at_first: f64,
    slip: f64,
    /// How fast the logistic learn it.
    pace: f64,
}

/// Days in which gains fall to 1/e, and those of the forgetting.
const FADE_DAYS: f64 = 60.0;
const FORGETTING_DAYS: f64 = 8.0;
/// The deaf region: its lowest note is one of so many from D3 upwards, and it has
/// so many semitones; its logit, beside 3.2 elsewhere, and how fast it is learned.
const DEAF_FROM: u8 = 50;
const DEAF_STARTS: usize = 9;
const DEAF_SEMITONES: u8 = 4;
const DEAF_LOGIT: f64 = 0.5;
const DEAF_PACE: f64 = 0.5;
/// The smallest error of the blurred, in semitones, and their smallest slip.
const KEENEST: f64 = 0.22;
const LEAST_SLIP: f64 = 0.01;
/// Chances of the all-or-none for a known and an unknown note, and of learning
/// one in one call.
const KNOWN: f64 = 0.97;
const UNKNOWN: f64 = 0.3;
const STROKE: f64 = 0.1;

impl Learner {
    /// A learner of some strength: nought in the middle, one a standard
    /// deviation above.
    pub fn new(kind: Kind, strength: f64, dice: &mut Dice) -> Self {
        let slope = 0.5 * dice.normal();
        let deaf = (kind == Kind::OneDeafRegion).then(|| {
            let from = DEAF_FROM + dice.below(DEAF_STARTS) as u8;
            from..from + DEAF_SEMITONES
        });
        let note = |midi: u8| {
            let is_deaf = deaf.as_ref().is_some_and(|deaf| deaf.contains(&midi));
            let register = slope * (f64::from(midi) - 57.0) / 12.0;
            let ease = strength + register + dice.normal();
            let at_first = match kind {
                Kind::OneDeafRegion if is_deaf => DEAF_LOGIT + ease,
                Kind::Logistic | Kind::Forgetting | Kind::OneDeafRegion => 3.2 + ease,
                Kind::Blurred => 0.6 * (-0.4 * ease).exp(),
                Kind::AllOrNone => f64::from(u8::from(ease > 0.3)),
            };
            let slip = (0.12 * (-0.5 * strength + 0.5 * dice.normal()).exp()).min(0.5);
            Note {
                at_first,
                now: at_first,
                slip_at_first: slip,
                slip,
                pace: if is_deaf { DEAF_PACE } else { 1.0 },
            }
        };
        Self {
            kind,
            notes: (0..128).map(note).collect(),
        }
    }

    /// The true chance that the first answer is right.
    pub fn chance(&self, pitch: Pitch, reach: &[Pitch]) -> f64 {
        let note = self.notes[usize::from(pitch.midi())];
        let guess = 1.0 / reach.len() as f64;
        match self.kind {
            Kind::Logistic | Kind::Forgetting | Kind::OneDeafRegion => {
                logistic(note.now - (reach.len() as f64 - 1.0).ln())
            }
            Kind::AllOrNone if note.now > 0.5 => KNOWN.max(guess),
            Kind::AllOrNone => UNKNOWN.max(guess),
            Kind::Blurred => {
                let at = reach.binary_search(&pitch).unwrap_or(0);
                let gap = |other: Option<&Pitch>| {
                    other.map_or(f64::INFINITY, |o| {
                        f64::from(pitch.semitones_to(*o).abs()) / 2.0
                    })
                };
                let below = gap(at.checked_sub(1).and_then(|i| reach.get(i)));
                let above = gap(reach.get(at + 1));
                let inside = normal_below(above / note.now) - normal_below(-below / note.now);
                inside * (1.0 - note.slip)
            }
        }
    }

    /// The true share of right first answers over a reach.
    pub fn share(&self, reach: &[Pitch]) -> f64 {
        reach.iter().map(|p| self.chance(*p, reach)).sum::<f64>() / reach.len() as f64
    }

    /// How much one call would raise the share, expected.
    pub fn gain(&self, pitch: Pitch, reach: &[Pitch]) -> f64 {
        let chance = self.chance(pitch, reach);
        let after = |right, drawn| {
            let mut other = self.clone();
            other.practise(pitch, right, drawn);
            other.share(reach)
        };
        let share = match self.kind {
            Kind::AllOrNone => STROKE * after(true, 0.0) + (1.0 - STROKE) * after(true, 1.0),
            _ => chance * after(true, 1.0) + (1.0 - chance) * after(false, 1.0),
        };
        share - self.share(reach)
    }

    /// Answers a call, is shown the note, and learns.
    pub fn answer(&mut self, pitch: Pitch, reach: &[Pitch], dice: &mut Dice) -> Attempt {
        let chance = self.chance(pitch, reach).clamp(0.001, 0.999);
        let right = dice.unit() < chance;
        let ease = (chance / (1.0 - chance)).ln() + dice.normal();
        let outcome = match right {
            true => Outcome::FoundFirst,
            false if dice.unit() < 0.6 => Outcome::FoundLater,
            false => Outcome::NotFound,
        };
        let attempt = Attempt {
            outcome,
            hearings: (1.5 - ease).clamp(0.0, 6.0) as u32,
            tries: 2 + (6.0 - 3.0 * ease + 2.0 * dice.normal()).clamp(0.0, 20.0) as u32,
            response: Duration::from_secs_f64(8.0 * (0.3 * dice.normal() - 0.4 * ease).exp()),
            miss: (!right).then(|| self.miss(pitch, dice)),
        };
        self.practise(pitch, right, dice.unit());
        attempt
    }

    fn miss(&self, pitch: Pitch, dice: &mut Dice) -> Confusion {
        let note = self.notes[usize::from(pitch.midi())];
        if dice.unit() < note.slip {
            return Confusion::Octave;
        }
        match dice.unit() {
            u if u < 0.55 => Confusion::Neighbour,
            u if u < 0.85 => Confusion::WholeTone,
            _ => Confusion::Further,
        }
    }

    /// What a call teaches; `drawn` decides whether it does at a stroke.
    fn practise(&mut self, pitch: Pitch, right: bool, drawn: f64) {
        for (midi, note) in self.notes.iter_mut().enumerate() {
            let spill = match midi.abs_diff(usize::from(pitch.midi())) {
                0 => 1.0,
                1 | 2 => 0.2,
                _ => 0.02,
            };
            match self.kind {
                // More is learned from a right answer than from a wrong one, as
                // in performance factors analysis (Pavlik, Cen and Koedinger
                // 2009).
                Kind::Logistic | Kind::Forgetting | Kind::OneDeafRegion => {
                    note.now += note.pace * spill * if right { 0.25 } else { 0.12 };
                }
                Kind::Blurred => {
                    let keep = (-0.12 * spill).exp();
                    note.now =
                        KEENEST.min(note.at_first) + (note.now - KEENEST.min(note.at_first)) * keep;
                    note.slip = LEAST_SLIP + (note.slip - LEAST_SLIP) * keep;
                }
                Kind::AllOrNone if spill == 1.0 && drawn < STROKE => note.now = 1.0,
                Kind::AllOrNone => {}
            }
        }
    }

    /// Forgets between lessons.
    pub fn rest(&mut self, days: f64, dice: &mut Dice) {
        let fade = match self.kind {
            Kind::Forgetting => FORGETTING_DAYS,
            _ => FADE_DAYS,
        };
        let keep = (-days / fade).exp();
        for note in &mut self.notes {
            let lost = dice.unit() > keep;
            match self.kind {
                Kind::AllOrNone if lost => note.now = note.at_first,
                Kind::AllOrNone => {}
                _ => {
                    note.now = note.at_first + (note.now - note.at_first) * keep;
                    note.slip = note.slip_at_first + (note.slip - note.slip_at_first) * keep;
                }
            }
        }
    }
}

fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

/// The chance that a standard Gaussian lies below x: Abramowitz and Stegun
/// 26.2.17, good to 1e-7.
fn normal_below(x: f64) -> f64 {
    if x < 0.0 {
        return 1.0 - normal_below(-x);
    }
    let t = 1.0 / (1.0 + 0.231_641_9 * x);
    let series = [
        0.319_381_530,
        -0.356_563_782,
        1.781_477_937,
        -1.821_255_978,
        1.330_274_429,
    ];
    let sum = series.iter().rev().fold(0.0, |sum, c| (sum + c) * t);
    1.0 - sum * (-0.5 * x * x).exp() / core::f64::consts::TAU.sqrt()
}
