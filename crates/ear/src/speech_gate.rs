//! Talk is told by its company: one syllable may begin as sharply as a pluck, but
//! it stands among others that do not.
//!
//! Each onset that was no pluck is remembered for about a second, with its level.
//! While several are, an onset must look more like a pluck to be believed to be
//! one. A player alone makes few such onsets.

/// Half-life of what is remembered, in seconds.
const HALF_LIFE_S: f64 = 0.8;
/// How far each onset that was no pluck brings the odds down, in nepers.
const ODDS: f32 = 0.7;

/// Syllables of one talk lie no further apart than this, in dB.
const FAR_SOFTER_DB: f64 = 15.0;

/// Remembers onsets that were no plucks.
#[derive(Debug, Clone, Default)]
pub(crate) struct SpeechGate {
    weight: f64,
    level_db: f64,
    at_s: f64,
}

impl SpeechGate {
    /// An onset of a level was no pluck.
    pub fn learn(&mut self, level_db: f64, now_s: f64) {
        self.weight = self.weight_at(now_s);
        self.at_s = now_s;
        let share = 1.0 / (self.weight + 1.0);
        self.level_db += share * (level_db - self.level_db);
        self.weight += 1.0;
    }

    /// How likely a string of a level is among so much talk, where it alone would
    /// be `likely`: the odds fall with each onset lately that was none, unless all of
    /// that was far softer.
    pub fn believed(&self, likely: f32, level_db: f64, now_s: f64) -> f32 {
        if level_db > self.level_db + FAR_SOFTER_DB {
            return likely;
        }
        let odds = likely / (1.0 - likely).max(1e-6);
        let odds = odds * (-ODDS * self.weight_at(now_s) as f32).exp();
        odds / (1.0 + odds)
    }

    fn weight_at(&self, now_s: f64) -> f64 {
        self.weight * (-(now_s - self.at_s).max(0.0) / HALF_LIFE_S).exp2()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn among_talk_a_string_must_be_surer() {
        let mut talk = SpeechGate::default();
        assert!((talk.believed(0.8, -30.0, 1.0) - 0.8).abs() < 1e-6);
        talk.learn(-30.0, 1.0);
        assert!(talk.believed(0.8, -30.0, 1.2) > 0.6, "one knock is no talk");
        for i in 1..6 {
            talk.learn(-34.0, 1.0 + 0.2 * f64::from(i));
        }
        assert!(talk.believed(0.8, -30.0, 2.1) < 0.3);
        assert!(
            talk.believed(0.998, -30.0, 2.1) > 0.8,
            "a clear string is heard all the same"
        );
        assert!(talk.believed(0.8, -10.0, 2.1) > 0.79, "far louder");
        assert!(talk.believed(0.8, -30.0, 8.0) > 0.75, "it is forgotten");
    }
}
