//! One pluck is told once.

use crate::heard::PluckId;
use fifthpeg_core::Pitch;

/// A string is not plucked again sooner than this (common practice, no source:
/// a fast tremolo has some fifteen strokes a second).
const AGAIN_S: f64 = 0.065;
/// Nor, being thick, before it has swung this often.
const AGAIN_PERIODS: f64 = 7.0;
/// Unless it is louder by this much, in dB: then the first was the pick that
/// touched the string.
const TOUCHED_DB: f64 = 6.0;

/// The pluck told last, as long as it stands.
#[derive(Debug, Default)]
pub(crate) struct Refractory {
    last: Option<(PluckId, Pitch, f64, f64)>,
}

impl Refractory {
    /// Whether an onset of this pitch (at `frequency_hz`), at this second, comes
    /// too soon to be another pluck: the string beats, or two were plucked.
    pub(crate) fn is_the_same(
        &self,
        pitch: Pitch,
        frequency_hz: f64,
        at_s: f64,
        level_db: f64,
    ) -> bool {
        let soon_s = AGAIN_S.max(AGAIN_PERIODS / frequency_hz);
        self.last.is_some_and(|(_, last, before_s, before_db)| {
            last == pitch && (at_s - before_s).abs() < soon_s && level_db < before_db + TOUCHED_DB
        })
    }

    /// A pluck was told.
    pub(crate) fn told(&mut self, id: PluckId, pitch: Pitch, at_s: f64, level_db: f64) {
        self.last = Some((id, pitch, at_s, level_db));
    }

    /// It was none: nothing is like it.
    pub(crate) fn withdrawn(&mut self, id: PluckId) {
        self.last.take_if(|(last, ..)| *last == id);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_thick_string_waits_longer_and_what_was_withdrawn_holds_nobody_up() {
        let pitch = |midi| Pitch::new(midi).expect("a pitch");
        let (low, high) = (pitch(28), pitch(62));
        let mut refractory = Refractory::default();
        refractory.told(PluckId(1), high, 1.0, -20.0);
        assert!(refractory.is_the_same(high, 293.7, 1.064, -20.0));
        assert!(
            !refractory.is_the_same(high, 293.7, 1.064, -10.0),
            "far louder"
        );
        assert!(!refractory.is_the_same(high, 293.7, 1.066, -20.0));
        assert!(
            !refractory.is_the_same(low, 41.2, 1.01, -20.0),
            "another string"
        );
        refractory.told(PluckId(2), low, 2.0, -20.0);
        // Seven swings of 41.2 Hz: 170 ms.
        assert!(refractory.is_the_same(low, 41.2, 2.169, -20.0));
        refractory.withdrawn(PluckId(1));
        assert!(refractory.is_the_same(low, 41.2, 2.1, -20.0));
        refractory.withdrawn(PluckId(2));
        assert!(!refractory.is_the_same(low, 41.2, 2.1, -20.0));
    }
}
