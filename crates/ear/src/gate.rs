//! The level gate: the neighbour's banjo is heard too, but softer.
//!
//! Levels of the plucks heard lately are kept in a histogram that fades. Where
//! they fall clearly into two groups, the louder is the player's, and the gate
//! lies between the two: the split is the one at which the groups' means are
//! furthest apart beside their own spreads (R. A. Fisher, "The use of multiple
//! measurements in taxonomic problems", Annals of Eugenics 7, 1936), whatever
//! the number of plucks in each. Where they do not, as with one
//! player who plays now loud, now soft, only what is far below the loud ones is
//! kept out. A player who is soft from the start is heard at once, and one who
//! turns to playing softly when the loud plucks have faded. A note that the player
//! plucks again, as who answers does, is theirs though it is a little softer.

use fifthpeg_core::Pitch;

use crate::Room;
use crate::own::Own;

/// Softer than this is nothing at all, in dB re full scale.
const NOTHING_DB: f64 = -72.0;
/// Bins of the histogram, one for each decibel above [`NOTHING_DB`].
const BINS: usize = 78;
/// Half-life of what was heard, in seconds.
const HALF_LIFE_S: f64 = 20.0;
/// Weight of plucks from which on groups are looked for.
const ENOUGH: f64 = 9.0;
/// Least weight of a group.
const LEAST_GROUP: f64 = 1.6;
/// Share of the variance that must lie between the groups, each counting the
/// same. An even spread has 0.75, two points have 1.
const CLEAR: f64 = 0.9;
/// The groups' means must lie this far apart, in dB.
const APART_DB: f64 = 8.0;
/// Groups nearer to each other, at least this far apart in dB, are believed where
/// each is no wider than this, in dB, and plucks of this weight were heard.
const NEAR_DB: f64 = 5.0;
const NARROW_DB: f64 = 2.2;
const ENOUGH_NEAR: f64 = 14.0;
const LEAST_NEAR: f64 = 2.0;
const CLEAR_NEAR: f64 = 0.82;
/// Groups that were believed stay so with this much less: still more than an even
/// spread.
const STILL: f64 = 0.07;
/// A note is plucked again within so long, in seconds,
const AGAIN_S: f64 = 2.0;
/// and may then be this far below the gate, in dB.
const AGAIN_DB: f64 = 4.0;
/// How far below the upper quartile a pluck is kept out anyway, in dB.
const FAR_BELOW_DB: f64 = 17.0;
/// How much of what is known of attacks each pluck renews.
const LOUDER_SHARE: f64 = 0.2;
/// How far above the room's noise a pluck must be, in dB, once that is known.
const ABOVE_ROOM_DB: f64 = 3.0;

/// Decides by level whose pluck it was.
#[derive(Debug, Clone)]
pub(crate) struct Gate {
    weights: [f64; BINS],
    at_s: f64,
    gate_db: f64,
    /// How much louder attacks are than plucks, in dB.
    louder_db: f64,
    /// Whether that lies between two groups.
    grouped: bool,
    room_db: Option<f64>,
    /// The player's last note, and when.
    last: Option<(Pitch, f64)>,
    /// How loud the player's own plucks are, those that may answer.
    own: Own,
}

impl Gate {
    pub fn new() -> Gate {
        Gate {
            weights: [0.0; BINS],
            at_s: 0.0,
            gate_db: f64::MIN,
            louder_db: 0.0,
            grouped: false,
            room_db: None,
            last: None,
            own: Own::default(),
        }
    }

    /// The room was measured: whoever plays from now on may be another, or sit
    /// elsewhere.
    pub fn set_room(&mut self, room: Room) {
        *self = Gate::new();
        self.room_db = Some(room.noise_db);
    }

    /// Whether a note is the one that the player plucked just before.
    pub fn is_again(&self, pitch: Pitch, at_s: f64) -> bool {
        (self.last).is_some_and(|(last, at)| last == pitch && at_s - at < AGAIN_S)
    }

    /// It is not known how long ago that was.
    pub fn forget_last(&mut self) {
        self.last = None;
    }

    /// Whether a pluck may be listened to whose attack is so loud: it is louder than
    /// what follows. `again`: the player plucks a note again.
    pub fn lets_in(&self, level_db: f64, again: bool) -> bool {
        let room_db = self.room_db.map_or(f64::MIN, |db| db + ABOVE_ROOM_DB);
        level_db > NOTHING_DB.max(room_db) && self.stands(level_db, again)
    }

    /// Whether a pluck stands that turned out to be so loud.
    pub fn stands(&self, loud_db: f64, again: bool) -> bool {
        let softer_db = if again { AGAIN_DB } else { 0.0 };
        loud_db > self.gate_db - softer_db
    }

    /// Whether a pluck may answer that is so loud over its first tenth of a second.
    pub fn may_answer(&self, loud_db: f64, now_s: f64) -> bool {
        self.own.may_be(loud_db, now_s)
    }

    /// A pluck that may answer was so loud over its first tenth of a second, and of
    /// what note it was, when.
    pub fn own(&mut self, loud_db: f64, now_s: f64, note: (Pitch, f64)) {
        self.own.learn(loud_db, now_s);
        self.last = Some(note);
    }

    /// Learns from a pluck, the player's own or not: how loud it is in itself, and its
    /// attack. One that stands only for being plucked `again` tells nothing of groups.
    pub fn learn(&mut self, itself_db: f64, attack_db: f64, again: bool, now_s: f64) {
        if self.stands(itself_db, again) && !self.stands(itself_db, false) {
            return;
        }
        self.louder_db += LOUDER_SHARE * (attack_db - itself_db - self.louder_db);
        self.count(itself_db, now_s);
    }

    /// Learns from one of which only the attack was listened to.
    pub fn learn_attack(&mut self, attack_db: f64, now_s: f64) {
        self.count(attack_db - self.louder_db, now_s);
    }

    fn count(&mut self, level_db: f64, now_s: f64) {
        if level_db < NOTHING_DB {
            return;
        }
        let fade = (-(now_s - self.at_s).max(0.0) / HALF_LIFE_S).exp2();
        self.at_s = now_s;
        for weight in &mut self.weights {
            *weight *= fade;
        }
        let bin = ((level_db - NOTHING_DB) as usize).min(BINS - 1);
        self.weights[bin] += 1.0;
        let between = self.between_groups();
        self.grouped = between.is_some();
        self.gate_db = between.unwrap_or_else(|| self.far_below());
    }

    /// A level between two clear groups.
    fn between_groups(&self) -> Option<f64> {
        let level = |bin: usize| NOTHING_DB + bin as f64 + 0.5;
        let total: f64 = self.weights.iter().sum();
        if total < ENOUGH {
            return None;
        }
        // Weight, mean and variance of a group.
        let group = |bins: std::ops::Range<usize>| {
            let (mut weight, mut sum, mut squares) = (0.0, 0.0, 0.0);
            for bin in bins {
                weight += self.weights[bin];
                sum += self.weights[bin] * level(bin);
                squares += self.weights[bin] * level(bin).powi(2);
            }
            let mean = sum / weight;
            (weight, mean, (squares / weight - mean * mean).max(0.0))
        };
        let mut best = (0.0f64, None);
        for split in 1..BINS {
            let (soft, loud) = (group(0..split), group(split..BINS));
            let apart_db = loud.1 - soft.1;
            if soft.0 < LEAST_GROUP || loud.0 < LEAST_GROUP || apart_db < NEAR_DB {
                continue;
            }
            // Nearer groups must be narrow, and heard often.
            let narrow = soft.2.max(loud.2) < NARROW_DB * NARROW_DB;
            if apart_db < APART_DB && !(narrow && total > ENOUGH_NEAR && loud.0 > LEAST_NEAR) {
                continue;
            }
            let between = (loud.1 - soft.1).powi(2) / 4.0;
            let within = (soft.2 + loud.2) / 2.0;
            let clear = between / (between + within);
            let least = match (apart_db < APART_DB, self.grouped) {
                (true, true) => CLEAR_NEAR - STILL,
                (true, false) => CLEAR_NEAR,
                (false, _) => CLEAR,
            };
            if clear > best.0.max(least) {
                best = (clear, Some(0.5 * (soft.1 + loud.1)));
            }
        }
        best.1
    }

    /// A level far below the upper quartile.
    fn far_below(&self) -> f64 {
        let total: f64 = self.weights.iter().sum();
        let mut above = 0.0;
        for bin in (0..BINS).rev() {
            above += self.weights[bin];
            if above > 0.25 * total {
                return NOTHING_DB + bin as f64 - FAR_BELOW_DB;
            }
        }
        f64::MIN
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_neighbour_is_kept_out_once_both_were_heard() {
        let mut gate = Gate::new();
        for step in 0..40 {
            let level_db = match step % 4 {
                0 => -21.0,
                1 => -35.5,
                2 => -33.0,
                _ => -31.5,
            };
            gate.count(level_db, f64::from(step) * 0.3);
        }
        assert!(gate.lets_in(-24.0, false));
        assert!(!gate.lets_in(-31.0, false));
        // While the player thinks, the neighbour goes on.
        for step in 0..60 {
            gate.count(-33.0 + f64::from(step % 3), 12.0 + f64::from(step) * 0.3);
        }
        assert!(!gate.lets_in(-31.0, false));
        assert!(gate.lets_in(-22.0, false));
    }

    /// Of plucks half as loud as the player's, each up to 3 dB louder or softer, how
    /// many of 150 are kept out once it is known; none of the player's is.
    #[test]
    fn a_neighbour_half_as_loud_is_kept_out_while_both_play() {
        let mut gate = Gate::new();
        let mut kept_out = 0;
        for step in 0..250u32 {
            let now_s = 0.4 * f64::from(step);
            let own = step % 4 == 0;
            let loud_db = match own {
                true => -20.0 - 0.4 * f64::from(step / 4 % 3),
                false => -29.0 + f64::from(step * 37 % 61) / 10.0,
            };
            if step >= 50 {
                assert!(!own || gate.stands(loud_db, false), "{step}");
                kept_out += u32::from(!own && !gate.stands(loud_db, false));
            }
            // The attack of some plucks is louder than that of others.
            let attack_db = loud_db + 1.0 + f64::from(step % 3);
            if gate.lets_in(attack_db, false) {
                gate.learn(loud_db, attack_db, false, now_s);
            } else {
                gate.learn_attack(attack_db, now_s);
            }
        }
        assert!(kept_out > 140, "{kept_out} of 150");
        // The player may pluck a note again more softly.
        assert!(!gate.stands(-25.0, false) && gate.stands(-25.0, true));
        assert!(!gate.stands(-29.0, true));
    }

    #[test]
    fn one_who_plays_now_loud_now_soft_is_heard() {
        let mut gate = Gate::new();
        for step in 0..50 {
            let level_db = -20.0 - f64::from(step * 7 % 13);
            assert!(gate.lets_in(level_db, false), "{level_db}");
            gate.count(level_db, f64::from(step));
        }
    }

    #[test]
    fn soft_from_the_start_is_heard_and_soft_later_after_a_while() {
        let mut gate = Gate::new();
        assert!(gate.lets_in(-60.0, false));
        for step in 0..10 {
            gate.count(-20.0, f64::from(step));
        }
        assert!(!gate.lets_in(-40.0, false));
        let mut turned = 10.0;
        while !gate.lets_in(-40.0, false) {
            gate.count(-40.0, turned);
            turned += 2.0;
            assert!(turned < 120.0);
        }
    }
}
