//! One loudness for every note and voice.

use std::f64::consts::TAU;

/// The ear's grip on the first part of a tone decides how loud it seems.
const HEARD_S: f64 = 0.4;
/// Below this the ear and small loudspeakers lose level, 6 dB an octave; a
/// stand-in for a full weighting curve.
const BASS_HZ: f64 = 120.0;
/// The wanted level of that part, of a peak of one. Low enough that peaks allow
/// it for every note.
const TARGET: f64 = 0.095;

/// The gain that brings a tone to the common loudness with no sample past one.
pub(super) fn gain(samples: &[f64], rate: f64) -> f64 {
    let heard = &samples[..samples.len().min((HEARD_S * rate) as usize)];
    let keep = (-TAU * BASS_HZ / rate).exp();
    let (mut low, mut energy) = (0.0, 0.0);
    for x in heard {
        low = (1.0 - keep) * x + keep * low;
        energy += (x - low).powi(2);
    }
    let level = (energy / heard.len() as f64).sqrt();
    let peak = samples.iter().fold(0.0f64, |peak, x| peak.max(x.abs()));
    (TARGET / level).min(1.0 / peak)
}
