//! Talk is told by its company: one syllable may begin as sharply as a pluck, but
//! it stands among others that do not.
//!
//! Each onset that was no pluck is remembered for about a second, with its level.
//! While several are, an onset is only believed to be a pluck when it stands well
//! above them. A player alone makes no such onsets.

/// Half-life of what is remembered, in seconds.
const HALF_LIFE_S: f64 = 0.8;
/// Weight of onsets that makes a talk.
const TALKING: f64 = 1.3;
/// How far a pluck must stand above the talk, in dB.
const ABOVE_DB: f64 = 6.0;

/// Remembers onsets that were no plucks.
#[derive(Debug, Clone, Default)]
pub(crate) struct Talk {
    weight: f64,
    level_db: f64,
    at_s: f64,
}

impl Talk {
    /// An onset of a level was no pluck.
    pub fn learn(&mut self, level_db: f64, now_s: f64) {
        self.weight = self.weight_at(now_s);
        self.at_s = now_s;
        let share = 1.0 / (self.weight + 1.0);
        self.level_db += share * (level_db - self.level_db);
        self.weight += 1.0;
    }

    /// Whether an onset of a level is drowned in talk.
    pub fn drowns(&self, level_db: f64, now_s: f64) -> bool {
        self.weight_at(now_s) > TALKING && level_db < self.level_db + ABOVE_DB
    }

    fn weight_at(&self, now_s: f64) -> f64 {
        self.weight * (-(now_s - self.at_s).max(0.0) / HALF_LIFE_S).exp2()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_syllable_among_others_is_drowned_and_a_pluck_above_them_is_not() {
        let mut talk = Talk::default();
        assert!(!talk.drowns(-30.0, 1.0));
        talk.learn(-30.0, 1.0);
        assert!(!talk.drowns(-30.0, 1.2), "one knock is no talk");
        talk.learn(-34.0, 1.3);
        assert!(talk.drowns(-30.0, 1.5));
        assert!(!talk.drowns(-20.0, 1.5));
        assert!(!talk.drowns(-30.0, 4.0));
    }
}
