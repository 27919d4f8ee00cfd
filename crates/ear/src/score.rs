//! How well each note explains what is new in a spectrum.
//!
//! Every note of the range of hearing is tried at many tunings and degrees of
//! stiffness, with partials at n·f·√(1 + B·n²) (H. Fletcher, JASA 36:203, 1964).
//! A note is good as far as the peaks are its partials, and bad as far as it
//! foretells partials that are not there: that is what tells octaves apart, and
//! it needs no fundamental. The loudness of each partial is free, and counts by
//! its root, as in summing up partials for a salience (A. Klapuri, "Multiple
//! fundamental frequency estimation by summing harmonic amplitudes", ISMIR 2006).

use crate::news::ABOVE_FLOOR;
use crate::spectrum::{Peak, greater};

/// Most partials a note is tried with.
const MOST_PARTIALS: usize = 14;
/// Steps a semitone is tuned in.
const TUNINGS: i32 = 8;
/// Stiffnesses tried: a nylon string, a steel string, a steel string stopped
/// high up (Fletcher and Rossing, "The Physics of Musical Instruments", 2nd
/// ed., section 2.18 gives how B grows with the inverse square of the length).
const STIFFNESSES: [f32; 3] = [0.0, 1.2e-4, 5e-4];
/// How much absent partials count against a note.
const ABSENT_WEIGHT: f32 = 0.5;

/// Most that one partial can say for a note.
const MOST_EVIDENCE: f32 = 2.2;

/// One note, tuned as it fits best.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Fit {
    /// MIDI number, with a fraction.
    pub midi: f32,
    pub stiffness: f32,
    /// Share of the peaks that are its partials, less absent partials.
    pub score: f32,
    /// Share of the peaks that are its partials.
    pub explained: f32,
    /// Number of its partials that were found.
    pub found: u32,
}

/// Scores every semitone of a range.
#[derive(Debug, Clone)]
pub(crate) struct Scorer {
    lowest: i32,
    /// f for each tuning step from half a semitone below the lowest note on.
    grid_hz: Vec<f32>,
    highest_hz: f32,
    fits: Vec<Fit>,
}

impl Scorer {
    /// For MIDI numbers `lowest..=highest` at a pitch of A4, with partials
    /// seen up to `highest_hz`.
    pub fn new(lowest: i32, highest: i32, a4_hz: f64, highest_hz: f32) -> Scorer {
        let steps = (highest - lowest + 1) * TUNINGS;
        let grid_hz = (0..steps)
            .map(|step| {
                let midi = f64::from(lowest) - 0.5 + (f64::from(step) + 0.5) / f64::from(TUNINGS);
                (a4_hz * ((midi - 69.0) / 12.0).exp2()) as f32
            })
            .collect();
        Scorer {
            lowest,
            grid_hz,
            highest_hz,
            fits: vec![Fit::default(); (highest - lowest + 1) as usize],
        }
    }

    /// Scores all notes by peaks in order of frequency; gives the best fit for
    /// each semitone. `blur_hz` is how far a peak may be off by itself.
    pub fn score(&mut self, peaks: &[Peak], blur_hz: f32) -> &[Fit] {
        for (note, fit) in self.fits.iter_mut().enumerate() {
            *fit = Fit {
                midi: (self.lowest + note as i32) as f32,
                ..Fit::default()
            };
        }
        let total: f32 = peaks.iter().map(weight).sum();
        if total <= 0.0 {
            return &self.fits;
        }
        // Partials are expected up to where nearly all of what is there lies.
        let mut sum = 0.0;
        let mut top_hz = 0.0;
        for peak in peaks {
            sum += weight(peak);
            top_hz = peak.hz;
            if sum > 0.93 * total {
                break;
            }
        }
        for (step, &hz) in self.grid_hz.iter().enumerate() {
            let note = step / TUNINGS as usize;
            for stiffness in STIFFNESSES {
                let mut fit = one(peaks, hz, stiffness, blur_hz, top_hz, self.highest_hz);
                fit.explained /= total;
                fit.score += fit.explained;
                if fit.score > self.fits[note].score {
                    fit.midi = self.lowest as f32 - 0.5 + (step as f32 + 0.5) / TUNINGS as f32;
                    fit.stiffness = stiffness;
                    self.fits[note] = fit;
                }
            }
        }
        &self.fits
    }
}

/// How surely a note is there at all, whatever others are: how far its partials
/// stand out of the noise, each up to [`MOST_EVIDENCE`] (in nepers).
pub(crate) fn evidence(peaks: &[Peak], fit: &Fit, a4_hz: f32, blur_hz: f32) -> f32 {
    let hz = a4_hz * ((fit.midi - 69.0) / 12.0).exp2();
    (1..=MOST_PARTIALS)
        .map(|n| {
            let number = n as f32;
            let at = hz * number * (1.0 + fit.stiffness * number * number).sqrt();
            let blur = blur_hz + at * 0.003;
            peaks
                .iter()
                .filter(|peak| (peak.hz - at).abs() < 1.4 * blur)
                .map(|peak| {
                    (peak.above_floor / ABOVE_FLOOR)
                        .ln()
                        .clamp(0.0, MOST_EVIDENCE)
                })
                .fold(0.0, f32::max)
        })
        .sum()
}

/// How much a peak counts.
pub(crate) fn weight(peak: &Peak) -> f32 {
    peak.magnitude.sqrt()
}

/// What one exact tuning explains, not yet divided by the total; `score` holds
/// what absent partials take away.
fn one(peaks: &[Peak], hz: f32, stiffness: f32, blur_hz: f32, top_hz: f32, highest_hz: f32) -> Fit {
    let mut fit = Fit::default();
    let (mut expected, mut absent) = (0.0f32, 0.0f32);
    let mut next = 0;
    for n in 1..=MOST_PARTIALS {
        let number = n as f32;
        let at = hz * number * (1.0 + stiffness * number * number).sqrt();
        if at > highest_hz {
            break;
        }
        // A twelfth of a semitone on top of the blur.
        let blur = blur_hz + at * 0.003;
        while next < peaks.len() && peaks[next].hz < at - 2.0 * blur {
            next += 1;
        }
        let mut found = 0.0f32;
        let mut gained = 0.0f32;
        let mut i = next;
        while i < peaks.len() && peaks[i].hz < at + 2.0 * blur {
            let off = (peaks[i].hz - at) / blur;
            let fits = (-0.5 * off * off).exp();
            gained = greater(gained, weight(&peaks[i]) * fits);
            found = greater(found, fits);
            i += 1;
        }
        fit.explained += gained;
        if found > 0.4 {
            fit.found += 1;
        }
        if at <= top_hz * 1.03 {
            let share = match n {
                1 => 0.5,
                2..=6 => 1.0,
                _ => 0.6,
            };
            expected += share;
            absent += share * (1.0 - found);
        }
    }
    if expected > 0.0 {
        fit.score = -ABSENT_WEIGHT * absent / expected;
    }
    fit
}
