//! From the driver's thread to ours, without a lock.
//!
//! The driver's thread only mixes, pushes into two rings of fixed size, and goes:
//! it allocates nothing and waits for nobody. Samples for which there is no room
//! are left out whole buffers at a time, but counted, so that what comes later
//! keeps its time.

use super::mixing::Mixer;
use rodio::cpal::{FromSample, Sample};
use rtrb::{Consumer, Producer, RingBuffer};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// How much sound waits at most for a reader that is busy.
const RING: Duration = Duration::from_secs(2);
/// How many buffers it may come in.
const MARKS: usize = 1024;

/// What is known of one buffer.
#[derive(Debug, Clone, Copy)]
pub(super) struct BufferMark {
    /// The position of its first frame among all that the driver brought.
    pub(super) frame: u64,
    pub(super) frames: usize,
    /// When the driver brought it.
    pub(super) now: Instant,
    /// How long before that its first frame was taken in, by the driver's word;
    /// zero if it has none.
    pub(super) age: Duration,
}

/// The driver's end.
pub(super) struct Tap {
    mixer: Mixer,
    samples: Producer<f32>,
    marks: Producer<BufferMark>,
    frame: u64,
    brought: Arc<AtomicU64>,
}

/// The reader's end.
pub(super) struct Drain {
    samples: Consumer<f32>,
    marks: Consumer<BufferMark>,
    brought: Arc<AtomicU64>,
}

pub(super) fn tap(channels: usize, rate_hz: u32) -> (Tap, Drain) {
    let room = (f64::from(rate_hz) * RING.as_secs_f64()) as usize;
    let (to_samples, samples) = RingBuffer::new(room);
    let (to_marks, marks) = RingBuffer::new(MARKS);
    let brought = Arc::new(AtomicU64::new(0));
    let tap = Tap {
        mixer: Mixer::new(channels, rate_hz),
        samples: to_samples,
        marks: to_marks,
        frame: 0,
        brought: Arc::clone(&brought),
    };
    let drain = Drain {
        samples,
        marks,
        brought,
    };
    (tap, drain)
}

impl Tap {
    /// Takes in one buffer of interleaved samples.
    pub(super) fn push<T>(&mut self, data: &[T], now: Instant, age: Duration)
    where
        T: Sample,
        f32: FromSample<T>,
    {
        let channels = self.mixer.channels();
        let frames = data.len() / channels;
        let frame = self.frame;
        self.frame += frames as u64;
        self.brought.fetch_add(1, Ordering::Relaxed);
        if frames == 0 || self.marks.is_full() {
            return;
        }
        let Ok(room) = self.samples.write_chunk_uninit(frames) else {
            return;
        };
        let mixer = &mut self.mixer;
        room.fill_from_iter(
            data.chunks_exact(channels)
                .map(|frame| mixer.mix(frame.iter().map(|sample| f32::from_sample(*sample)))),
        );
        let mark = BufferMark {
            frame,
            frames,
            now,
            age,
        };
        // There is room: only this end fills it.
        let _ = self.marks.push(mark);
    }
}

impl Drain {
    /// How many buffers the driver brought so far.
    pub(super) fn brought(&self) -> u64 {
        self.brought.load(Ordering::Relaxed)
    }

    /// The next buffer, its samples appended to `into`.
    pub(super) fn next(&mut self, into: &mut Vec<f32>) -> Option<BufferMark> {
        let mark = self.marks.pop().ok()?;
        // The samples were pushed before their mark.
        let chunk = self.samples.read_chunk(mark.frames).ok()?;
        into.extend(chunk);
        Some(mark)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use rodio::cpal::I24;

    #[test]
    fn any_sample_format_comes_out_the_same() {
        fn heard<T: Sample>(data: &[T]) -> Vec<f32>
        where
            f32: FromSample<T>,
        {
            let (mut tap, mut drain) = tap(2, 48_000);
            tap.push(data, Instant::now(), Duration::ZERO);
            let mut out = Vec::new();
            drain.next(&mut out).unwrap();
            out
        }
        let wanted: [f32; 3] = [0.5, -0.25, 0.0];
        let doubled = wanted.iter().flat_map(|x| [*x, *x]);
        let check = |out: Vec<f32>, step: f32| {
            assert_eq!(out.len(), 3);
            for (x, y) in out.iter().zip(wanted) {
                assert!((x - y).abs() <= step, "{x} {y}");
            }
        };
        let of = |scale: f32| doubled.clone().map(move |x| f64::from(x * scale));
        check(heard(&of(1.0).map(|x| x as f32).collect::<Vec<_>>()), 0.0);
        check(heard(&of(1.0).collect::<Vec<f64>>()), 0.0);
        check(
            heard(&of(32768.0).map(|x| x as i16).collect::<Vec<_>>()),
            1e-6,
        );
        check(
            heard(
                &of(8_388_608.0)
                    .map(|x| I24::new(x as i32).unwrap())
                    .collect::<Vec<_>>(),
            ),
            1e-6,
        );
        check(
            heard(&of(2_147_483_648.0).map(|x| x as i32).collect::<Vec<_>>()),
            1e-6,
        );
        check(heard(&of(128.0).map(|x| x as i8).collect::<Vec<_>>()), 1e-6);
        check(
            heard(&of(128.0).map(|x| (x + 128.0) as u8).collect::<Vec<_>>()),
            1e-6,
        );
        check(
            heard(
                &of(32768.0)
                    .map(|x| (x + 32768.0) as u16)
                    .collect::<Vec<_>>(),
            ),
            1e-6,
        );
    }

    #[test]
    fn the_drivers_thread_allocates_nothing() {
        let (mut tap, mut drain) = tap(2, 48_000);
        let block = [0.1f32; 2 * 960];
        let counted = allocation_counter::measure(|| {
            // Three seconds: into the full ring as well.
            for _ in 0..150 {
                tap.push(&block, Instant::now(), Duration::from_millis(20));
            }
        });
        assert_eq!(counted.count_total, 0);
        let mut out = Vec::new();
        let mut marks = 0;
        while drain.next(&mut out).is_some() {
            marks += 1;
        }
        assert_eq!((marks, out.len()), (100, 96_000));
        assert_eq!(drain.brought(), 150);
    }

    proptest! {
        /// However buffers and reads interleave, each sample that comes through
        /// is the one of its frame, in order, and whole buffers are missing.
        #[test]
        fn what_comes_through_keeps_its_frame(
            steps in proptest::collection::vec((1usize..400, any::<bool>()), 1..300),
        ) {
            let (mut tap, mut drain) = tap(1, 1000);
            let (mut sent, mut heard) = (0usize, 0u64);
            let mut out = Vec::new();
            for (frames, read) in steps {
                let block: Vec<f32> = (sent..sent + frames).map(|n| (n % 4096) as f32 / 4096.0).collect();
                tap.push(&block, Instant::now(), Duration::ZERO);
                sent += frames;
                if !read {
                    continue;
                }
                out.clear();
                while let Some(mark) = drain.next(&mut out) {
                    prop_assert!(mark.frame >= heard);
                    heard = mark.frame + mark.frames as u64;
                    prop_assert_eq!(out.len(), mark.frames);
                    for (n, x) in (mark.frame..).zip(out.drain(..)) {
                        prop_assert_eq!(x, (n % 4096) as f32 / 4096.0);
                    }
                }
            }
            prop_assert!(heard <= sent as u64);
        }
    }
}
