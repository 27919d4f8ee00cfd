//! The plain voice: a sine with a little of its next overtones, falling slowly.

use std::f64::consts::{LN_10, TAU};

/// How long it lasts, in seconds.
pub(super) const LENGTH_S: f64 = 1.2;
const FALL_DB_PER_S: f64 = 25.0;
/// Overtones 2 and 3, of the fundamental: without them a small loudspeaker
/// makes next to nothing of a low note.
const OVERTONES: [(f64, f64); 2] = [(2.0, 0.2), (3.0, 0.1)];

/// The tone, at no particular loudness.
pub(super) fn render(frequency_hz: f64, rate: f64) -> Vec<f64> {
    let frames = (LENGTH_S * rate).round() as usize;
    (0..frames)
        .map(|n| {
            let time_s = n as f64 / rate;
            let phase = TAU * frequency_hz * time_s;
            let overtones: f64 = OVERTONES
                .iter()
                .map(|(number, part)| part * (number * phase).sin())
                .sum();
            (phase.sin() + overtones) * (-time_s * FALL_DB_PER_S * LN_10 / 20.0).exp()
        })
        .collect()
}
