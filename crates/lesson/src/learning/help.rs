//! Who needs help: each student at a glance, with the reason.

use core::cmp::Reverse;
use core::fmt;
use core::time::Duration;
use std::sync::OnceLock;

use super::beta::beta_below;
use super::evidence::{Confusion, Evidence, Grade, Outcome, StudentKey, When, grade_of};
use super::figures as f;
use super::model::Model;

/// Calls looked back at. Our choice.
pub const LOOK_BACK: usize = 8;
/// Calls before anything is said but silence. Our choice.
pub const LEAST_CALLS: u32 = 3;
/// How sure it must be that a student is below [`f::DROWNING`], or searches
/// long in more than half of the calls. Our choice.
pub const SURE: f64 = 0.8;

/// How a student is doing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum State {
    /// Too few calls to say.
    New,
    /// Finds most.
    Steady,
    /// Has searched long for the note that is open.
    LongNow {
        /// Tries so far.
        tries: u32,
        /// Hearings asked for beyond the free one.
        hearings: u32,
        /// Whole seconds since the note sounded.
        seconds: u64,
    },
    /// Has given many wrong answers to the note called last.
    WrongNow {
        /// How many.
        wrong: u32,
        /// The last of them was far off.
        far: bool,
    },
    /// Nothing has come to the note called last.
    SilentNow {
        /// Whole seconds since it sounded.
        seconds: u64,
    },
    /// Finds, after long searches.
    SearchingLong {
        /// In how many of the calls.
        long: u32,
    },
    /// Misses many.
    Missing {
        /// How many.
        missed: u32,
        /// The kind that more than half of them are of, if there is one.
        by: Option<Confusion>,
    },
    /// Nothing came in the last calls.
    Silent {
        /// How many calls running.
        calls: u32,
    },
}

/// How much help somebody needs, the most last.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Need {
    /// None that is known of.
    Well,
    /// Comes no further.
    Stuck,
    /// Stuck, and far from the note.
    FarOff,
    /// Nothing comes from there.
    Silent,
}

impl Need {
    /// In a word or two; none for who does well.
    pub const fn label(self) -> &'static str {
        match self {
            Self::Well => "",
            Self::Stuck => "stuck",
            Self::FarOff => "far off",
            Self::Silent => "silent",
        }
    }
}

/// One student at a glance. As text, a short phrase.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Glance {
    /// Who.
    pub student: StudentKey,
    /// How.
    pub state: State,
    /// Calls looked at.
    pub of: u32,
}

impl Glance {
    /// Whether this student needs help.
    pub fn needs_help(&self) -> bool {
        self.need() > Need::Well
    }

    /// How much.
    pub fn need(&self) -> Need {
        match self.state {
            State::New | State::Steady => Need::Well,
            State::WrongNow { far: true, .. }
            | State::Missing {
                by: Some(Confusion::Further),
                ..
            } => Need::FarOff,
            State::LongNow { .. }
            | State::SearchingLong { .. }
            | State::WrongNow { .. }
            | State::Missing { .. } => Need::Stuck,
            State::Silent { .. } | State::SilentNow { .. } => Need::Silent,
        }
    }

    /// Looks at the call too, which this student has not found yet: a
    /// search is long by the same bounds as in [`grade_of`]. What many
    /// calls say is worse and stays.
    #[must_use]
    pub fn searching(self, search: Search) -> Self {
        let Search {
            tries,
            hearings,
            wrong,
            far,
            silent,
            lasted,
        } = search;
        let long = tries >= f::LONG_TRIES
            || hearings >= f::LONG_HEARINGS
            || lasted.as_secs_f64() >= f::LONG_SECONDS;
        let state = match self.state {
            State::Silent { .. } | State::Missing { .. } => self.state,
            _ if wrong >= f::MANY_WRONG => State::WrongNow { wrong, far },
            _ if silent && long => State::SilentNow {
                seconds: lasted.as_secs(),
            },
            _ if long => State::LongNow {
                tries,
                hearings,
                seconds: lasted.as_secs(),
            },
            state => state,
        };
        Self { state, ..self }
    }

    /// Who comes first, the greatest: who needs most; of these the silent for
    /// calls, then those who miss most, then those who search long, now or lately.
    pub fn urgency(&self) -> (Need, u32, u32) {
        // In steps of the bounds' size, so that lists do not keep changing.
        let steps = |seconds: u64| {
            let times = seconds / f::LONG_SECONDS as u64;
            u32::try_from(times).unwrap_or(u32::MAX)
        };
        let (kind, count) = match self.state {
            State::Silent { calls } => (6, calls),
            State::Missing { missed, .. } => (5, missed),
            State::WrongNow { wrong, .. } => (4, wrong),
            State::LongNow { seconds, .. } | State::SilentNow { seconds } => (3, steps(seconds)),
            State::SearchingLong { long } => (2, long),
            State::Steady => (1, 0),
            State::New => (0, 0),
        };
        (self.need(), kind, count)
    }
}

/// How far a student is with an open call that is not found yet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Search {
    /// Tries so far.
    pub tries: u32,
    /// Hearings asked for beyond the free one.
    pub hearings: u32,
    /// Wrong answers so far.
    pub wrong: u32,
    /// The last answer was far off.
    pub far: bool,
    /// Nothing has come at all.
    pub silent: bool,
    /// How long ago the note sounded, while it was not shown.
    pub lasted: Duration,
}

/// A student at a glance, from the last [`LOOK_BACK`] calls.
pub fn glance(model: &Model, student: StudentKey) -> Glance {
    glance_now(model, student, false, When(i64::MIN))
}

/// The same in a lesson that began at `since`, for one who may be `active` now
/// in a call that is still open. Such a one is not silent any more; nor is one
/// who was so last week.
pub fn glance_now(model: &Model, student: StudentKey, active: bool, since: When) -> Glance {
    let newest_first: Vec<&Evidence> = model
        .listener(student)
        .into_iter()
        .flat_map(|l| l.recent().rev().take(LOOK_BACK))
        .collect();
    let silent = newest_first
        .iter()
        .take_while(|e| e.outcome == Outcome::Silent && e.when >= since)
        .count() as u32;
    let heard: Vec<&Evidence> = newest_first
        .iter()
        .copied()
        .filter(|e| e.outcome != Outcome::Silent)
        .collect();
    let of = heard.len() as u32;
    let missed = count(&heard, |e| e.outcome != Outcome::FoundFirst);
    let long = count(&heard, |e| grade_of(e) == Some(Grade::Long));
    let state = if silent >= LEAST_CALLS && !active {
        State::Silent { calls: silent }
    } else if of < LEAST_CALLS {
        State::New
    } else if missed >= least_sure().missed[of as usize] {
        State::Missing {
            missed,
            by: most_of(&heard, missed),
        }
    } else if long >= least_sure().long[of as usize] {
        State::SearchingLong { long }
    } else {
        State::Steady
    };
    let of = if let State::Silent { calls } = state {
        calls
    } else {
        of
    };
    Glance { student, state, of }
}

/// All of these at a glance, those who need help first, most urgent on top;
/// the others in the order given.
pub fn who_needs_help(model: &Model, students: &[StudentKey]) -> Vec<Glance> {
    let mut glances: Vec<Glance> = students.iter().map(|s| glance(model, *s)).collect();
    glances.sort_by_key(|g| Reverse(g.urgency()));
    glances
}

fn count(calls: &[&Evidence], which: impl Fn(&Evidence) -> bool) -> u32 {
    calls.iter().filter(|e| which(e)).count() as u32
}

/// The least counts, out of so many calls heard, that are surely above their
/// bounds. Glances are taken of everyone whenever a lesson is drawn.
struct LeastSure {
    missed: [u32; LOOK_BACK + 1],
    long: [u32; LOOK_BACK + 1],
}

fn least_sure() -> &'static LeastSure {
    static LEAST: OnceLock<LeastSure> = OnceLock::new();
    LEAST.get_or_init(|| {
        let least = |bound: f64| {
            core::array::from_fn(|of| {
                let of = of as u32;
                let sure = (0..=of).find(|count| surely_above(bound, *count, of));
                sure.unwrap_or(u32::MAX)
            })
        };
        LeastSure {
            missed: least(1.0 - f::DROWNING),
            long: least(0.5),
        }
    })
}

/// Whether a share is above `bound` with chance [`SURE`], by the Beta belief
/// with Jeffreys' prior.
fn surely_above(bound: f64, count: u32, of: u32) -> bool {
    let (count, rest) = (f64::from(count), f64::from(of - count));
    beta_below(bound, count + 0.5, rest + 0.5) <= 1.0 - SURE
}

fn most_of(calls: &[&Evidence], missed: u32) -> Option<Confusion> {
    Confusion::ALL
        .into_iter()
        .find(|kind| 2 * count(calls, |e| e.miss == Some(*kind)) > missed)
}

impl fmt::Display for Glance {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let of = self.of;
        match self.state {
            State::New => out.write_str("too few calls to say"),
            State::Steady => out.write_str("steady"),
            State::LongNow {
                tries,
                hearings,
                seconds,
            } => {
                write!(out, "searching long now: {seconds} s")?;
                for (count, one, many) in
                    [(tries, "try", "tries"), (hearings, "hearing", "hearings")]
                {
                    match count {
                        0 => {}
                        1 => write!(out, ", 1 {one}")?,
                        _ => write!(out, ", {count} {many}")?,
                    }
                }
                Ok(())
            }
            State::WrongNow { wrong, far } => {
                write!(out, "{wrong} wrong answers to this call")?;
                out.write_str(if far { ", far off" } else { "" })
            }
            State::SilentNow { seconds } => write!(out, "nothing for {seconds} s"),
            State::SearchingLong { long } => {
                write!(out, "searching long: in {long} of the last {of} calls")
            }
            State::Missing { missed, by } => {
                write!(out, "missed {missed} of the last {of} at first")?;
                out.write_str(match by {
                    Some(Confusion::Octave) => ", mostly by octaves",
                    Some(Confusion::Neighbour) => ", mostly by a semitone",
                    Some(Confusion::WholeTone) => ", mostly by a whole tone",
                    Some(Confusion::Further) => ", mostly by more than a whole tone",
                    None => "",
                })
            }
            State::Silent { calls } => write!(out, "silent for {calls} calls"),
        }
    }
}
