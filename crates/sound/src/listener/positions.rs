//! From the ear's sample positions to instants.

use crate::Captured;
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// How far back positions are looked up: more than the ear ever takes to tell of
/// one, a long sung note included.
const KEPT: Duration = Duration::from_secs(30);
/// At most one block is kept for this much sound, so that the memory is bounded
/// however small the blocks are.
const EVERY: Duration = Duration::from_millis(100);

/// What the input said of the blocks so far.
#[derive(Debug)]
pub(crate) struct Positions {
    rate_hz: f64,
    kept: VecDeque<Captured>,
    last: Option<Captured>,
}

impl Positions {
    pub(crate) fn new(rate_hz: u32) -> Positions {
        let rate_hz = f64::from(rate_hz.max(1));
        let room = (KEPT.as_secs_f64() / EVERY.as_secs_f64()) as usize;
        Positions {
            rate_hz,
            kept: VecDeque::with_capacity(room),
            last: None,
        }
    }

    /// A block was taken in.
    pub(crate) fn block(&mut self, captured: Captured) {
        let every = (EVERY.as_secs_f64() * self.rate_hz) as u64;
        let due = self.kept.back().is_none_or(|kept| {
            captured.lost_frames > 0 || captured.first_frame >= kept.first_frame + every
        });
        if due {
            if self.kept.len() == self.kept.capacity() {
                self.kept.pop_front();
            }
            self.kept.push_back(captured);
        }
        self.last = Some(captured);
    }

    /// When a position was in the air, and how far that may be out: by the
    /// newest block if the stream ran on unbroken since, for its clock has
    /// learned most; otherwise by the block it came with.
    pub(crate) fn at(&self, position: f64) -> (Instant, Duration) {
        let Some(last) = &self.last else {
            return (Instant::now(), Duration::ZERO);
        };
        let broken_after = self
            .kept
            .iter()
            .rev()
            .chain(Some(last))
            .any(|block| block.lost_frames > 0 && block.first_frame as f64 > position);
        let from = if broken_after {
            self.kept
                .iter()
                .rev()
                .find(|block| block.first_frame as f64 <= position)
                .or(self.kept.front())
                .unwrap_or(last)
        } else {
            last
        };
        let seconds = (position - from.first_frame as f64) / self.rate_hz;
        let by = Duration::from_secs_f64(seconds.abs().min(3600.0));
        let at = if seconds >= 0.0 {
            from.at + by
        } else {
            from.at.checked_sub(by).unwrap_or(from.at)
        };
        (at, from.uncertainty)
    }

    /// How long that many samples last.
    pub(crate) fn span(&self, samples: f64) -> Duration {
        Duration::from_secs_f64((samples / self.rate_hz).clamp(0.0, 3600.0))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RATE_HZ: u32 = 48_000;

    fn captured(start: Instant, frame: u64, lost: u64, off: Duration) -> Captured {
        Captured {
            first_frame: frame,
            lost_frames: lost,
            at: start + Duration::from_secs_f64(frame as f64 / f64::from(RATE_HZ)) + off,
            uncertainty: Duration::from_millis(5),
        }
    }

    fn apart(a: Instant, b: Instant) -> Duration {
        a.max(b) - a.min(b)
    }

    #[test]
    fn before_a_break_the_old_blocks_count() {
        let start = Instant::now();
        let mut positions = Positions::new(RATE_HZ);
        let step = Duration::from_millis(300);
        for n in 0..50u64 {
            positions.block(captured(start, n * 960, 0, Duration::ZERO));
        }
        // The driver lost less than it seemed: the later clock is 300 ms off.
        positions.block(captured(start, 60 * 960, 9600, step));
        let (at, _) = positions.at(24_000.0);
        assert!(apart(at, start + Duration::from_millis(500)) < Duration::from_micros(2));
        let (at, _) = positions.at(58_000.0);
        let wanted = start + Duration::from_secs_f64(58_000.0 / 48_000.0) + step;
        assert!(apart(at, wanted) < Duration::from_micros(2));
    }

    proptest! {
        /// However blocks fall, positions map to the true instants.
        #[test]
        fn positions_map_to_instants(
            blocks in proptest::collection::vec((1u64..5000, 0u64..3000), 1..400),
            back in 0.0f64..1.0,
        ) {
            let start = Instant::now();
            let mut positions = Positions::new(RATE_HZ);
            let mut frame = 0;
            for (frames, lost) in blocks {
                let lost = if lost < 200 { lost } else { 0 };
                frame += lost;
                positions.block(captured(start, frame, lost, Duration::ZERO));
                frame += frames;
            }
            let position = frame as f64 - back * (frame as f64).min(48_000.0 * 20.0);
            let (at, uncertainty) = positions.at(position);
            let wanted = start + Duration::from_secs_f64(position / 48_000.0);
            prop_assert!(apart(at, wanted) < Duration::from_micros(5));
            prop_assert_eq!(uncertainty, Duration::from_millis(5));
            prop_assert!(positions.kept.len() <= 300);
        }
    }
}
