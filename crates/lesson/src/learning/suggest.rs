//! Whether to widen or narrow the reach, and why. The teacher decides.

use core::fmt;

use fifthpeg_core::{Neck, Reach, ReachSpec, ReachStep};

use super::evidence::{Outcome, StudentKey, When};
use super::figures as f;
use super::model::Model;

/// Calls, of all students together, before anything is suggested. Our choice.
pub const LEAST_ANSWERS: u32 = 12;
/// Expected share over the whole reach from which it may be widened. Our choice.
pub const WIDEN_FROM: f64 = 0.9;
/// Expected share that a wider reach must promise. Our choice.
pub const WIDER_PROMISES: f64 = 0.65;
/// Expected share over the whole reach below which it may be narrowed. Our
/// choice.
pub const NARROW_BELOW: f64 = 0.65;

/// What to do with the reach.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ReachChange {
    /// Take a wider one; the ready step, if there is one.
    Widen(Option<ReachStep>),
    /// Take a narrower one; the ready step, if there is one.
    Narrow(Option<ReachStep>),
    /// Stay.
    Stay,
}

/// Why.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Reason {
    /// Nearly every note of the reach is expected to be found.
    Easy,
    /// Too few notes of the reach are expected to be found.
    Hard,
    /// It is about right.
    Fitting,
    /// It is easy for most, and somebody would drown in a wider one.
    SomebodyBehind,
    /// It is easy, but the next step would be too hard by now.
    NextTooHard,
    /// It is easy, and there is no wider one on this neck.
    Widest,
    /// It is hard, and there is no narrower one.
    Narrowest,
    /// Too little was heard in this reach.
    TooFew,
}

/// What is suggested for the reach, with the figures behind it. As text, one
/// sentence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suggestion {
    /// What to do.
    pub change: ReachChange,
    /// Why.
    pub reason: Reason,
    /// Of the last calls in this reach, those found with the first answer, all
    /// students together.
    pub found: u32,
    /// The last calls in this reach, those of silent students left out; at most
    /// [`RECENT`](super::figures::RECENT) of each student.
    pub of: u32,
    /// Of the found, those with no extra hearing.
    pub first_hearing: u32,
    /// Expected share of right first answers if every note of the reach were
    /// called once; 0 if there is too little to say.
    pub expected: f64,
}

/// What to do with the reach for these students.
///
/// What counts is the share expected over every note of the reach alike, not
/// the share found lately: picking holds that one near the aim.
pub fn suggest(
    model: &Model,
    students: &[StudentKey],
    neck: &Neck,
    spec: &ReachSpec,
    when: When,
) -> Suggestion {
    let size = Reach::resolve(neck, spec).map_or(0, |reach| reach.pitches().len());
    let mut suggestion = Suggestion {
        change: ReachChange::Stay,
        reason: Reason::TooFew,
        found: 0,
        of: 0,
        first_hearing: 0,
        expected: 0.0,
    };
    for student in students {
        let Some(listener) = model.listener(*student) else {
            continue;
        };
        for e in listener.recent_in(size) {
            let first = e.outcome == Outcome::FoundFirst;
            suggestion.of += 1;
            suggestion.found += u32::from(first);
            suggestion.first_hearing += u32::from(first && e.hearings == 0);
        }
    }
    if suggestion.of < LEAST_ANSWERS {
        return suggestion;
    }
    let now = expected(model, students, neck, spec, when).unwrap_or_default();
    suggestion.expected = now.mean;
    (suggestion.change, suggestion.reason) = if now.mean >= WIDEN_FROM {
        wider(model, students, neck, spec, when)
    } else if now.mean < NARROW_BELOW {
        narrower(neck, spec, size)
    } else {
        (ReachChange::Stay, Reason::Fitting)
    };
    suggestion
}

fn wider(
    model: &Model,
    students: &[StudentKey],
    neck: &Neck,
    spec: &ReachSpec,
    when: When,
) -> (ReachChange, Reason) {
    let Some(step) = spec.step else {
        return (ReachChange::Widen(None), Reason::Easy);
    };
    let next = core::iter::successors(step.wider(), |s| s.wider())
        .find_map(|s| Some((s, expected(model, students, neck, &s.into(), when)?)));
    match next {
        None => (ReachChange::Stay, Reason::Widest),
        Some((_, share)) if share.mean < WIDER_PROMISES => (ReachChange::Stay, Reason::NextTooHard),
        Some((_, share)) if share.least < f::DROWNING / 2.0 => {
            (ReachChange::Stay, Reason::SomebodyBehind)
        }
        Some((step, _)) => (ReachChange::Widen(Some(step)), Reason::Easy),
    }
}

fn narrower(neck: &Neck, spec: &ReachSpec, size: usize) -> (ReachChange, Reason) {
    let Some(step) = spec.step else {
        let some = if size > 2 {
            ReachChange::Narrow(None)
        } else {
            ReachChange::Stay
        };
        let reason = if size > 2 {
            Reason::Hard
        } else {
            Reason::Narrowest
        };
        return (some, reason);
    };
    // A step of as many notes along one string would be no easier to hear.
    let fewer = |s: &ReachStep| {
        Reach::resolve(neck, &(*s).into()).is_ok_and(|reach| reach.pitches().len() < size)
    };
    let next = core::iter::successors(step.narrower(), |s| s.narrower()).find(fewer);
    match next {
        Some(step) => (ReachChange::Narrow(Some(step)), Reason::Hard),
        None => (ReachChange::Stay, Reason::Narrowest),
    }
}

/// Shares over the whole reach.
#[derive(Debug, Clone, Copy, Default)]
struct Expected {
    /// Of all students.
    mean: f64,
    /// Of the one who finds least.
    least: f64,
}

/// `None` if there is no such reach or nobody to ask.
fn expected(
    model: &Model,
    students: &[StudentKey],
    neck: &Neck,
    spec: &ReachSpec,
    when: When,
) -> Option<Expected> {
    let reach = Reach::resolve(neck, spec).ok()?;
    let pitches = reach.pitches();
    let share = |student: &StudentKey| {
        let chance = |p: &fifthpeg_core::Pitch| match model.listener(*student) {
            Some(listener) => listener.first_answer(*p, pitches.len(), when).0,
            None => {
                let as_anybody = model.estimate(*student, *p, pitches.len(), when);
                as_anybody.found_first
            }
        };
        pitches.iter().map(chance).sum::<f64>() / pitches.len() as f64
    };
    let shares: Vec<f64> = students.iter().map(share).collect();
    if shares.is_empty() {
        return None;
    }
    Some(Expected {
        mean: shares.iter().sum::<f64>() / shares.len() as f64,
        least: shares.iter().copied().fold(1.0, f64::min),
    })
}

impl Suggestion {
    /// Whether it is to change the reach.
    pub fn is_change(&self) -> bool {
        self.change != ReachChange::Stay
    }

    /// The ready step to change to, if it names one.
    pub fn step(&self) -> Option<ReachStep> {
        match self.change {
            ReachChange::Widen(step) | ReachChange::Narrow(step) => step,
            ReachChange::Stay => None,
        }
    }
}

impl fmt::Display for Suggestion {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.reason == Reason::TooFew {
            return out
                .write_str("Too few calls were answered in this reach lately to suggest another.");
        }
        write!(
            out,
            "Found {} of the last {} in this reach",
            self.found, self.of
        )?;
        // Beside a step back it would sound like praise for a reason.
        let back = matches!(self.change, ReachChange::Narrow(_));
        if !back && self.found > 0 && self.first_hearing * 2 > self.found {
            out.write_str(", most at first hearing")?;
        }
        out.write_str(match self.reason {
            Reason::Easy | Reason::Hard | Reason::TooFew => "",
            Reason::Fitting => ", which is about right",
            Reason::SomebodyBehind => ", but somebody would be lost in a wider one",
            Reason::NextTooHard => ", but the next step would be too hard yet",
            Reason::Widest => ", and there is no wider one",
            Reason::Narrowest => ", and there is no narrower one",
        })?;
        match self.change {
            ReachChange::Widen(Some(step)) => write!(out, ": try {}.", step.title()),
            ReachChange::Widen(None) => out.write_str(": try more notes."),
            ReachChange::Narrow(Some(step)) => write!(out, ": go back to {}.", step.title()),
            ReachChange::Narrow(None) => out.write_str(": try fewer notes."),
            ReachChange::Stay => out.write_str(": stay."),
        }
    }
}
