//! The picking rule, tested for what it promises.
//!
//! Bounds are upper critical values of the chi-square distribution at 0.001,
//! NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.6.7.4, from
//! memory; [`bounds_agree_with_formulas`] checks them against the exact tail
//! and the formula of Wilson and Hilferty (1931). The seeds are fixed, so a test that passes
//! keeps passing.

use fifthpeg_core::{Pitch, Reach, ReachSpec};
use fifthpeg_fixture::{banjo, pitch};
use fifthpeg_lesson::picker::Picker;

/// Degrees of freedom and bound.
const BOUNDS: [(usize, f64); 6] = [
    (1, 10.828),
    (2, 13.816),
    (3, 16.266),
    (4, 18.467),
    (6, 22.458),
    (9, 27.877),
];

fn bound(degrees: usize) -> f64 {
    let row = BOUNDS.iter().find(|(d, _)| *d == degrees);
    row.expect("a row for these degrees of freedom").1
}

fn chi_square(observed: &[u32], expected: &[f64]) -> f64 {
    observed
        .iter()
        .zip(expected)
        .map(|(o, e)| (f64::from(*o) - e).powi(2) / e)
        .sum()
}

fn pitches(count: u8) -> Vec<Pitch> {
    (0..count).map(|n| pitch(60 + n)).collect()
}

/// The picks that one seed gives.
fn picks(seed: u64, pitches: &[Pitch], count: usize) -> Vec<Pitch> {
    let mut picker = Picker::new(seed);
    let mut picks = Vec::with_capacity(count);
    for _ in 0..count {
        let picked = picker.pick_pitch(pitches).expect("pitches to pick from");
        picker.remember(picked);
        picks.push(picked);
    }
    picks
}

#[test]
fn bounds_agree_with_formulas() {
    // z of 0.001 in one tail of the normal distribution.
    const Z: f64 = 3.090_232;
    for (degrees, bound) in BOUNDS {
        let k = degrees as f64;
        if degrees % 2 == 0 {
            // With even degrees of freedom the tail is a finite sum.
            let half = bound / 2.0;
            let (mut term, mut sum) = (1.0, 1.0);
            for i in 1..degrees / 2 {
                term *= half / i as f64;
                sum += term;
            }
            let tail = (-half).exp() * sum;
            assert!((tail - 0.001).abs() < 1e-6, "{degrees}: {tail}");
        } else {
            // Good to 4% with one degree of freedom, better with more.
            let formula = k * (1.0 - 2.0 / (9.0 * k) + Z * (2.0 / (9.0 * k)).sqrt()).powi(3);
            assert!(
                (formula / bound - 1.0).abs() < 0.04 / k.sqrt(),
                "{degrees}: {formula}"
            );
        }
    }
}

#[test]
fn each_pitch_comes_equally_often() {
    // Picks within one lesson hang together, so each seed gives one pick only:
    // the first, the second, the tenth.
    const SEEDS: u32 = 4000;
    for count in [2_u8, 3, 4, 5, 7, 10] {
        let pitches = pitches(count);
        for nth in [1, 2, 10] {
            let mut observed = vec![0; usize::from(count)];
            for seed in 0..SEEDS {
                let picked = picks(u64::from(seed) * 31 + nth as u64, &pitches, nth)[nth - 1];
                observed[usize::from(picked.midi() - 60)] += 1;
            }
            let expected = vec![f64::from(SEEDS) / f64::from(count); observed.len()];
            let chi = chi_square(&observed, &expected);
            assert!(
                chi < bound(usize::from(count) - 1),
                "pick {nth} of {count}: {observed:?}, chi-square {chi}"
            );
        }
    }
}

#[test]
fn the_same_pitch_never_comes_twice_running_among_three_or_more() {
    for count in [3_u8, 4, 5, 12, 35] {
        let picks = picks(u64::from(count), &pitches(count), 3000);
        assert!(picks.windows(2).all(|w| w[0] != w[1]), "{count}");
    }
}

#[test]
fn recent_pitches_come_less_often_by_the_weights_of_the_rule() {
    // Among five, the weights are 1, 2, 3 and 4 once all have been heard, so
    // the pitch of two, three, four calls ago comes in 1, 2, 3 of 10 picks and
    // the remaining one in 4.
    let picks = picks(99, &pitches(5), 20_000);
    let mut observed = [0_u32; 4];
    let mut total = 0_u32;
    for window in picks.windows(5) {
        let [last_four @ .., picked] = window else {
            continue;
        };
        let distinct = last_four.iter().collect::<std::collections::HashSet<_>>();
        if distinct.len() == 4 {
            let ago = last_four.iter().rev().position(|p| p == picked);
            // Nought ago is ruled out; "not among the four" is the fifth pitch.
            observed[ago.map_or(3, |a| a - 1)] += 1;
            total += 1;
        }
    }
    let expected = [0.1, 0.2, 0.3, 0.4].map(|share| share * f64::from(total));
    assert!(total > 3000, "{total}");
    let chi = chi_square(&observed, &expected);
    assert!(chi < bound(3), "{observed:?} of {total}, chi-square {chi}");
}

#[test]
fn two_pitches_do_not_simply_alternate() {
    // After one of a kind the same comes again in a third of cases, after two
    // running in a quarter.
    let picks = picks(5, &pitches(2), 12_000);
    let mut again_after = [[0_u32; 2]; 2];
    for window in picks.windows(4) {
        let [a, b, c, d] = window else { continue };
        let run = match (a == b, b == c) {
            (_, false) => 0,
            (false, true) => 1,
            (true, true) => continue,
        };
        again_after[run][usize::from(c == d)] += 1;
    }
    for (run, same_again) in [(0, 1.0 / 3.0), (1, 1.0 / 4.0)] {
        let observed = again_after[run];
        let total = f64::from(observed[0] + observed[1]);
        let expected = [(1.0 - same_again) * total, same_again * total];
        let chi = chi_square(&observed, &expected);
        assert!(chi < bound(1), "run {run}: {observed:?}, chi-square {chi}");
    }
}

#[test]
fn places_of_a_pitch_come_equally_often() {
    let neck = banjo();
    let spec: ReachSpec = "whole".parse().expect("a reach");
    let reach = Reach::resolve(&neck, &spec).expect("the whole neck");
    // A4 lies in five places (common practice, no source).
    let a4 = pitch(69);
    let places = neck.places(a4);
    assert_eq!(places.len(), 5);
    let mut picker = Picker::new(11);
    let mut observed = [0_u32; 5];
    for _ in 0..5000 {
        let picked = picker.pick_place(a4, &reach, &neck).expect("a place");
        let index = places.iter().position(|p| *p == picked);
        observed[index.expect("a place of A4")] += 1;
    }
    let chi = chi_square(&observed, &[1000.0; 5]);
    assert!(chi < bound(4), "{observed:?}, chi-square {chi}");
}

#[test]
fn nothing_to_pick_from_picks_nothing() {
    assert_eq!(Picker::new(1).pick_pitch(&[]), None);
}
