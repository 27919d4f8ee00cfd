//! From a tone's specification to its samples.
//!
//! ```text
//! pluck -> string (two decaying loops) -> body -> loudness -> edges
//! ```
//! Everything after the string is linear and fixed in time, or a slow gain, so
//! it cannot move the string's pitch.

mod body;
mod loudness;
mod plain;
mod pluck;
mod strings;
mod waveguide;

use fifthpeg_vocab::Voice;

use crate::{FREQUENCIES_HZ, Level, ToneError, ToneSpec};
use std::f64::consts::PI;
use std::ops::RangeInclusive;
use std::time::Duration;

/// Sample rates that tones can be rendered at, in hertz.
pub const SAMPLE_RATES_HZ: RangeInclusive<u32> = 32_000..=192_000;

/// Time over which a tone rises from nothing, and over which its end is drawn
/// down to nothing, in seconds. Long enough for no click, short enough for the
/// onset to stay sharp.
const ATTACK_S: f64 = 0.001;
const RELEASE_S: f64 = 0.06;

/// Renders a tone: mono samples, full scale 1.0, the first at the tone's start.
///
/// The samples depend on the specification and the sample rate only. Every
/// sample is finite and no larger than
/// [`Level::ceiling`](crate::Level::ceiling); the first and last are near zero.
/// The fundamental is within 0.1 cent of
/// [`frequency_hz`](ToneSpec::frequency_hz).
///
/// # Errors
/// A frequency outside [`FREQUENCIES_HZ`] or a sample rate outside
/// [`SAMPLE_RATES_HZ`].
pub fn render(tone: &ToneSpec, sample_rate_hz: u32) -> Result<Vec<f32>, ToneError> {
    check_frequency(tone.frequency_hz)?;
    if !SAMPLE_RATES_HZ.contains(&sample_rate_hz) {
        return Err(ToneError::SampleRate { sample_rate_hz });
    }
    let rate = f64::from(sample_rate_hz);
    let mut samples = match tone.voice {
        Voice::Banjo => strings::BANJO.render(tone.frequency_hz, tone.pluck_seed, rate),
        Voice::Guitar => strings::GUITAR.render(tone.frequency_hz, tone.pluck_seed, rate),
        Voice::Plain => plain::render(tone.frequency_hz, rate),
    };
    smooth_edges(&mut samples, rate);
    let gain = loudness::gain(&samples, rate) * f64::from(tone.level.ceiling());
    let ceiling = tone.level.ceiling();
    Ok(samples
        .into_iter()
        .map(|x| ((x * gain) as f32).clamp(-ceiling, ceiling))
        .collect())
}

/// Makes samples (full scale 1.0) fit to be played at a level: none of them
/// passes [`Level::ceiling`](crate::Level::ceiling), and both ends are soft.
pub fn sounded(samples: &[f32], level: Level, sample_rate_hz: u32) -> Vec<f32> {
    let ceiling = level.ceiling();
    let ramp = (ATTACK_S * f64::from(sample_rate_hz)) as usize;
    let from_end = |n: usize| n.min(samples.len() - 1 - n);
    let gain = |n: usize| match from_end(n) {
        near if near < ramp => 0.5 - 0.5 * (PI * (near as f64 + 0.5) / ramp as f64).cos(),
        _ => 1.0,
    };
    samples
        .iter()
        .enumerate()
        .map(|(n, x)| {
            // No sound is better than a driver's idea of not-a-number.
            let x = if x.is_finite() { *x } else { 0.0 };
            (x * ceiling * gain(n) as f32).clamp(-ceiling, ceiling)
        })
        .collect()
}

/// How long a tone of this voice lasts from its start to its last sample.
pub fn tone_length(voice: Voice) -> Duration {
    Duration::from_secs_f64(match voice {
        Voice::Banjo => strings::BANJO.length_s(),
        Voice::Guitar => strings::GUITAR.length_s(),
        Voice::Plain => plain::LENGTH_S,
    })
}

/// Refuses what [`render`] would refuse.
///
/// # Errors
/// A frequency outside [`FREQUENCIES_HZ`].
pub fn check_frequency(frequency_hz: f64) -> Result<(), ToneError> {
    // Not a number is in no range, so it is refused here too.
    if FREQUENCIES_HZ.contains(&frequency_hz) {
        Ok(())
    } else {
        Err(ToneError::Frequency { frequency_hz })
    }
}

/// Raised-cosine rise and fall at the two ends.
fn smooth_edges(samples: &mut [f64], rate: f64) {
    let ramp = |seconds: f64| {
        let frames = (seconds * rate).round() as usize;
        (0..frames).map(move |i| 0.5 - 0.5 * (PI * (i as f64 + 0.5) / frames as f64).cos())
    };
    for (sample, gain) in samples.iter_mut().zip(ramp(ATTACK_S)) {
        *sample *= gain;
    }
    for (sample, gain) in samples.iter_mut().rev().zip(ramp(RELEASE_S)) {
        *sample *= gain;
    }
}
