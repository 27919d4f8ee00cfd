//! Intervals for shares and medians. `tests/reference/make_report_tables.py`
//! checks them against scipy and statsmodels.

/// The 97.5% point of the standard Gaussian (NIST/SEMATECH e-Handbook of
/// Statistical Methods, 1.3.6.7.1): everything here is for 95%.
const Z: f64 = 1.959_963_984_540_054;

/// Bounds for the share that `count` of `of` stands for: the score interval
/// (E. B. Wilson, JASA 22:209, 1927). `None` of nothing.
pub fn wilson(count: u32, of: u32) -> Option<(f64, f64)> {
    if of == 0 || count > of {
        return None;
    }
    let n = f64::from(of);
    let p = f64::from(count) / n;
    let scale = 1.0 + Z * Z / n;
    let centre = (p + Z * Z / (2.0 * n)) / scale;
    let half = Z / scale * (p * (1.0 - p) / n + Z * Z / (4.0 * n * n)).sqrt();
    // At none and all the bound is that very share, but for rounding.
    let low = if count == 0 { 0.0 } else { centre - half };
    let high = if count == of { 1.0 } else { centre + half };
    Some((low, high))
}

/// Bounds for how far the share behind `later` lies above that behind
/// `earlier`, each a count of so many: from their score intervals (R. G.
/// Newcombe, Statistics in Medicine 17:873, 1998, method 10).
pub fn difference(earlier: (u32, u32), later: (u32, u32)) -> Option<(f64, f64)> {
    let (low_1, high_1) = wilson(earlier.0, earlier.1)?;
    let (low_2, high_2) = wilson(later.0, later.1)?;
    let p_1 = f64::from(earlier.0) / f64::from(earlier.1);
    let p_2 = f64::from(later.0) / f64::from(later.1);
    let gap = p_2 - p_1;
    Some((
        gap - (p_2 - low_2).hypot(high_1 - p_1),
        gap + (high_2 - p_2).hypot(p_1 - low_1),
    ))
}

/// The middle of numbers in order, or halfway between the two middle ones.
pub fn median(sorted: &[f64]) -> Option<f64> {
    let upper = *sorted.get(sorted.len() / 2)?;
    if sorted.len() % 2 == 1 {
        return Some(upper);
    }
    Some(f64::midpoint(*sorted.get(sorted.len() / 2 - 1)?, upper))
}

/// Which of `n` numbers in order, counted from 1, bound the median they stand
/// for, whatever their distribution (H. A. David and H. N. Nagaraja, Order
/// Statistics, 3rd edition 2003, section 7.1). `None` for fewer than six, which
/// cannot bound it with 95%.
pub fn median_ranks(n: usize) -> Option<(usize, usize)> {
    // How many numbers lie below the median is binomial with a half.
    let count = n as f64;
    let mut ln_chance = -count * core::f64::consts::LN_2;
    let mut below = 0.0;
    for i in 0..n {
        below += ln_chance.exp();
        if below > 0.025 {
            return (i > 0).then(|| (i, n + 1 - i));
        }
        ln_chance += ((count - i as f64) / (i as f64 + 1.0)).ln();
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_has_no_bounds() {
        assert_eq!(wilson(0, 0), None);
        assert_eq!(wilson(2, 1), None);
        assert_eq!(difference((0, 0), (1, 2)), None);
        assert_eq!(median(&[]), None);
        assert_eq!(median_ranks(0), None);
        assert_eq!(median_ranks(5), None);
    }

    #[test]
    fn medians_of_odd_and_even() {
        assert_eq!(median(&[1.0, 2.0, 9.0]), Some(2.0));
        assert_eq!(median(&[1.0, 2.0, 4.0, 9.0]), Some(3.0));
    }

    /// David and Nagaraja: of six numbers the least and the greatest bound the
    /// median with 1 - 2/64.
    #[test]
    fn six_numbers_bound_a_median_by_their_ends() {
        assert_eq!(median_ranks(6), Some((1, 6)));
    }

    #[test]
    fn many_numbers_do_not_underflow() {
        // Normal approximation: 2500 - 1.96 * sqrt(5000) / 2 = 2430.7.
        let (low, high) = median_ranks(5000).expect("bounds");
        assert!((2429..=2432).contains(&low), "{low}");
        assert_eq!(low + high, 5001);
    }
}
