//! How loud the player's own strings are, and so whose a pluck may be.
//!
//! Their mean level and how far they spread are learnt from the plucks that could
//! answer: a pluck that is further below than their spread explains is somebody
//! else's. Until many were heard the spread is what it is guessed to be beforehand
//! (as with a conjugate prior: A. Gelman et al., "Bayesian Data Analysis", 3rd ed.,
//! section 3.3). What is nearly too soft counts for little, so that a neighbour does
//! not draw the mean down pluck by pluck while the player thinks.

/// What the spread is guessed to be, in dB, and as how many plucks that counts.
const GUESSED_DB: f64 = 4.0;
const GUESSES: f64 = 3.0;
/// How far below the mean a pluck may be: so many spreads and so many dB,
const SPREADS: f64 = 2.0;
const BESIDES_DB: f64 = 2.0;
/// and more with each minute without any, in dB.
const EACH_MINUTE_DB: f64 = 0.1;
/// Plucks from which on it is known how loud the player is,
const ENOUGH: u32 = 4;
/// and how many are remembered.
const REMEMBERED: f64 = 24.0;

/// Learns the level of the player's own strings.
#[derive(Debug, Clone, Default)]
pub(crate) struct Own {
    heard: u32,
    weight: f64,
    mean_db: f64,
    variance: f64,
    at_s: f64,
}

impl Own {
    /// How far below the mean a pluck may be, in dB.
    fn reach_db(&self, now_s: f64) -> f64 {
        let guessed = GUESSES * GUESSED_DB * GUESSED_DB;
        let variance = (self.weight * self.variance + guessed) / (self.weight + GUESSES);
        let minutes = (now_s - self.at_s).max(0.0) / 60.0;
        SPREADS * variance.sqrt() + BESIDES_DB + minutes * EACH_MINUTE_DB
    }

    /// Whether a pluck of a level may be the player's own.
    pub fn may_be(&self, level_db: f64, now_s: f64) -> bool {
        self.heard < ENOUGH || self.mean_db - level_db < self.reach_db(now_s)
    }

    /// A pluck that may answer had this level.
    pub fn learn(&mut self, level_db: f64, now_s: f64) {
        let below = ((self.mean_db - level_db) / self.reach_db(now_s)).max(0.0);
        let weight = if self.heard < ENOUGH {
            1.0
        } else {
            (1.0 - below * below).max(0.0).powi(2)
        };
        self.heard = self.heard.saturating_add(1);
        self.at_s = now_s;
        if weight == 0.0 {
            return;
        }
        let all = self.weight + weight;
        let off = level_db - self.mean_db;
        self.mean_db += weight / all * off;
        let spread = weight * off * (level_db - self.mean_db);
        self.variance = if self.weight > 0.0 {
            (self.weight * self.variance + spread) / all
        } else {
            0.0
        };
        self.weight = all.min(REMEMBERED);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ten plucks of the player's, a second apart.
    fn told(levels: impl Fn(u32) -> f64) -> Own {
        let mut own = Own::default();
        for step in 0..10 {
            own.learn(levels(step), f64::from(step));
        }
        own
    }

    #[test]
    fn anybody_is_believed_at_first() {
        let mut own = Own::default();
        for step in 0..ENOUGH {
            assert!(own.may_be(-60.0, 0.0));
            own.learn(-20.0, f64::from(step));
        }
        assert!(!own.may_be(-60.0, 0.0));
    }

    #[test]
    fn a_neighbour_never_becomes_the_player() {
        let mut own = told(|step| -20.0 - f64::from(step % 3));
        for step in 0..1200 {
            let level_db = -34.0 + f64::from(step * 7 % 13) * 0.5;
            let now_s = 10.0 + 0.5 * f64::from(step);
            if own.may_be(level_db, now_s) {
                own.learn(level_db, now_s);
            }
        }
        assert!(!own.may_be(-30.0, 610.0));
        assert!(own.may_be(-22.0, 610.0));
    }

    #[test]
    fn one_who_plays_now_loud_now_soft_may_be_softer() {
        let even = told(|_| -20.0);
        let uneven = told(|step| -14.0 - f64::from(step * 7 % 13));
        assert!(!even.may_be(-27.0, 10.0));
        assert!(uneven.may_be(-27.0, 10.0));
    }

    #[test]
    fn one_who_turns_softer_bit_by_bit_is_followed() {
        let mut own = told(|_| -20.0);
        for step in 0..120 {
            let level_db = -20.0 - 0.1 * f64::from(step);
            assert!(own.may_be(level_db, 10.0), "{level_db}");
            own.learn(level_db, 10.0);
        }
    }
}
