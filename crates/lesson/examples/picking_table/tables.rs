//! The two tables.

use fifthpeg_core::ReachStep;

use crate::course::{CALLS_A_LESSON, Course, Way};
use crate::dice::Dice;
use crate::learners::Kind;

/// True share of right first answers that one learner alone is to reach.
const GOAL: f64 = 0.9;
/// Calls after which we give up.
const MOST_CALLS: usize = 3000;
const CLASS: usize = 12;
const WEEKS: usize = 6;

/// Calls needed by one learner alone in the octave.
pub fn alone(seeds: u64) {
    println!(
        "## One learner alone: calls until {:.0}% of the octave's notes are found at first",
        GOAL * 100.0
    );
    println!();
    println!("Median of {seeds} learners, with the 95% interval of the median; teaching");
    println!("against the others on the same learners, likewise.");
    println!();
    println!("| learner | uniform | spaced | teaching | teaching / uniform | teaching / spaced |");
    println!("|---|---|---|---|---|---|");
    for (kind, name) in Kind::ALL {
        let calls = Way::ALL.map(|(way, _)| -> Vec<f64> {
            (0..seeds)
                .map(|seed| calls_needed(kind, way, seed) as f64)
                .collect()
        });
        let ratio = |other: &[f64]| -> Vec<f64> {
            calls[2].iter().zip(other).map(|(t, o)| t / o).collect()
        };
        println!(
            "| {name} | {} | {} | {} | {} | {} |",
            middle(&calls[0], 0),
            middle(&calls[1], 0),
            middle(&calls[2], 0),
            middle(&ratio(&calls[0]), 2),
            middle(&ratio(&calls[1]), 2),
        );
    }
    println!();
}

fn calls_needed(kind: Kind, way: Way, seed: u64) -> usize {
    let strength = 0.7 * Dice::new(seed ^ 0x5eed).normal();
    let mut course = Course::new(kind, &[strength], ReachStep::OctaveLow, way, seed);
    for calls in 1..=MOST_CALLS {
        course.call();
        if course.learners[0].share(course.pitches()) >= GOAL {
            return calls;
        }
        if calls % CALLS_A_LESSON == 0 {
            course.week();
        }
    }
    MOST_CALLS
}

/// Shares of a class.
struct Shares {
    class: f64,
    weakest: f64,
    strongest: f64,
    /// Share of students with 70 to 95 in a hundred.
    well: f64,
    /// True share over the octave at the end.
    learned: f64,
}

/// A class of twelve over six weeks.
pub fn class(seeds: u64) {
    println!(
        "## A class of {CLASS}, {WEEKS} weekly lessons of {CALLS_A_LESSON} calls: share found at first"
    );
    println!();
    println!("Median of {seeds} classes, with the 95% interval of the median. The first");
    println!("lesson, in which the model knows nobody, is left out of the shares.");
    println!();
    println!(
        "| learners | level | reach | picks | class | weakest | strongest | between 70% and 95% | octave known at the end |"
    );
    println!("|---|---|---|---|---|---|---|---|---|");
    for (kind, name) in Kind::ALL {
        for (level, level_name) in [(-0.7, "weak"), (0.0, "middle"), (1.0, "strong")] {
            for (follow, reach) in [(false, "octave"), (true, "as suggested")] {
                for (way, way_name) in Way::ALL {
                    let shares: Vec<Shares> = (0..seeds)
                        .map(|seed| class_shares(kind, level, follow, way, seed))
                        .collect();
                    let of = |get: fn(&Shares) -> f64| {
                        let values: Vec<f64> = shares.iter().map(|s| 100.0 * get(s)).collect();
                        middle(&values, 0)
                    };
                    println!(
                        "| {name} | {level_name} | {reach} | {way_name} | {} | {} | {} | {} | {} |",
                        of(|s| s.class),
                        of(|s| s.weakest),
                        of(|s| s.strongest),
                        of(|s| s.well),
                        of(|s| s.learned)
                    );
                }
            }
        }
    }
    println!();
}

fn class_shares(kind: Kind, level: f64, follow: bool, way: Way, seed: u64) -> Shares {
    let mut dice = Dice::new(seed ^ 0xc1a55);
    let strengths: Vec<f64> = (0..CLASS).map(|_| level + 0.8 * dice.normal()).collect();
    let mut course = Course::new(kind, &strengths, ReachStep::OctaveLow, way, seed);
    let octave = course.pitches().to_vec();
    let mut found = [0_u32; CLASS];
    for week in 0..WEEKS {
        for call in 0..CALLS_A_LESSON {
            if follow && call % 5 == 0 {
                course.follow_suggestion();
            }
            let right = course.call();
            if week > 0 {
                for (sum, right) in found.iter_mut().zip(right) {
                    *sum += u32::from(right);
                }
            }
        }
        if week + 1 < WEEKS {
            course.week();
        }
    }
    let calls = ((WEEKS - 1) * CALLS_A_LESSON) as f64;
    let own = found.map(|sum| f64::from(sum) / calls);
    let well = own.iter().filter(|s| (0.7..=0.95).contains(*s)).count();
    let learned = course
        .learners
        .iter()
        .map(|l| l.share(&octave))
        .sum::<f64>();
    Shares {
        class: own.iter().sum::<f64>() / CLASS as f64,
        weakest: own.iter().copied().fold(1.0, f64::min),
        strongest: own.iter().copied().fold(0.0, f64::max),
        well: well as f64 / CLASS as f64,
        learned: learned / CLASS as f64,
    }
}

/// The median and the 95% interval of the median by order statistics: the
/// ranks n/2 ± 0.98 √n (sign test; Conover, "Practical Nonparametric
/// Statistics", 3rd ed., section 3.2, from memory).
fn middle(values: &[f64], digits: usize) -> String {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    let n = sorted.len();
    let away = (0.98 * (n as f64).sqrt()).ceil() as usize;
    let low = sorted[(n / 2).saturating_sub(away)];
    let high = sorted[(n / 2 + away).min(n - 1)];
    let median = 0.5 * (sorted[(n - 1) / 2] + sorted[n / 2]);
    format!("{median:.digits$} ({low:.digits$}-{high:.digits$})")
}
