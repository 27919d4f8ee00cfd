//! Tones laid out on a line of frames, mixed so that they never clip.

use std::sync::Arc;

/// The largest magnitude of any mixed sample, of full scale: 1 dB below it.
pub const CEILING: f32 = 0.89;

/// How many tones may wait or sound at once on one output.
pub const MAX_TONES: usize = 64;

/// Below this a mix passes untouched; one tone never reaches past it.
const KNEE: f32 = crate::TONE_CEILING;

#[derive(Debug)]
struct Scheduled {
    start_frame: u64,
    samples: Arc<[f32]>,
}

/// Tones at frames, read from front to back.
#[derive(Debug, Default)]
pub(crate) struct Timeline {
    next_frame: u64,
    tones: Vec<Scheduled>,
    /// Kept until [`Timeline::clear_finished`], so that a sound thread reading
    /// this never has to free memory.
    finished: Vec<Scheduled>,
    fade: Option<Fade>,
}

/// Drawing everything down to silence.
#[derive(Debug, Clone, Copy)]
struct Fade {
    frames: u32,
    left: u32,
}

impl Timeline {
    /// The first frame not read yet.
    pub(crate) fn next_frame(&self) -> u64 {
        self.next_frame
    }

    /// The frame after the last sample of any tone.
    pub(crate) fn end_frame(&self) -> u64 {
        self.tones
            .iter()
            .map(|tone| tone.start_frame + tone.samples.len() as u64)
            .max()
            .unwrap_or(0)
            .max(self.next_frame)
    }

    /// Places a tone at a frame, or at the next frame to be read if that has
    /// passed; the frame it got, or `None` when [`MAX_TONES`] are waiting.
    pub(crate) fn place(&mut self, start_frame: u64, samples: Arc<[f32]>) -> Option<u64> {
        self.finished.clear();
        if self.tones.len() >= MAX_TONES {
            return None;
        }
        let start_frame = start_frame.max(self.next_frame);
        self.finished.reserve(self.tones.len() + 1);
        self.tones.push(Scheduled {
            start_frame,
            samples,
        });
        Some(start_frame)
    }

    /// Moves every tone that has not begun by so many frames, though never before
    /// the next frame to be read.
    pub(crate) fn shift_waiting(&mut self, by: i64) {
        for tone in &mut self.tones {
            if tone.start_frame >= self.next_frame {
                let moved = tone.start_frame.saturating_add_signed(by);
                tone.start_frame = moved.max(self.next_frame);
            }
        }
    }

    /// From the next frame on, draws all sound down to silence, for good.
    pub(crate) fn fade_out(&mut self, frames: u32) {
        self.fade.get_or_insert(Fade {
            frames: frames.max(1),
            left: frames,
        });
    }

    /// Reads the next frames into `mono`, and moves on by as many.
    pub(crate) fn read(&mut self, mono: &mut [f32]) {
        mono.fill(0.0);
        let from = self.next_frame;
        let to = from + mono.len() as u64;
        self.next_frame = to;
        let mut index = 0;
        while index < self.tones.len() {
            let tone = &self.tones[index];
            let end = tone.start_frame + tone.samples.len() as u64;
            let (first, last) = (tone.start_frame.max(from), end.min(to));
            if first < last {
                let source = &tone.samples
                    [(first - tone.start_frame) as usize..(last - tone.start_frame) as usize];
                let target = &mut mono[(first - from) as usize..(last - from) as usize];
                for (out, sample) in target.iter_mut().zip(source) {
                    *out += sample;
                }
            }
            if end <= to {
                let tone = self.tones.swap_remove(index);
                self.finished.push(tone);
            } else {
                index += 1;
            }
        }
        for sample in mono {
            *sample = soft_limit(*sample);
            if let Some(fade) = &mut self.fade {
                fade.left = fade.left.saturating_sub(1);
                *sample *= fade.left as f32 / fade.frames as f32;
            }
        }
    }
}

/// The identity up to the knee, then a smooth bend that nears [`CEILING`] and
/// never reaches past it.
fn soft_limit(x: f32) -> f32 {
    let magnitude = x.abs();
    if magnitude <= KNEE {
        return x;
    }
    let room = CEILING - KNEE;
    (KNEE + room * ((magnitude - KNEE) / room).tanh()).copysign(x)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn tone(value: f32, frames: usize) -> Arc<[f32]> {
        vec![value; frames].into()
    }

    fn read(timeline: &mut Timeline, frames: usize) -> Vec<f32> {
        let mut out = vec![9.0; frames];
        timeline.read(&mut out);
        out
    }

    #[test]
    fn what_waits_moves_and_what_sounds_does_not() {
        let mut timeline = Timeline::default();
        timeline.place(2, tone(0.25, 6));
        timeline.place(10, tone(0.125, 2));
        assert_eq!(read(&mut timeline, 4), [0.0, 0.0, 0.25, 0.25]);
        timeline.shift_waiting(-3);
        assert_eq!(read(&mut timeline, 5), [0.25, 0.25, 0.25, 0.375, 0.125]);
        // Never into what was read already.
        timeline.place(12, tone(0.5, 1));
        timeline.shift_waiting(-100);
        assert_eq!(read(&mut timeline, 2), [0.5, 0.0]);
    }

    #[test]
    fn a_tone_lands_on_its_frame_across_reads_of_any_size() {
        for block in [1, 3, 7, 100] {
            let mut timeline = Timeline::default();
            assert_eq!(timeline.place(5, tone(0.25, 4)), Some(5));
            let mut all = Vec::new();
            while all.len() < 12 {
                all.extend(read(&mut timeline, block));
            }
            let heard: Vec<usize> = (0..12).filter(|i| all[*i] == 0.25).collect();
            assert_eq!(heard, [5, 6, 7, 8], "blocks of {block}");
            assert_eq!(all.iter().filter(|x| **x != 0.0).count(), 4);
        }
    }

    #[test]
    fn a_late_tone_starts_with_the_next_frame_and_loses_no_sample() {
        let mut timeline = Timeline::default();
        read(&mut timeline, 10);
        assert_eq!(timeline.place(3, tone(0.5, 2)), Some(10));
        assert_eq!(timeline.end_frame(), 12);
        assert_eq!(read(&mut timeline, 3), [0.5, 0.5, 0.0]);
    }

    #[test]
    fn more_tones_than_the_limit_are_refused_until_some_have_ended() {
        let mut timeline = Timeline::default();
        for _ in 0..MAX_TONES {
            assert!(timeline.place(0, tone(0.1, 5)).is_some());
        }
        assert_eq!(timeline.place(0, tone(0.1, 5)), None);
        read(&mut timeline, 5);
        assert!(timeline.place(0, tone(0.1, 5)).is_some());
    }

    #[test]
    fn a_fade_ends_in_silence_without_a_step() {
        let mut timeline = Timeline::default();
        timeline.place(0, tone(0.5, 200));
        read(&mut timeline, 10);
        timeline.fade_out(50);
        let faded = read(&mut timeline, 100);
        assert!(
            faded
                .windows(2)
                .all(|pair| pair[0] >= pair[1] && pair[0] - pair[1] < 0.011)
        );
        assert!(faded[49..].iter().all(|x| *x == 0.0));
    }

    proptest! {
        #[test]
        fn any_mix_stays_under_the_ceiling_and_one_tone_is_untouched(
            tones in proptest::collection::vec((0u64..50, -0.5f32..=0.5, 1usize..60), 1..40),
        ) {
            let mut timeline = Timeline::default();
            for (start, value, frames) in &tones {
                timeline.place(*start, tone(*value, *frames));
            }
            let mixed = read(&mut timeline, 120);
            for (frame, x) in mixed.iter().enumerate() {
                prop_assert!(x.abs() <= CEILING);
                let here: Vec<f32> = tones.iter()
                    .filter(|(start, _, frames)| (*start as usize..*start as usize + frames).contains(&frame))
                    .map(|tone| tone.1).collect();
                if here.len() == 1 {
                    prop_assert_eq!(*x, here[0]);
                }
            }
        }

        #[test]
        fn the_limit_keeps_order_and_sign(a in -20.0f32..20.0, b in -20.0f32..20.0) {
            let (low, high) = (a.min(b), a.max(b));
            prop_assert!(soft_limit(low) <= soft_limit(high));
            prop_assert!(soft_limit(a) * a >= 0.0);
        }
    }
}
