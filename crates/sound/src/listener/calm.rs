//! Limits how often "no clear note" is told.

use fifthpeg_ear::EarDoubt;
use std::time::{Duration, Instant};

/// In a room that was not measured the ear does not know which sounds are the
/// room's own. Onsets without a clear note are then told this often at most.
const CALM: Duration = Duration::from_secs(15);

/// Lets through what is worth telling of onsets that are no notes.
#[derive(Debug, Default)]
pub(super) struct Calm {
    told_at: Option<Instant>,
}

impl Calm {
    /// Whether to tell an onset that is not counted, for this reason, at `now`.
    /// Chords, slides and the like are always told: somebody played. Talk and knocks
    /// are not.
    pub(super) fn tells(&mut self, why: EarDoubt, measured: bool, now: Instant) -> bool {
        if !why.is_pluck_like() {
            return false;
        }
        if measured || why != EarDoubt::NoClearPitch {
            return true;
        }
        let told_lately = self
            .told_at
            .is_some_and(|at| now.saturating_duration_since(at) < CALM);
        if !told_lately {
            self.told_at = Some(now);
        }
        !told_lately
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_room_that_was_not_measured_does_not_chatter() {
        let begun = Instant::now();
        let mut calm = Calm::default();
        let mut told = |seconds, why, measured| {
            calm.tells(why, measured, begun + Duration::from_secs(seconds))
        };
        assert!(told(0, EarDoubt::NoClearPitch, false));
        for second in 1..15 {
            assert!(!told(second, EarDoubt::NoClearPitch, false), "{second}");
            assert!(told(second, EarDoubt::SeveralNotes, false), "{second}");
        }
        assert!(told(15, EarDoubt::NoClearPitch, false));
        assert!(!told(16, EarDoubt::NoClearPitch, false));
        // Whoever has measured the room is told each.
        assert!(told(17, EarDoubt::NoClearPitch, true));
        assert!(told(18, EarDoubt::NoClearPitch, true));
        assert!(!told(19, EarDoubt::Knock, true));
    }
}
