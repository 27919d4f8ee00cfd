//! Measuring a recorded tone, by methods that share nothing with how tones are
//! made: by frequency, by octave and by spectrum. For tests and the tuning table.

pub mod octave;
pub mod pitch;
pub mod spectrum;

/// Twelve-tone equal temperament from A4 = 440 Hz, MIDI 69 (ISO 16:1975),
/// written out here so that no figure of the project's own is its own witness.
pub fn equal_temperament_hz(midi: u8) -> f64 {
    440.0 * 2f64.powf((f64::from(midi) - 69.0) / 12.0)
}

/// From `from_hz` up to `to_hz`.
pub fn cents(from_hz: f64, to_hz: f64) -> f64 {
    1200.0 * (to_hz / from_hz).log2()
}

/// Samples as doubles.
pub fn wide(samples: &[f32]) -> Vec<f64> {
    samples.iter().map(|x| f64::from(*x)).collect()
}

/// The four-term Blackman-Harris window, side lobes 92 dB down: Harris, "On the
/// use of windows for harmonic analysis with the discrete Fourier transform",
/// Proceedings of the IEEE 66:1 (1978), table 1.
pub fn blackman_harris(length: usize) -> Vec<f64> {
    (0..length)
        .map(|n| {
            let angle = std::f64::consts::TAU * (n as f64 + 0.5) / length as f64;
            0.35875 - 0.48829 * angle.cos() + 0.14128 * (2.0 * angle).cos()
                - 0.01168 * (3.0 * angle).cos()
        })
        .collect()
}
