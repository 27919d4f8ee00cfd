//! The tools that all decisions share, with their memory.

use crate::news::News;
use crate::readers::{Repeats, Spacing};
use crate::ringing::Ringing;
use crate::score::Scorer;

/// Longest past that the ringing is taken from, in milliseconds.
const PAST_MS: f64 = 110.0;
/// Order of the model of what rings: enough for some fifty partials.
const ORDER: usize = 200;

/// Longest stretch in which a wave must repeat, in milliseconds.
const REPEATS_MS: f64 = 60.0;

/// What all decisions share.
#[derive(Debug)]
pub(crate) struct Workspace {
    pub scorer: Scorer,
    pub news: News,
    pub carry: Ringing,
    pub spacing: Spacing,
    pub repeats: Repeats,
    pub past: Vec<f32>,
    pub rate_hz: f64,
    pub first_look_ms: f64,
    pub a4_hz: f32,
}

impl Workspace {
    pub fn new(rate_hz: f64, lowest: i32, highest: i32, a4_hz: f64) -> Workspace {
        let highest_hz = (0.44 * rate_hz) as f32;
        let lowest_hz = a4_hz * ((f64::from(lowest) - 69.0) / 12.0).exp2();
        let highest_note_hz = a4_hz * ((f64::from(highest) + 0.5 - 69.0) / 12.0).exp2();
        let lowest_note_hz = lowest_hz * (-0.5f64 / 12.0).exp2();
        let past = (PAST_MS * 1e-3 * rate_hz) as usize;
        Workspace {
            scorer: Scorer::new(lowest, highest, a4_hz, highest_hz),
            news: News::new(rate_hz as f32, (lowest_hz * 0.8) as f32, highest_hz),
            carry: Ringing::new(past, ORDER),
            spacing: Spacing::new(rate_hz, lowest_note_hz, highest_note_hz),
            repeats: Repeats::new(
                rate_hz,
                lowest_note_hz,
                highest_note_hz,
                (REPEATS_MS * 1e-3 * rate_hz) as usize,
            ),
            past: vec![0.0; past],
            rate_hz,
            a4_hz: a4_hz as f32,
            first_look_ms: 2.8e3 / lowest_hz,
        }
    }

    /// How far a peak of a window of `length` samples may be off, in hertz.
    pub fn blur_hz(&self, length: usize) -> f32 {
        0.18 * self.rate_hz as f32 / length as f32
    }

    /// Decimated samples in some milliseconds.
    pub fn samples(&self, ms: f64) -> usize {
        (ms * 1e-3 * self.rate_hz) as usize
    }
}
