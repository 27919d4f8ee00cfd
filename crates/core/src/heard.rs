//! What is heard, as a lesson takes it.

use core::time::Duration;

use crate::{Doubt, Pitch};

/// What an ear reports of an instrument or a voice, each at a time of its clock.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HeardNote<At> {
    /// A pluck whose pitch is decided.
    Pluck {
        /// Names it for [`HeardNote::Settled`] and [`HeardNote::Withdrawn`];
        /// never used again.
        id: u64,
        /// The pitch.
        pitch: Pitch,
        /// How far from it, roughly, in cents.
        cents: f32,
        /// The onset.
        at: At,
        /// How far the onset may be off either way.
        uncertainty: Duration,
    },
    /// Where a pluck's intonation has settled: it will not be withdrawn.
    Settled {
        /// Which pluck.
        id: u64,
        /// How far from its pitch, in cents.
        cents: f32,
        /// How far that moved, in cents.
        spread_cents: f32,
    },
    /// What was taken for a pluck of the player's was none.
    Withdrawn {
        /// Which pluck.
        id: u64,
        /// What it was.
        why: Doubt,
    },
    /// A pluck that may count towards an answer. Each pluck gets exactly one of
    /// this, [`HeardNote::MayNotAnswer`] and [`HeardNote::Withdrawn`].
    MayAnswer {
        /// Which pluck.
        id: u64,
    },
    /// A pluck that stands as a try, and may not count towards an answer.
    MayNotAnswer {
        /// Which pluck.
        id: u64,
        /// Why not.
        why: Doubt,
    },
    /// An onset that no note was named for.
    Unsure {
        /// The onset.
        at: At,
        /// Why not.
        why: Doubt,
    },
    /// A sung note that was held.
    Sung {
        /// The frequency, in hertz, vibrato averaged out.
        frequency_hz: f64,
        /// How far the voice moved about it, in cents either way.
        spread_cents: f32,
        /// When it began.
        at: At,
        /// How long it was held.
        lasted: Duration,
    },
}

impl<At> HeardNote<At> {
    /// The same with times of another clock.
    pub fn on<Other>(self, clock: impl Fn(At) -> Other) -> HeardNote<Other> {
        match self {
            Self::Pluck {
                id,
                pitch,
                cents,
                at,
                uncertainty,
            } => HeardNote::Pluck {
                id,
                pitch,
                cents,
                at: clock(at),
                uncertainty,
            },
            Self::Settled {
                id,
                cents,
                spread_cents,
            } => HeardNote::Settled {
                id,
                cents,
                spread_cents,
            },
            Self::Withdrawn { id, why } => HeardNote::Withdrawn { id, why },
            Self::MayAnswer { id } => HeardNote::MayAnswer { id },
            Self::MayNotAnswer { id, why } => HeardNote::MayNotAnswer { id, why },
            Self::Unsure { at, why } => HeardNote::Unsure { at: clock(at), why },
            Self::Sung {
                frequency_hz,
                spread_cents,
                at,
                lasted,
            } => HeardNote::Sung {
                frequency_hz,
                spread_cents,
                at: clock(at),
                lasted,
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn on_another_clock_only_the_times_are_others() {
        let pitch = Pitch::new(62).expect("a pitch");
        let (uncertainty, lasted) = (Duration::from_millis(4), Duration::from_millis(300));
        let why = Doubt::SeveralNotes;
        let all = |at: f64| {
            [
                HeardNote::Pluck {
                    id: 7,
                    pitch,
                    cents: -3.5,
                    at,
                    uncertainty,
                },
                HeardNote::Settled {
                    id: 7,
                    cents: -3.0,
                    spread_cents: 0.5,
                },
                HeardNote::Withdrawn { id: 7, why },
                HeardNote::MayAnswer { id: 7 },
                HeardNote::MayNotAnswer { id: 7, why },
                HeardNote::Unsure { at, why },
                HeardNote::Sung {
                    frequency_hz: 220.0,
                    spread_cents: 9.0,
                    at,
                    lasted,
                },
            ]
        };
        assert_eq!(all(2.0).map(|note| note.on(|at| at + 0.5)), all(2.5));
    }
}
