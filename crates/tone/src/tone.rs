//! What a tone is: its frequency, its voice, its pluck and its level.

use std::fmt;
use std::ops::RangeInclusive;

use fifthpeg_vocab::Voice;

/// Frequencies that can be sounded, in hertz: a little below A0 to a little
/// above C8, so that every neck fits at every reference pitch.
pub const FREQUENCIES_HZ: RangeInclusive<f64> = 24.0..=4500.0;

/// The largest peak of one tone at full level, of full scale: 3 dB below it.
pub const TONE_CEILING: f32 = 0.7;

/// How loud a tone is, from silence to a ceiling that never clips.
///
/// A level is a percentage; the amplitude goes with its square, so that equal
/// steps sound about equal. It has no notion of how loud the amplifier is: a
/// person must still turn headphones down first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Level(u8);

/// A level outside 0 to 100.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("a level of {0} is out of range: choose 0 to 100")]
pub struct LevelError(pub u32);

impl Level {
    /// The level of that percentage.
    ///
    /// # Errors
    /// [`LevelError`] above 100.
    pub fn from_percent(percent: u32) -> Result<Level, LevelError> {
        u8::try_from(percent)
            .ok()
            .filter(|percent| *percent <= 100)
            .map(Level)
            .ok_or(LevelError(percent))
    }

    /// The percentage, 0 to 100.
    pub const fn percent(self) -> u8 {
        self.0
    }

    /// The largest magnitude a sample of a tone at this level can have, of full
    /// scale: at most [`TONE_CEILING`].
    pub fn ceiling(self) -> f32 {
        let part = f32::from(self.0) / 100.0;
        TONE_CEILING * part * part
    }
}

impl Default for Level {
    /// 60 %: 9 dB below the ceiling.
    fn default() -> Level {
        Level(60)
    }
}

impl fmt::Display for Level {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} %", self.0)
    }
}

/// One tone to sound. The same specification gives the same samples on every
/// terminal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ToneSpec {
    /// The fundamental, in hertz, within [`FREQUENCIES_HZ`].
    pub frequency_hz: f64,
    /// The voice.
    pub voice: Voice,
    /// Seeds the noise and the place of the pluck.
    pub pluck_seed: u32,
    /// How loud.
    pub level: Level,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn levels_rise_to_the_ceiling_and_no_further() {
        let ceilings: Vec<f32> = (0..=100)
            .map(|percent| Level::from_percent(percent).unwrap().ceiling())
            .collect();
        assert_eq!(ceilings[0], 0.0);
        assert_eq!(ceilings[100], TONE_CEILING);
        assert!(ceilings.windows(2).all(|pair| pair[0] < pair[1]));
        assert_eq!(Level::from_percent(101), Err(LevelError(101)));
        assert_eq!(Level::from_percent(256), Err(LevelError(256)));
    }
}
