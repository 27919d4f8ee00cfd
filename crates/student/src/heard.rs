//! What the ear tells, in the lesson's words and on the terminal's clock.

use fifthpeg_lesson::terminal::HeardNote;
use fifthpeg_link::clock::LocalClock;
use fifthpeg_sound::Listened;

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
            why: why.into(),
        },
        Listened::MayAnswer { id } => HeardNote::MayAnswer { id },
        Listened::MayNotAnswer { id, why } => HeardNote::MayNotAnswer {
            id,
            why: why.into(),
        },
        Listened::Unsure { at, why, .. } => HeardNote::Unsure {
            at: clock.moment(at),
            why: why.into(),
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

#[cfg(test)]
mod tests {
    use core::time::Duration;
    use std::time::Instant;

    use fifthpeg_core::Pitch;
    use fifthpeg_lesson::terminal::Doubt;
    use fifthpeg_sound::EarDoubt;

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
    fn levels_and_the_like_are_only_shown() {
        let clock = LocalClock::new();
        assert_eq!(note(&Listened::Level { level_db: -30.0 }, clock), None);
        assert_eq!(note(&Listened::Back, clock), None);
        assert_eq!(note(&Listened::Calibrating { done: 0.5 }, clock), None);
    }
}
