//! Whether other notes began together with the first.
//!
//! What is new in the partials, beyond what was there before the onset, is shared out: to
//! the first note, a stiff string laid through all peaks (`string`), and of the rest to
//! the one note that explains it best, as in taking notes away one by one (A. Klapuri,
//! ISMIR 2006). A string that rings on from before falls while the first note begins; one
//! of a chord rises with it. An octave above the first has no partials of its own, and is
//! not found.

use crate::news::MOST_PEAKS;
use crate::polyphony::is_partial;
use crate::score::Fit;
use crate::spectrum::Peak;
use crate::string::read;
use crate::workspace::Workspace;

/// Numbers that tell of company, each about between -1 and 1.
pub(crate) const COMPANY: usize = 11;
/// Which of them says how loud the strongest partial of others is beside the note's own,
/// in units of 20 dB.
pub(crate) const STRONGEST: usize = 7;

/// What is this far below the strongest is not counted, in dB.
const COUNTED_DB: f32 = -26.0;
/// At least this share of a peak is taken to be new, even of one that did not rise.
const LEAST_NEW: f32 = 0.02;
/// Another note is so far from the first, in semitones.
const OTHER: f32 = 0.8;
/// Least power that is told from nothing.
const LEAST: f32 = 1e-12;

/// Powers of what is new and of what was there before.
#[derive(Debug, Clone, Copy)]
struct Power {
    new: f32,
    before: f32,
}

impl Power {
    const NONE: Power = Power {
        new: LEAST,
        before: LEAST,
    };

    fn add(&mut self, new: f32, before: f32) {
        self.new += new;
        self.before += before;
    }

    /// How far it rose, in units of 20 dB.
    fn rise(&self) -> f32 {
        (decibels(self.new) - decibels(self.before)).clamp(-20.0, 40.0) / 20.0
    }
}

fn decibels(power: f32) -> f32 {
    10.0 * power.max(LEAST).log10()
}

/// What began together with a note, by the peaks and the moment before that were looked
/// at last ([`crate::news::News::look_before`]). `midi` is the note's, `string` its first
/// partial in hertz and its stiffness.
pub(crate) fn company(
    workspace: &mut Workspace,
    midi: f32,
    string: (f64, f64),
    blur_hz: f32,
) -> [f32; COMPANY] {
    let (first_hz, stiffness) = match read(workspace.news.last_peaks(), string.0, string.1) {
        Some(reading) => (reading.hz, reading.stiffness),
        None => string,
    };
    let first_hz = (first_hz / (1.0 + stiffness).sqrt()) as f32;
    let stiffness = stiffness as f32;
    let mut rest = [Peak::default(); MOST_PEAKS];
    let (mut count, mut all, mut left) = (0, LEAST, Power::NONE);
    // The strongest partial, and the strongest of the rest.
    let (mut own_most, mut other_most) = (LEAST, (LEAST, 0.0f32));
    for peak in workspace.news.last_peaks() {
        let now = peak.magnitude * peak.magnitude;
        let before = workspace.news.power_before(peak.hz);
        let new = (now - before).max(LEAST_NEW * now);
        all += new;
        if is_partial(peak.hz, first_hz, stiffness, blur_hz) {
            own_most = own_most.max(new);
        } else if count < MOST_PEAKS {
            if new > other_most.0 {
                other_most = (new, peak.hz / first_hz);
            }
            let magnitude = new.sqrt();
            rest[count] = Peak { magnitude, ..*peak };
            count += 1;
            left.add(new, before);
        }
    }
    let rest = &rest[..count];
    let counted = own_most.max(other_most.0) * 10f32.powf(COUNTED_DB / 10.0);
    let strong = rest.iter().filter(|peak| peak.magnitude.powi(2) > counted);
    let strong = strong.count() as f32;
    let far = |fit: &&Fit| fit.found > 0 && (fit.midi - midi).abs() > OTHER;
    let fits = workspace.scorer.score(rest, blur_hz).iter().filter(far);
    let second = fits.copied().max_by(|a, b| a.score.total_cmp(&b.score));
    let (mut own, mut again) = (Power::NONE, 0.0f32);
    for peak in rest {
        let power = peak.magnitude * peak.magnitude;
        let is_second = second.is_some_and(|second| {
            let second_hz = workspace.a4_hz * ((second.midi - 69.0) / 12.0).exp2();
            is_partial(peak.hz, second_hz, second.stiffness, blur_hz)
        });
        if is_second {
            own.add(power, workspace.news.power_before(peak.hz));
        } else {
            again += power;
        }
    }
    let (interval, explained, found) = second.map_or((0.0, 0.0, 0.0), |second| {
        (second.midi - midi, second.explained, second.found as f32)
    });
    [
        (left.new / all).sqrt(),
        (own.new / all).sqrt(),
        explained * (found / 4.0).min(1.0),
        (again / all).sqrt(),
        interval / 12.0,
        own.rise(),
        left.rise(),
        (decibels(other_most.0) - decibels(own_most)).clamp(-40.0, 20.0) / 20.0,
        (other_most.1 / 4.0).min(3.0),
        strong / 6.0,
        stiffness * 1e3,
    ]
}
