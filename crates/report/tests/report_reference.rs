//! The intervals of reports against sources outside the project. The tables are
//! made by `tests/reference/make_report_tables.py` from scipy and statsmodels,
//! whose versions stand in `tests/reference/requirements.txt`; the test command
//! makes them anew and compares.

use fifthpeg_report::stats::{difference, median_ranks, wilson};

const SHARE: &str = include_str!("../../../tests/reference/report/share.csv");
const DIFFERENCE: &str = include_str!("../../../tests/reference/report/difference.csv");
const MEDIAN: &str = include_str!("../../../tests/reference/report/median.csv");

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

/// Source: statsmodels, `proportion_confint(method="wilson")`.
#[test]
fn intervals_of_shares() {
    for [count, of, low, high] in rows(SHARE, 40) {
        let (ours_low, ours_high) = wilson(count as u32, of as u32).expect("bounds");
        assert!((ours_low - low).abs() < 1e-9, "{count} of {of}: {ours_low}");
        assert!(
            (ours_high - high).abs() < 1e-9,
            "{count} of {of}: {ours_high}"
        );
    }
}

/// Source: statsmodels, `confint_proportions_2indep(method="newcomb")`.
#[test]
fn intervals_of_differences() {
    for [count_1, of_1, count_2, of_2, low, high] in rows(DIFFERENCE, 60) {
        let earlier = (count_1 as u32, of_1 as u32);
        let later = (count_2 as u32, of_2 as u32);
        let (ours_low, ours_high) = difference(earlier, later).expect("bounds");
        let case = format!("{earlier:?} {later:?}: {ours_low} to {ours_high}");
        assert!((ours_low - low).abs() < 1e-9, "{case}");
        assert!((ours_high - high).abs() < 1e-9, "{case}");
    }
}

/// Source: scipy, `quantile_test(...).confidence_interval`.
#[test]
fn ranks_that_bound_a_median() {
    for [values, low, high] in rows(MEDIAN, 50) {
        let ours = median_ranks(values as usize);
        assert_eq!(
            ours,
            Some((low as usize, high as usize)),
            "of {values} values"
        );
    }
}
