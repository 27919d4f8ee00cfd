//! What cuts a note off: the next attack, unless that is so much softer than the note
//! that it rings on through it. An echo, a neighbour's string or a finger does that.

/// What is this much softer than a note, in dB, does not cut it off,
pub(crate) const THROUGH_DB: f64 = 4.0;
/// and raises the level by less than this, in dB: as much again would do that.
const SOFTLY_DB: f64 = 3.0;

/// Where the next attack comes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Cut {
    pub at: i64,
    /// It hardly raised the level: what was in it decides whether it cut.
    softly: bool,
}

impl Default for Cut {
    fn default() -> Self {
        Cut {
            at: i64::MAX,
            softly: false,
        }
    }
}

impl Cut {
    /// An attack comes, which raises the level by so much.
    pub fn comes(&mut self, at: i64, jump_db: f64) {
        if at < self.at {
            *self = Cut {
                at,
                softly: jump_db < SOFTLY_DB,
            };
        }
    }

    /// Whether it is open as yet if this attack cut the note off.
    pub fn may_be_heard_through(&self, attack: i64) -> bool {
        self.softly && self.at == attack
    }

    /// An attack is known to be of a level, and when the `next` came: whether that
    /// is what cuts a note of another level off.
    pub fn heard_through(&mut self, attack: i64, softer_by_db: f64, next: Cut) {
        if self.may_be_heard_through(attack) && softer_by_db > THROUGH_DB {
            *self = next;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_what_is_far_softer_is_heard_through() {
        let next = Cut {
            at: 900,
            softly: false,
        };
        for (jump_db, softer_by_db, ends_at) in [(1.0, 8.0, 900), (1.0, 2.0, 500), (6.0, 8.0, 500)]
        {
            let mut cut = Cut::default();
            cut.comes(500, jump_db);
            cut.comes(700, 0.0);
            cut.heard_through(700, softer_by_db, next);
            assert_eq!(cut.at, 500);
            cut.heard_through(500, softer_by_db, next);
            assert_eq!(cut.at, ends_at, "{jump_db} dB up, {softer_by_db} dB softer");
        }
    }
}
