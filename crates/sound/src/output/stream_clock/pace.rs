//! Two witnesses of when a stream's frames leave the device.
//!
//! *When buffers are asked for* follows the device's pace within some tenths of a
//! millisecond, shows every break at once, and never wanders; but it does not say
//! how long after being asked for a buffer is heard. *The driver's figures* say
//! just that, but a sound server that smooths them lets them wander: PulseAudio's
//! were seen to begin up to 2.4 ms too low, to climb to 7 ms too high within four
//! seconds, and to be right after ten (their slope, 0.2 %, is no clock's drift).
//!
//! So the distance between the two is what is learnt, and it is believed only while
//! it stands still: it is the median of the first second or so, before figures have
//! wandered far, and after that changes only when it has kept to a few
//! tenths of a millisecond for four seconds. A break counts as the sound's when both
//! witnesses saw it; when buffers are merely asked for sooner or later than before,
//! the sound goes on as it did.

use std::collections::VecDeque;

/// Buffers that are looked at together: one of them at least was asked for without
/// delay, and most have a good figure.
const TOGETHER: usize = 8;
/// Buffers at first that only fill the queue.
const FILLING: u32 = 8;
/// The pace is that of buffers asked for soonest within so long.
const PACE_S: f64 = 4.0;
/// A pace that changes by more than this is a break.
const BREAK_S: f64 = 0.002;
/// The first figures are taken as they come: longer, and those that began well have
/// gone astray; shorter, and those that began badly have not come back.
const FIRST_S: f64 = 1.2;
/// Later ones when the medians of so many seconds keep to so little. Chosen so
/// that PulseAudio's are left out while they wander.
const CALM_SECONDS: usize = 4;
const CALM_WITHIN_S: f64 = 0.0003;
/// Figures that are never calm are believed after so long.
const PATIENCE_S: f64 = 20.0;
/// No figure was seen to wander this far: the device is another one.
const FAR_S: f64 = 0.015;

/// Some buffers together.
#[derive(Debug, Clone, Copy)]
struct Block {
    at_s: f64,
    /// When frame zero would have been asked for, by the soonest of them.
    asked_s: f64,
    /// When frame zero left, by the median of their figures.
    left_s: f64,
}

/// What is known of a stream's pace, and of how long it takes from asking for a
/// buffer to hearing it.
#[derive(Debug, Default)]
pub(super) struct StreamPace {
    buffers: u32,
    /// When frame zero would have been asked for, and left, by each buffer that is
    /// not in a block yet.
    asked_s: Vec<f64>,
    left_s: Vec<f64>,
    blocks: VecDeque<Block>,
    /// The last block broke off. It may have seen only part of the break, so the
    /// next one says what it was.
    breaking: bool,
    /// From being asked for to leaving, as it is believed.
    distance_s: Option<f64>,
    began_s: f64,
    calm_s: f64,
    second_s: f64,
    /// The distances by each block at first, and of this second; and the medians of
    /// the latest seconds.
    first: Vec<f64>,
    second: Vec<f64>,
    seconds: VecDeque<f64>,
}

impl StreamPace {
    /// Takes one buffer that was asked for at `at_s`: so frame zero would have been
    /// asked for at `asked_s`, and by its figure left at `left_s`.
    pub(super) fn buffer(&mut self, at_s: f64, asked_s: f64, left_s: f64) {
        self.buffers = self.buffers.saturating_add(1);
        if self.buffers <= FILLING {
            return;
        }
        self.asked_s.push(asked_s);
        self.left_s.push(left_s);
        if self.asked_s.len() == TOGETHER {
            let block = Block {
                at_s,
                asked_s: self.asked_s.iter().copied().fold(f64::INFINITY, f64::min),
                left_s: median(&mut self.left_s),
            };
            self.asked_s.clear();
            self.left_s.clear();
            self.take(block);
        }
    }

    /// When frame zero left; `None` until enough is known.
    pub(super) fn zero_s(&self) -> Option<f64> {
        Some(self.pace_s()? + self.distance_s?)
    }

    fn pace_s(&self) -> Option<f64> {
        self.blocks.iter().map(|b| b.asked_s).reduce(f64::min)
    }

    fn take(&mut self, block: Block) {
        if let Some(pace_s) = self.pace_s() {
            let step_s = block.asked_s - pace_s;
            let breaks = step_s.abs() > BREAK_S;
            if breaks && !self.breaking {
                self.breaking = true;
                return;
            }
            self.breaking = false;
            if breaks {
                self.broke(block, step_s);
            }
        }
        self.blocks.push_back(block);
        self.blocks.retain(|b| block.at_s - b.at_s <= PACE_S);
        let Some(pace_s) = self.pace_s() else { return };
        let distance_s = block.left_s - pace_s;
        if self
            .distance_s
            .is_none_or(|d| (distance_s - d).abs() > FAR_S)
        {
            self.begin(block.at_s);
        }
        if block.at_s - self.began_s < FIRST_S {
            self.first.push(distance_s);
            self.distance_s = Some(median(&mut self.first));
        }
        self.second.push(distance_s);
        if block.at_s - self.second_s >= 1.0 {
            self.end_second(block.at_s);
        }
    }

    /// The pace changed from one block to the next: did the sound?
    fn broke(&mut self, block: Block, step_s: f64) {
        // The one before may have seen half of it.
        let before = self.blocks.iter().rev().nth(1).or(self.blocks.back());
        let sound_s = before.map_or(step_s, |b| block.left_s - b.left_s);
        self.blocks.clear();
        if (sound_s - step_s).abs() > step_s.abs() / 2.0 {
            let seen = self.first.iter_mut().chain(&mut self.second);
            for distance in seen.chain(&mut self.seconds).chain(&mut self.distance_s) {
                *distance -= step_s;
            }
        }
    }

    fn begin(&mut self, at_s: f64) {
        self.began_s = at_s;
        self.calm_s = at_s;
        self.second_s = at_s;
        self.first.clear();
        self.second.clear();
        self.seconds.clear();
    }

    fn end_second(&mut self, at_s: f64) {
        self.second_s = at_s;
        if self.seconds.len() == CALM_SECONDS {
            self.seconds.pop_front();
        }
        self.seconds.push_back(median(&mut self.second));
        self.second.clear();
        let least = self.seconds.iter().copied().fold(f64::INFINITY, f64::min);
        let most = self
            .seconds
            .iter()
            .copied()
            .fold(f64::NEG_INFINITY, f64::max);
        let calm = most - least < CALM_WITHIN_S || at_s - self.calm_s > PATIENCE_S;
        if self.seconds.len() == CALM_SECONDS && calm {
            self.calm_s = at_s;
            let mut all: Vec<f64> = self.seconds.iter().copied().collect();
            self.distance_s = Some(median(&mut all));
        }
    }
}

/// The lower median: what holds up the sound thread makes figures too high.
fn median(of: &mut [f64]) -> f64 {
    of.sort_by(f64::total_cmp);
    of.get(of.len().saturating_sub(1) / 2)
        .copied()
        .unwrap_or_default()
}
