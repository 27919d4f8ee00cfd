//! A stiff string laid through peaks: f_n = n·f·√(1 + B·n²) (H. Fletcher, JASA
//! 36:203, 1964).

use crate::spectrum::Peak;

/// Partials that are read.
const PARTIALS: usize = 12;
/// How far from where it should be a partial is looked for, in cents.
const REACH_CENTS: f32 = 45.0;

/// A string laid through peaks.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Reading {
    /// Its first partial, in hertz.
    pub hz: f64,
    /// How uncertain that is, in cents.
    pub spread_cents: f64,
    /// Its stiffness, B.
    pub stiffness: f64,
    /// Share of the power of all peaks that is in its partials.
    pub share: f64,
}

/// The string that fits the peaks best, near a fundamental that is roughly
/// known.
pub(crate) fn read(peaks: &[Peak], rough_hz: f64, stiffness: f64) -> Option<Reading> {
    // For each partial found: n², (f_n/n)², and its weight.
    let mut found = [(0.0f64, 0.0f64, 0.0f64); PARTIALS];
    let mut count = 0;
    let mut power = 0.0;
    for n in 1..=PARTIALS {
        let number = n as f64;
        let at = rough_hz * number * (1.0 + stiffness * number * number).sqrt();
        let reach = at * (f64::from(REACH_CENTS) / 1200.0 * std::f64::consts::LN_2);
        let nearest = peaks
            .iter()
            .filter(|peak| (f64::from(peak.hz) - at).abs() < reach)
            .max_by(|a, b| a.magnitude.total_cmp(&b.magnitude));
        if let Some(peak) = nearest {
            let by_number = f64::from(peak.hz) / number;
            // The error in hertz falls with the height above the floor, and
            // counts less the higher the partial.
            let weight = number * number * f64::from(peak.magnitude);
            found[count] = (number * number, by_number * by_number, weight);
            count += 1;
            power += f64::from(peak.magnitude).powi(2);
        }
    }
    let found = &mut found[..count];
    if found.is_empty() {
        return None;
    }
    let mut line = fit_line(found, stiffness);
    for _ in 0..3 {
        // What lies far off belongs to another string: it counts less
        // (iteratively reweighted least squares; P. J. Huber, 1964).
        let mut again = [(0.0, 0.0, 0.0); PARTIALS];
        for (to, &(n2, y, weight)) in again.iter_mut().zip(found.iter()) {
            let off_cents = 600.0 * (y / (line.0 + line.1 * n2)).log2();
            *to = (n2, y, weight / (1.0 + (off_cents / 3.0).powi(2)));
        }
        line = fit_line(&again[..count], stiffness);
    }
    let (mut off2, mut weights) = (0.0, 0.0);
    for &(n2, y, weight) in found.iter() {
        let off_cents = (600.0 * (y / (line.0 + line.1 * n2)).log2()).clamp(-20.0, 20.0);
        off2 += weight * off_cents * off_cents;
        weights += weight;
    }
    let spread = if count > 1 {
        (off2 / weights / (count - 1) as f64).sqrt()
    } else {
        2.0
    };
    let all: f64 = peaks
        .iter()
        .map(|peak| f64::from(peak.magnitude).powi(2))
        .sum();
    Some(Reading {
        hz: (line.0 + line.1).sqrt(),
        spread_cents: spread.max(0.1),
        stiffness: line.1 / line.0,
        share: power / all,
    })
}

/// (f_n/n)² = f²·(1 + B·n²) is a line in n²: its height at nought and slope. With
/// few partials the slope is taken from the stiffness known already.
fn fit_line(points: &[(f64, f64, f64)], stiffness: f64) -> (f64, f64) {
    let (mut w, mut wx, mut wy, mut wxx, mut wxy) = (0.0, 0.0, 0.0, 0.0, 0.0);
    for &(x, y, weight) in points {
        w += weight;
        wx += weight * x;
        wy += weight * y;
        wxx += weight * x * x;
        wxy += weight * x * y;
    }
    let spread = wxx - wx * wx / w;
    if points.len() >= 4 && spread > 0.0 {
        let slope = (wxy - wx * wy / w) / spread;
        let height = (wy - slope * wx) / w;
        // No string is that stiff, and none less than not at all.
        if height > 0.0 && (0.0..2e-3).contains(&(slope / height)) {
            return (height, slope);
        }
    }
    let height = points
        .iter()
        .map(|&(x, y, weight)| weight * y / (1.0 + stiffness * x))
        .sum::<f64>()
        / w;
    (height, height * stiffness)
}
