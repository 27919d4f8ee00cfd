//! The figures of picking that teaches against sources outside the project. The
//! tables are made by `tests/reference/make_learning_tables.py` from scipy and
//! statsmodels, whose versions stand in `tests/reference/requirements.txt`; the
//! test command makes them anew and compares.

use std::collections::BTreeMap;

use fifthpeg_lesson::learning::When;
use fifthpeg_lesson::learning::belief::{Belief, Direction, LogitPart};
use fifthpeg_lesson::learning::beta::{beta_below, beta_quantile};
use fifthpeg_lesson::learning::figures;
use fifthpeg_lesson::learning::moments::Gaussian;

const BETA: &str = include_str!("../reference/learning/beta.csv");
const ANSWER: &str = include_str!("../reference/learning/answer.csv");
const ANSWERS: &str = include_str!("../reference/learning/answers.csv");
const FIT: &str = include_str!("../reference/learning/fit.csv");
const MANY: &str = include_str!("../reference/learning/many.csv");

/// The rows of a table under its heading, as `N` numbers each.
fn rows<const N: usize>(table: &str, least: usize) -> Vec<[f64; N]> {
    let cells = |line: &str| {
        let row: Vec<f64> = line
            .split(',')
            .map(|cell| cell.parse().expect("a number"))
            .collect();
        row.try_into()
            .unwrap_or_else(|row| panic!("{N} cells expected: {row:?}"))
    };
    let rows: Vec<[f64; N]> = table.lines().skip(1).map(cells).collect();
    assert!(rows.len() >= least, "the table has {} rows", rows.len());
    rows
}

/// Source: scipy, `stats.beta`.
#[test]
fn quantiles_and_tails_of_the_beta() {
    for [p, a, b, quantile, x, below] in rows(BETA, 60) {
        let ours = beta_quantile(p, a, b);
        assert!((ours - quantile).abs() < 1e-9, "{p} {a} {b}: {ours}");
        let ours = beta_below(x, a, b);
        assert!((ours - below).abs() < 1e-10, "{x} {a} {b}: {ours}");
    }
}

/// Source: scipy, `integrate.quad` over the exact belief. Our 21 points are
/// good to 2e-4 in mean and variance even where the belief is widest.
#[test]
fn one_answer_moves_a_belief_as_the_exact_integrals_say() {
    for [mean, var, offset, right, chance, after_mean, after_var] in rows(ANSWER, 48) {
        let before = Gaussian { mean, var };
        let after = before.after(offset, right == 1.0);
        let case = format!("{mean} {var} {offset} {right}: {after:?}");
        assert!((before.chance(offset) - chance).abs() < 1e-5, "{case}");
        assert!((after.mean - after_mean).abs() < 2e-4, "{case}");
        assert!((after.var - after_var).abs() < 2e-4, "{case}");
    }
}

/// The parts of a note's logit, with the priors the table was made with.
fn parts_of(note: u8) -> Direction {
    let step = figures::REGISTER_SEMITONES;
    let above = f64::from(note % step) / f64::from(step);
    let mut parts = vec![
        (LogitPart::Ability, 1.0),
        (LogitPart::Register(note / step), 1.0 - above),
        (LogitPart::Note(note), 1.0),
    ];
    if above > 0.0 {
        parts.push((LogitPart::Register(note / step + 1), above));
    }
    parts
}

/// Source: the exact posterior of the same priors and answers, by importance
/// sampling with scipy. What taking the answers one by one and keeping a
/// Gaussian costs: the worst mean of the 13 notes is off by 0.13 standard
/// deviations, the worst standard deviation is 7% too wide.
#[test]
fn answers_one_by_one_say_what_they_say_together() {
    let priors = [
        figures::ABILITY_MEAN,
        figures::ABILITY_SD,
        figures::REGISTER_SD,
        figures::NOTE_SD,
    ];
    assert_eq!(priors, [2.0, 1.5, 0.6, 0.9], "make the tables anew");
    let mut belief = Belief::new(When(0));
    let mut asked = BTreeMap::new();
    for [note, reach_size, right] in rows(ANSWERS, 150) {
        belief.learn(
            &parts_of(note as u8),
            -(reach_size - 1.0).ln(),
            right == 1.0,
        );
        *asked.entry(note as u8).or_insert(0) += 1;
    }
    for [note, mean, sd] in rows(FIT, 13) {
        let ours = belief.along(&parts_of(note as u8), When(0));
        let case = format!("{note}: {ours:?}, not {mean} and {}", sd * sd);
        assert!((ours.mean - mean).abs() < 0.15 * sd, "{case}");
        assert!((ours.var.sqrt() / sd - 1.0).abs() < 0.08, "{case}");
    }
    assert_eq!(asked.values().sum::<i32>(), 150);
}

/// Source: statsmodels, `GLM` with the binomial family and offsets. With so
/// many answers the prior adds only its precision. Right and wrong are mixed
/// evenly: a filter remembers the order a little, and all the right ones before
/// all the wrong ones would move it by more than a standard error.
#[test]
fn many_answers_say_what_a_regression_says() {
    let mut belief = Belief::new(When(0));
    let ability = [(LogitPart::Ability, 1.0)];
    let table: Vec<[f64; 5]> = rows(MANY, 4);
    for [reach_size, asked, right, ..] in &table {
        for i in 0..*asked as u32 {
            let so_far = |n: u32| (f64::from(n) * right / asked).floor();
            let found = so_far(i + 1) > so_far(i);
            belief.learn(&ability, -(reach_size - 1.0).ln(), found);
        }
    }
    let [.., logit, error] = table[0];
    let prior = LogitPart::Ability.prior();
    let precision = 1.0 / (error * error) + 1.0 / prior.var;
    let mean = (logit / (error * error) + prior.mean / prior.var) / precision;
    let ours = belief.along(&ability, When(0));
    assert!(
        (ours.mean - mean).abs() < 0.1 * error,
        "{ours:?}, not {mean}"
    );
    let sd = precision.sqrt().recip();
    assert!(
        (ours.var.sqrt() / sd - 1.0).abs() < 0.03,
        "{ours:?}, not {sd}"
    );
}
