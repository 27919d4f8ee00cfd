//! The two string voices, as values.

use super::body::{self, Resonance};
use super::pluck::Pluck;
use super::waveguide::{Fall, Waveguide};

/// A plucked instrument.
#[derive(Debug)]
pub(super) struct StringVoice {
    pluck: Pluck,
    /// How fast it falls at first, at [`LOW_HZ`] and [`HIGH_HZ`]; between and
    /// beyond by equal ratios.
    fall_low: Fall,
    fall_high: Fall,
    /// The after-sound: a string also moves along the head, where it loses less.
    /// Its part of the whole, and its fall as a part of the first.
    after_share: f64,
    after_fall: f64,
    /// The overtones' slope sets in at this multiple of the fundamental.
    slope_from: f64,
    body: &'static [Resonance],
    length_s: f64,
}

const LOW_HZ: f64 = 73.4;
const HIGH_HZ: f64 = 2093.0;

/// A head is light and loses fast: 20 dB in 150 ms at the top of the neck. The
/// formant between 500 and 800 Hz is after Woodhouse et al. (2021). Real banjos
/// have a fundamental far weaker than some overtones; this one must not, or a
/// beginner hears the wrong octave, so the formant is kept mild. The remaining
/// values are by ear and common practice, no source.
pub(super) const BANJO: StringVoice = StringVoice {
    pluck: Pluck {
        place: 0.17,
        wander: 0.015,
        width_s: 0.000_035,
        scrape: 0.25,
    },
    fall_low: Fall {
        flat_db_per_s: 65.0,
        dull_db_per_s: 110.0,
    },
    fall_high: Fall {
        flat_db_per_s: 90.0,
        dull_db_per_s: 90.0,
    },
    after_share: 0.14,
    after_fall: 0.4,
    slope_from: 0.75,
    body: &[
        Resonance {
            frequency_hz: 560.0,
            q: 3.0,
            gain: 0.48,
        },
        Resonance {
            frequency_hz: 740.0,
            q: 3.0,
            gain: 0.48,
        },
    ],
    length_s: 1.4,
};

/// Common practice, no source.
pub(super) const GUITAR: StringVoice = StringVoice {
    pluck: Pluck {
        place: 0.22,
        wander: 0.02,
        width_s: 0.000_09,
        scrape: 0.1,
    },
    fall_low: Fall {
        flat_db_per_s: 14.0,
        dull_db_per_s: 60.0,
    },
    fall_high: Fall {
        flat_db_per_s: 45.0,
        dull_db_per_s: 40.0,
    },
    after_share: 0.25,
    after_fall: 0.45,
    slope_from: 1.0,
    body: &[
        Resonance {
            frequency_hz: 100.0,
            q: 3.0,
            gain: 0.5,
        },
        Resonance {
            frequency_hz: 205.0,
            q: 4.0,
            gain: 0.5,
        },
    ],
    length_s: 2.4,
};

impl StringVoice {
    /// The tone, at no particular loudness.
    pub(super) fn render(&self, frequency_hz: f64, seed: u32, rate: f64) -> Vec<f64> {
        let frames = (self.length_s * rate).round() as usize;
        let drive = self.pluck.drive(frequency_hz.recip(), seed, rate);
        let first = self.fall_at(frequency_hz);
        let after = Fall {
            flat_db_per_s: first.flat_db_per_s * self.after_fall,
            dull_db_per_s: first.dull_db_per_s * self.after_fall,
        };
        // Both movements have the same pitch to the last digit, so the two fall
        // together without beating.
        let fast = Waveguide::tuned(frequency_hz, first, rate).ring(&drive, frames);
        let slow = Waveguide::tuned(frequency_hz, after, rate).ring(&drive, frames);
        let mut motion: Vec<f64> = fast
            .iter()
            .zip(&slow)
            .map(|(fast, slow)| (1.0 - self.after_share) * fast + self.after_share * slow)
            .collect();
        body::soften(&mut motion, self.slope_from * frequency_hz, rate);
        body::resonate(&motion, self.body, rate)
    }

    /// How long a tone lasts, in seconds.
    pub(super) fn length_s(&self) -> f64 {
        self.length_s
    }

    fn fall_at(&self, frequency_hz: f64) -> Fall {
        let along = (frequency_hz / LOW_HZ).ln() / (HIGH_HZ / LOW_HZ).ln();
        let between = |low: f64, high: f64| low * (high / low).powf(along);
        Fall {
            flat_db_per_s: between(self.fall_low.flat_db_per_s, self.fall_high.flat_db_per_s),
            dull_db_per_s: between(self.fall_low.dull_db_per_s, self.fall_high.dull_db_per_s),
        }
    }
}
