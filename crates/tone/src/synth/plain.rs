//! The plain voice: a sine with a little of its next overtones, falling slowly.

use std::f64::consts::{LN_10, TAU};

/// How long it lasts, in seconds.
pub(super) const LENGTH_S: f64 = 1.2;
const FALL_DB_PER_S: f64 = 25.0;
/// Overtones 2 and 3, of the fundamental: without them a small loudspeaker
/// makes next to nothing of a low note.
const OVERTONES: [(f64, f64); 2] = [(2.0, 0.2), (3.0, 0.1)];

/// The tone, at no particular loudness.
///
/// A sine that falls swings further up at first than down after it, the more so
/// the lower it is. What that leaves over zero is taken out in the same fall.
pub(super) fn render(frequency_hz: f64, rate: f64) -> Vec<f64> {
    let frames = (LENGTH_S * rate).round() as usize;
    let falls: Vec<f64> = (0..frames)
        .map(|n| (-(n as f64) / rate * FALL_DB_PER_S * LN_10 / 20.0).exp())
        .collect();
    let swings: Vec<f64> = (0..frames)
        .map(|n| {
            let phase = TAU * frequency_hz * n as f64 / rate;
            let overtones: f64 = OVERTONES
                .iter()
                .map(|(number, part)| part * (number * phase).sin())
                .sum();
            phase.sin() + overtones
        })
        .collect();
    let over_zero: f64 = falls.iter().zip(&swings).map(|(f, s)| f * s).sum();
    let offset = over_zero / falls.iter().sum::<f64>();
    let tone = falls.iter().zip(&swings);
    tone.map(|(fall, swing)| fall * (swing - offset)).collect()
}
