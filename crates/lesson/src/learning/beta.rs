//! The Beta distribution: its tail and its quantiles.
//!
//! The incomplete beta function by its continued fraction (NIST Digital Library
//! of Mathematical Functions, 8.17.22), evaluated by Lentz's method; the
//! logarithm of the gamma function by Stirling's series (5.11.1) after shifting
//! its argument up (5.5.1). Compared with scipy in `tests/reference`.

/// The logarithm of the gamma function, for x above 0.
pub fn ln_gamma(x: f64) -> f64 {
    let (mut x, mut shift) = (x, 0.0);
    while x < 10.0 {
        shift -= x.ln();
        x += 1.0;
    }
    let inverse = 1.0 / (x * x);
    // B(2k) / (2k (2k - 1)) for k from 1 to 6.
    let series = [
        1.0 / 12.0,
        -1.0 / 360.0,
        1.0 / 1260.0,
        -1.0 / 1680.0,
        1.0 / 1188.0,
        -691.0 / 360_360.0,
    ];
    let sum = series.iter().rev().fold(0.0, |sum, c| sum * inverse + c) / x;
    shift + (x - 0.5) * x.ln() - x + 0.5 * core::f64::consts::TAU.ln() + sum
}

/// The chance that a Beta(a, b) lies below `x`; a and b above 0. Outside 0 to 1
/// it is 0 or 1.
pub fn beta_below(x: f64, a: f64, b: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if x >= 1.0 {
        return 1.0;
    }
    // The fraction converges fast on this side of the mean.
    if x > (a + 1.0) / (a + b + 2.0) {
        return 1.0 - beta_below(1.0 - x, b, a);
    }
    let front = a * x.ln() + b * (-x).ln_1p() - ln_gamma(a) - ln_gamma(b) + ln_gamma(a + b);
    (front.exp() / a * fraction(x, a, b)).clamp(0.0, 1.0)
}

/// Lentz's method for the continued fraction.
fn fraction(x: f64, a: f64, b: f64) -> f64 {
    const TINY: f64 = 1e-300;
    const TERMS: u32 = 500;
    let sound = |value: f64| if value.abs() < TINY { TINY } else { value };
    let mut c = 1.0;
    let mut d = 1.0 / sound(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for term in 1..TERMS {
        let m = f64::from(term);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let before = value;
        for coefficient in [even, odd] {
            d = 1.0 / sound(1.0 + coefficient * d);
            c = sound(1.0 + coefficient / c);
            value *= c * d;
        }
        if (value - before).abs() <= 1e-15 * value.abs() {
            break;
        }
    }
    value
}

/// The point that a Beta(a, b) lies below with chance `p`, to about 1e-15; by
/// halving, which never goes astray.
pub fn beta_quantile(p: f64, a: f64, b: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..52 {
        let middle = 0.5 * (low + high);
        if beta_below(middle, a, b) < p {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn gamma_of_whole_and_half_numbers() {
        // DLMF 5.4.1 and 5.4.6: gamma(n + 1) = n!, gamma(1/2) is the root of pi.
        assert!((ln_gamma(1.0)).abs() < 1e-13);
        assert!((ln_gamma(6.0) - 120_f64.ln()).abs() < 1e-13);
        assert!((ln_gamma(0.5) - 0.5 * core::f64::consts::PI.ln()).abs() < 1e-13);
    }

    #[test]
    fn the_uniform_and_its_powers() {
        // Beta(1, 1) is uniform, Beta(n, 1) has the tail x to the n.
        assert!((beta_below(0.3, 1.0, 1.0) - 0.3).abs() < 1e-14);
        assert!((beta_below(0.7, 4.0, 1.0) - 0.7_f64.powi(4)).abs() < 1e-14);
        assert!((beta_quantile(0.25, 1.0, 1.0) - 0.25).abs() < 1e-14);
    }
}
