//! One right-or-wrong answer under a Gaussian belief: how likely it was, and
//! what the belief becomes.
//!
//! Assumed-density filtering: the exact belief after the answer is no Gaussian;
//! it is replaced by the Gaussian of the same mean and variance (Opper, "A
//! Bayesian approach to on-line learning", 1998; Minka, "A family of algorithms
//! for approximate Bayesian inference", 2001). The integrals are taken by
//! Gauss-Hermite quadrature (Abramowitz and Stegun, 25.4.46).

/// Abscissas at nought and above, and weights, for a standard Gaussian in 21
/// points: numpy's `hermegauss(21)`, weights divided by the square root of 2π.
pub const NODES: [(f64, f64); 11] = [
    (0.0, 0.270260183572877),
    (0.678045692440644, 0.21533371569505969),
    (1.3597658232112302, 0.10839228562641948),
    (2.049102468257163, 0.03395272978654286),
    (2.7505929810523733, 0.006439697051408775),
    (3.4698466904753764, 0.0007080477954815368),
    (4.214343981688422, 4.219234742551662e-05),
    (4.994963944782025, 1.2253548361482524e-06),
    (5.8293820073044715, 1.4506612844930856e-08),
    (6.751444718717461, 4.975368604121718e-11),
    (7.8493828951138225, 2.098991219565671e-14),
];

/// The nearest that a chance comes to nought or one.
pub const MARGIN: f64 = 1e-9;

/// A Gaussian belief about one logit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gaussian {
    /// Mean.
    pub mean: f64,
    /// Variance, nought or more.
    pub var: f64,
}

/// The logistic function, without overflow.
pub fn logistic(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + (-x).exp())
    } else {
        let e = x.exp();
        e / (1.0 + e)
    }
}

/// The logarithm of the logistic function, without underflow.
fn log_logistic(x: f64) -> f64 {
    if x >= 0.0 {
        -(-x).exp().ln_1p()
    } else {
        x - x.exp().ln_1p()
    }
}

impl Gaussian {
    /// The chance of a right answer whose logit is this belief plus `offset`;
    /// within [`MARGIN`] of nought and one at the most.
    pub fn chance(self, offset: f64) -> f64 {
        let sd = self.var.max(0.0).sqrt();
        let sum: f64 = nodes()
            .map(|(x, weight)| weight * logistic(self.mean + sd * x + offset))
            .sum();
        sum.clamp(MARGIN, 1.0 - MARGIN)
    }

    /// The belief after one answer. Its variance is never greater than before:
    /// the logistic function is log-concave.
    #[must_use]
    pub fn after(self, offset: f64, right: bool) -> Gaussian {
        let sd = self.var.max(0.0).sqrt();
        let sign = if right { 1.0 } else { -1.0 };
        let logs = |x: f64| log_logistic(sign * (self.mean + sd * x + offset));
        let greatest = nodes()
            .map(|(x, _)| logs(x))
            .fold(f64::NEG_INFINITY, f64::max);
        let (mut sum, mut first, mut second) = (0.0, 0.0, 0.0);
        for (x, weight) in nodes() {
            let likely = weight * (logs(x) - greatest).exp();
            sum += likely;
            first += likely * x;
            second += likely * x * x;
        }
        let centre = first / sum;
        let spread = (second / sum - centre * centre).clamp(0.0, 1.0);
        Gaussian {
            mean: self.mean + sd * centre,
            var: self.var * spread,
        }
    }
}

/// Both halves of [`NODES`].
fn nodes() -> impl Iterator<Item = (f64, f64)> {
    let below = NODES.iter().skip(1).map(|(x, w)| (-x, *w));
    below.chain(NODES.iter().copied())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nodes_are_those_of_a_standard_gaussian() {
        // Moments of the standard Gaussian: 1, 0, 1, 3, 15.
        let moment = |k: i32| nodes().map(|(x, w)| w * x.powi(k)).sum::<f64>();
        for (k, value) in [(0, 1.0), (1, 0.0), (2, 1.0), (4, 3.0), (6, 15.0)] {
            assert!((moment(k) - value).abs() < 1e-12, "{k}: {}", moment(k));
        }
    }

    #[test]
    fn right_raises_and_wrong_lowers() {
        let before = Gaussian {
            mean: 0.4,
            var: 1.7,
        };
        let up = before.after(-0.3, true);
        let down = before.after(-0.3, false);
        assert!(up.mean > before.mean && down.mean < before.mean);
        assert!(up.var < before.var && down.var < before.var);
        // What is expected of the mean is the mean itself.
        let chance = before.chance(-0.3);
        let expected = chance * up.mean + (1.0 - chance) * down.mean;
        assert!((expected - before.mean).abs() < 1e-12);
    }

    #[test]
    fn extremes_stay_numbers() {
        for mean in [-1e6, -40.0, 0.0, 40.0, 1e6] {
            for var in [0.0, 1e-12, 1.0, 100.0, 1e6] {
                let belief = Gaussian { mean, var };
                let chance = belief.chance(3.0);
                assert!(chance > 0.0 && chance < 1.0, "{mean} {var}");
                for right in [true, false] {
                    let after = belief.after(3.0, right);
                    assert!(after.mean.is_finite() && after.var.is_finite());
                    assert!(after.var >= 0.0 && after.var <= var, "{mean} {var}");
                }
            }
        }
    }
}
