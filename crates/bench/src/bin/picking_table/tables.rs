//! The tables of `docs/picking.md`: which courses each compares, and its lines.

use fifthpeg_bench::dice::Dice;
use fifthpeg_bench::learners::Kind;
use fifthpeg_core::ReachStep;

use crate::course::{CALLS_A_LESSON, Course, Way};

/// True share of right first answers that one learner alone is to reach.
const GOAL: f64 = 0.9;
/// Calls after which we give up.
const MOST_CALLS: usize = 3000;
/// Days between two sittings alone, and between two lessons of a class.
const DAYS_ALONE: u64 = 3;
const DAYS_CLASS: u64 = 7;
const CLASS: usize = 12;
const WEEKS: usize = 6;

/// Calls needed by one learner alone in the octave.
pub fn alone(seeds: u64) {
    println!(
        "One learner alone, {CALLS_A_LESSON} calls every {DAYS_ALONE} days: calls until {:.0}% of the",
        GOAL * 100.0
    );
    println!(
        "octave are found at first. Medians of {seeds} learners (95% interval of the median)."
    );
    println!();
    println!(
        "| learner | uniform | plain picker | teaching | all-knowing | teaching / uniform | teaching / plain | all-knowing / uniform |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    let ways = [Way::Uniform, Way::Spaced, Way::Teaching, Way::AllKnowing];
    let mut found = Vec::new();
    for (kind, name) in Kind::ALL {
        let runs = ways.map(|way| -> Vec<Alone> {
            (0..seeds).map(|seed| Alone::run(kind, way, seed)).collect()
        });
        let calls = |way: usize| runs[way].iter().map(|r| r.calls).collect::<Vec<f64>>();
        let ratio = |of: usize, to: usize| -> Vec<f64> {
            calls(of)
                .iter()
                .zip(calls(to))
                .map(|(a, b)| a / b)
                .collect()
        };
        print!("| {name} |");
        for way in 0..ways.len() {
            print!(" {} |", middle(&calls(way), 0));
        }
        for (of, to) in [(2, 0), (2, 1), (3, 0)] {
            print!(" {} |", middle(&ratio(of, to), 2));
        }
        println!();
        let shares = |way: usize| {
            runs[way]
                .iter()
                .map(|r| 100.0 * r.found)
                .collect::<Vec<f64>>()
        };
        found.push((name, [0, 1, 2, 3].map(|way| middle(&shares(way), 0))));
    }
    println!();
    println!("The same learners: found at first on the way there, in percent.");
    println!();
    println!("| learner | uniform | plain picker | teaching | all-knowing |");
    println!("|---|---|---|---|---|");
    for (name, shares) in found {
        println!("| {name} | {} |", shares.join(" | "));
    }
    println!();
}

/// Sittings after which it is looked at what is known.
const SITTINGS: [usize; 2] = [2, 8];

/// What one learner alone knows of the octave after so many sittings.
pub fn known(seeds: u64) {
    println!(
        "One learner alone, {CALLS_A_LESSON} calls every {DAYS_ALONE} days: how much of the octave is found at"
    );
    println!(
        "first right after so many sittings, in points of a hundred. Means of {seeds} learners; the"
    );
    println!("differences are of the same learners, with 95% ranges.");
    println!();
    println!(
        "| learner | sittings | plain picker | teaching | teaching − plain | all-knowing − plain |"
    );
    println!("|---|---|---|---|---|---|");
    for (kind, name) in Kind::ALL {
        for sittings in SITTINGS {
            let of = |way| -> Vec<f64> {
                let run = |seed| 100.0 * known_after(kind, way, sittings, seed);
                (0..seeds).map(run).collect()
            };
            let (plain, teaching) = (of(Way::Spaced), of(Way::Teaching));
            let best = of(Way::AllKnowing);
            let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
            println!(
                "| {name} | {sittings} | {:.1} | {:.1} | {} | {} |",
                mean(&plain),
                mean(&teaching),
                difference(&teaching, &plain),
                difference(&best, &plain)
            );
        }
    }
    println!();
}

fn known_after(kind: Kind, way: Way, sittings: usize, seed: u64) -> f64 {
    let strength = 0.7 * Dice::new(seed ^ 0x5eed).normal();
    let mut course = Course::new(kind, &[strength], ReachStep::OctaveLow, way, seed);
    for sitting in 0..sittings {
        if sitting > 0 {
            course.rest(DAYS_ALONE);
        }
        for _ in 0..CALLS_A_LESSON {
            course.call();
        }
    }
    course.learners[0].share(course.pitches())
}

/// The mean of paired differences with its 95% range by the normal approximation
/// (NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.2).
fn difference(values: &[f64], from: &[f64]) -> String {
    let each: Vec<f64> = values.iter().zip(from).map(|(a, b)| a - b).collect();
    let n = each.len() as f64;
    let mean = each.iter().sum::<f64>() / n;
    let square = each.iter().map(|d| (d - mean).powi(2)).sum::<f64>();
    let half = 1.96 * (square / (n - 1.0).max(1.0) / n).sqrt();
    format!("{mean:+.1} ± {half:.1}").replace('-', "−")
}

/// One learner's way to the goal.
struct Alone {
    calls: f64,
    /// Share found at first on the way.
    found: f64,
}

impl Alone {
    fn run(kind: Kind, way: Way, seed: u64) -> Self {
        let strength = 0.7 * Dice::new(seed ^ 0x5eed).normal();
        let mut course = Course::new(kind, &[strength], ReachStep::OctaveLow, way, seed);
        let mut calls = 0;
        let mut found = 0;
        while calls < MOST_CALLS && course.learners[0].share(course.pitches()) < GOAL {
            if calls > 0 && calls % CALLS_A_LESSON == 0 {
                course.rest(DAYS_ALONE);
            }
            calls += 1;
            found += course.call().into_iter().filter(|right| *right).count();
        }
        Self {
            calls: (calls as f64).max(1.0),
            found: found as f64 / (calls as f64).max(1.0),
        }
    }
}

/// Shares of a class.
struct Shares {
    class: f64,
    weakest: f64,
    /// Share of students with 70 to 95 in a hundred.
    well: f64,
    /// True share over the octave at the end.
    learned: f64,
}

/// One column of the class's tables.
type Column = fn(&Shares) -> f64;

/// A class of twelve over six weeks.
pub fn class(seeds: u64) {
    let ways = [
        (Way::Uniform, false, "octave, uniform"),
        (Way::Teaching, false, "octave, teaching"),
        (Way::Uniform, true, "as suggested, uniform"),
        (Way::Teaching, true, "as suggested, teaching"),
    ];
    println!(
        "A class of {CLASS}, {WEEKS} weekly lessons of {CALLS_A_LESSON} calls. Medians of {seeds} classes (95%"
    );
    println!("interval of the median), in percent. The first lesson, in which nobody is");
    println!("known yet, counts in the last table only. The reach is the octave all the");
    println!("time, or what is suggested after every fifth call.");
    println!();
    let columns: [(&str, Column); 4] = [
        ("Found at first, the whole class", |s| s.class),
        ("Found at first, the weakest of the class", |s| s.weakest),
        ("Students with 70 to 95% found at first", |s| s.well),
        ("Octave known at the end", |s| s.learned),
    ];
    let mut rows = Vec::new();
    for (kind, name) in Kind::ALL {
        for (level, level_name) in [(-0.7, "weak"), (0.0, "middle"), (1.0, "strong")] {
            let shares = ways.map(|(way, follow, _)| -> Vec<Shares> {
                let run = |seed| class_shares(kind, level, follow, way, seed);
                (0..seeds).map(run).collect()
            });
            rows.push((format!("{name}, {level_name}"), shares));
        }
    }
    for (title, get) in columns {
        println!("| {title} | {} |", ways.map(|w| w.2).join(" | "));
        println!("|---|---|---|---|---|");
        for (name, shares) in &rows {
            let cells = shares.each_ref().map(|of_way| {
                let values: Vec<f64> = of_way.iter().map(|s| 100.0 * get(s)).collect();
                middle(&values, 0)
            });
            println!("| {name} | {} |", cells.join(" | "));
        }
        println!();
    }
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
            course.rest(DAYS_CLASS);
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
    format!("{median:.digits$} ({low:.digits$}–{high:.digits$})")
}
