//! Whether a second note began together with the first.
//!
//! What the first note leaves unexplained is scored by itself, as in taking notes
//! away one by one (A. Klapuri, 2006). A second note must have several strong
//! partials of its own: one an octave above the first has none, and is not found.

use crate::news::MOST_PEAKS;
use crate::score::Fit;
use crate::spectrum::Peak;
use crate::workspace::Workspace;

/// What the first note leaves over.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct SecondNote {
    /// Share of all power that is not the first note's partials.
    pub left: f32,
    /// Share of all power that the best second note has to itself.
    pub own: f32,
    /// How many of its partials are there, and the share of the rest that they
    /// are.
    pub found: u32,
    pub explained: f32,
}

/// The second note, by the peaks that were looked at last.
/// `midi` is the first note's, `string` its fundamental in hertz and its
/// stiffness.
pub(crate) fn second_note(
    workspace: &mut Workspace,
    midi: f32,
    string: (f64, f64),
    blur_hz: f32,
) -> SecondNote {
    let (first_hz, stiffness) = (string.0 as f32, string.1 as f32);
    let mut rest = [Peak::default(); MOST_PEAKS];
    let (mut count, mut all, mut left) = (0, 1e-12f32, 0.0f32);
    for peak in workspace.news.last_peaks() {
        let power = peak.magnitude * peak.magnitude;
        all += power;
        if !is_partial(peak.hz, first_hz, stiffness, 1.6 * blur_hz) && count < MOST_PEAKS {
            rest[count] = *peak;
            count += 1;
            left += power;
        }
    }
    let rest = &rest[..count];
    let far = |fit: &&Fit| (fit.midi - midi).abs() > 0.8;
    let fits = workspace.scorer.score(rest, blur_hz).iter().filter(far);
    let Some(second) = fits.copied().max_by(|a, b| a.score.total_cmp(&b.score)) else {
        return SecondNote::default();
    };
    let second_hz = workspace.a4_hz * ((second.midi - 69.0) / 12.0).exp2();
    let own: f32 = rest
        .iter()
        .filter(|peak| is_partial(peak.hz, second_hz, second.stiffness, blur_hz))
        .map(|peak| peak.magnitude * peak.magnitude)
        .sum();
    SecondNote {
        left: left / all,
        own: own / all,
        found: second.found,
        explained: second.explained,
    }
}

/// Whether a peak may be a partial of a stiff string (f in f_n = n·f·√(1 + B·n²), and B).
pub(crate) fn is_partial(hz: f32, f0_hz: f32, stiffness: f32, blur_hz: f32) -> bool {
    let number = (hz / f0_hz).round().max(1.0);
    let number = (hz / (f0_hz * (1.0 + stiffness * number * number).sqrt()))
        .round()
        .max(1.0);
    let at = f0_hz * number * (1.0 + stiffness * number * number).sqrt();
    (hz - at).abs() < blur_hz + at * 0.007
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn high_partials_of_a_stiff_string_are_its_own() {
        // f_n = n·f·√(1 + B·n²): H. Fletcher, JASA 36:203, 1964. The ninth of this one
        // lies nearer to ten times the first.
        for n in 1..=12 {
            let n = n as f32;
            let at = 500.0 * n * (1.0 + 2e-3 * n * n).sqrt();
            assert!(is_partial(at, 500.0, 2e-3, 3.0), "{n}");
            assert!(!is_partial(at * 1.03, 500.0, 2e-3, 3.0), "{n}");
        }
    }
}
