//! Whether a second note began together with the first.
//!
//! What the first note leaves unexplained is scored by itself, as in taking notes
//! away one by one (A. Klapuri, 2006). A second note must have several strong
//! partials of its own: one an octave above the first has none, and is not found.

use crate::judge::Judge;
use crate::news::MOST_PEAKS;
use crate::spectrum::Peak;

/// Power of the second note's own partials beside all that is new, in dB.
const LEAST_DB: f32 = -9.0;
/// Share of the rest that it must explain.
const LEAST_EXPLAINED: f32 = 0.55;
const LEAST_EXPLAINED_BY_MANY: f32 = 0.35;
/// Share of all power that one note alone never leaves.
const MUCH_LEFT: f32 = 0.5;
/// Partials of its own that it must have.
const LEAST_FOUND: u32 = 3;

/// Whether there is one, by the peaks that were looked at last.
/// `midi` is the first note's, `string` its fundamental in hertz and its
/// stiffness.
pub(crate) fn second_note(judge: &mut Judge, midi: f32, string: (f64, f64), blur_hz: f32) -> bool {
    let (first_hz, stiffness) = (string.0 as f32, string.1 as f32);
    let mut rest = [Peak::default(); MOST_PEAKS];
    let (mut count, mut all, mut left) = (0, 0.0f32, 0.0f32);
    for peak in judge.news.last_peaks() {
        let power = peak.magnitude * peak.magnitude;
        all += power;
        if !is_partial(peak.hz, first_hz, stiffness, 1.6 * blur_hz) && count < MOST_PEAKS {
            rest[count] = *peak;
            count += 1;
            left += power;
        }
    }
    if count < LEAST_FOUND as usize || left < all * 10f32.powf(LEAST_DB / 10.0) {
        return false;
    }
    // Three notes or more leave too much that no one note explains.
    if left > all * MUCH_LEFT {
        return true;
    }
    let rest = &rest[..count];
    let Some(second) = judge
        .scorer
        .score(rest, blur_hz)
        .iter()
        .copied()
        .max_by(|a, b| a.score.total_cmp(&b.score))
    else {
        return false;
    };
    let second_hz = judge.a4_hz * ((second.midi - 69.0) / 12.0).exp2();
    let own: f32 = rest
        .iter()
        .filter(|peak| is_partial(peak.hz, second_hz, second.stiffness, blur_hz))
        .map(|peak| peak.magnitude * peak.magnitude)
        .sum();
    let explains = match second.found {
        0..LEAST_FOUND => false,
        LEAST_FOUND => second.explained > LEAST_EXPLAINED,
        // A third note may leave much of the rest unexplained.
        _ => second.explained > LEAST_EXPLAINED_BY_MANY,
    };
    explains && (second.midi - midi).abs() > 0.8 && own > all * 10f32.powf(LEAST_DB / 10.0)
}

fn is_partial(hz: f32, f0_hz: f32, stiffness: f32, blur_hz: f32) -> bool {
    let number = (hz / f0_hz).round().max(1.0);
    let number = (hz / (f0_hz * (1.0 + stiffness * number * number).sqrt()))
        .round()
        .max(1.0);
    let at = f0_hz * number * (1.0 + stiffness * number * number).sqrt();
    (hz - at).abs() < blur_hz + at * 0.007
}
