//! What the ear tells, in the lesson's words and on the terminal's clock.

use core::time::Duration;
use std::time::Instant;

use fifthpeg_core::Pitch;
use fifthpeg_lesson::terminal::{Doubt, HeardNote};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_sound::{Doubt as EarDoubt, Listened};

/// Nobody plucks one note twice so soon: sixteenths at 150 crotchets a minute
/// are 100 ms apart (arithmetic), and no answer is plucked that fast (common
/// practice, no source). What the ear hears twice so soon is one pluck, or a
/// voice that began.
const LEAST_APART: Duration = Duration::from_millis(120);

/// Leaves out what is heard double.
#[derive(Debug, Default)]
pub(crate) struct Doubles {
    last: Option<(Pitch, Instant)>,
}

impl Doubles {
    /// Whether this is the pluck before once more.
    pub(crate) fn is_double(&mut self, heard: &Listened) -> bool {
        let Listened::Pluck { pitch, at, .. } = *heard else {
            return false;
        };
        let double = self
            .last
            .is_some_and(|(last, before)| last == pitch && at < before + LEAST_APART);
        if !double {
            self.last = Some((pitch, at));
        }
        double
    }
}

/// What was heard as the terminal takes it; `None` for what is only to show.
pub(crate) fn note(heard: &Listened, clock: LocalClock) -> Option<HeardNote> {
    Some(match *heard {
        Listened::Pluck {
            id,
            pitch,
            cents,
            at,
            uncertainty,
            ..
        } => HeardNote::Pluck {
            id,
            pitch,
            cents: cents as f32,
            at: clock.moment(at),
            uncertainty,
        },
        Listened::Settled {
            id,
            cents,
            spread_cents,
        } => HeardNote::Settled {
            id,
            cents: cents as f32,
            spread_cents: spread_cents as f32,
        },
        Listened::Withdrawn { id, why } => HeardNote::Withdrawn {
            id,
            why: doubt(why),
        },
        Listened::Unsure { at, why, .. } => HeardNote::Unsure {
            at: clock.moment(at),
            why: doubt(why),
        },
        Listened::Sung {
            frequency_hz,
            spread_cents,
            at,
            lasted,
        } => HeardNote::Sung {
            frequency_hz,
            spread_cents: spread_cents as f32,
            at: clock.moment(at),
            lasted,
        },
        _ => return None,
    })
}

/// A doubt that the ear learnt to have since counts as an unclear note.
fn doubt(why: EarDoubt) -> Doubt {
    match why {
        EarDoubt::SeveralNotes => Doubt::SeveralNotes,
        EarDoubt::Slide => Doubt::Slide,
        EarDoubt::TooQuiet => Doubt::TooQuiet,
        EarDoubt::NotAPluck => Doubt::NotAPluck,
        _ => Doubt::NoClearPitch,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn instants_become_moments_of_the_terminals_clock() {
        let clock = LocalClock::new();
        let at = Instant::now();
        let pitch = Pitch::new(62).expect("a pitch");
        let uncertainty = Duration::from_millis(4);
        let heard = Listened::Pluck {
            id: 7,
            pitch,
            cents: -3.5,
            level_db: -20.0,
            at,
            uncertainty,
        };
        let wanted = HeardNote::Pluck {
            id: 7,
            pitch,
            cents: -3.5,
            at: clock.moment(at),
            uncertainty,
        };
        assert_eq!(note(&heard, clock), Some(wanted));
        let later = at + Duration::from_millis(300);
        let unsure = Listened::Unsure {
            at: later,
            why: EarDoubt::SeveralNotes,
            level_db: -20.0,
        };
        let Some(HeardNote::Unsure { at: told, why }) = note(&unsure, clock) else {
            panic!("nothing told");
        };
        assert_eq!(told.since(clock.moment(at)), Duration::from_millis(300));
        assert_eq!(why, Doubt::SeveralNotes);
    }

    #[test]
    fn one_pluck_heard_double_is_one() {
        let begun = Instant::now();
        let mut doubles = Doubles::default();
        let mut double = |midi, ms| {
            doubles.is_double(&Listened::Pluck {
                id: ms,
                pitch: Pitch::new(midi).expect("a pitch"),
                cents: 0.0,
                level_db: -20.0,
                at: begun + Duration::from_millis(ms),
                uncertainty: Duration::from_millis(4),
            })
        };
        assert!(!double(60, 0));
        assert!(double(60, 53));
        assert!(double(60, 119));
        assert!(!double(60, 120));
        // Another note may follow as soon as it likes, as in a roll.
        assert!(!double(62, 150));
        assert!(!double(60, 180));
    }

    #[test]
    fn levels_and_the_like_are_only_shown() {
        let clock = LocalClock::new();
        assert_eq!(note(&Listened::Level { level_db: -30.0 }, clock), None);
        assert_eq!(note(&Listened::Back, clock), None);
        assert_eq!(note(&Listened::Calibrating { done: 0.5 }, clock), None);
    }
}
