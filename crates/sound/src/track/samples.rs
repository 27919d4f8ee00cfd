//! The samples of a track, from front to back.

use crate::timeline::Timeline;
use crate::{SoundError, ToneSpec, render};
use std::collections::HashMap;
use std::f64::consts::PI;
use std::sync::Arc;
use std::time::Duration;

/// Sample rate of a track, in hertz.
pub const TRACK_RATE_HZ: u32 = 48_000;

/// Time over which a tone that is cut short is drawn down, in seconds.
const DAMP_S: f64 = 0.03;

/// One tone of a track.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TrackTone {
    /// When it starts, from the track's start.
    pub at: Duration,
    /// How long it may sound; it dies away by itself sooner if it is short.
    pub lasts: Duration,
    /// What it is.
    pub tone: ToneSpec,
}

/// Frequency, voice, pluck, level and length in frames: what makes two tones
/// the same samples.
type Key = (u64, crate::Voice, u32, crate::Level, usize);

/// A track's samples: one channel, [`TRACK_RATE_HZ`], full scale 1.0. None of
/// them passes [`CEILING`](crate::CEILING).
#[derive(Debug)]
pub struct TrackSamples {
    /// Not placed yet, the last first.
    waiting: Vec<TrackTone>,
    timeline: Timeline,
    made: HashMap<Key, Arc<[f32]>>,
    frames: u64,
}

impl TrackSamples {
    /// A track of these tones, in any order, that ends after `length`.
    pub fn new(mut tones: Vec<TrackTone>, length: Duration) -> TrackSamples {
        tones.sort_by_key(|tone| std::cmp::Reverse(tone.at));
        TrackSamples {
            waiting: tones,
            timeline: Timeline::default(),
            made: HashMap::new(),
            frames: frame_at(length),
        }
    }

    /// How many frames the whole track has.
    pub fn frames(&self) -> u64 {
        self.frames
    }

    /// How many of them have been read.
    pub fn position(&self) -> u64 {
        self.timeline.next_frame().min(self.frames)
    }

    /// Reads the next frames into the front of `block`, and says how many; 0 at
    /// the end.
    ///
    /// # Errors
    /// A tone that cannot be rendered, or more than
    /// [`MAX_TONES`](crate::MAX_TONES) of them at once.
    pub fn read(&mut self, block: &mut [f32]) -> Result<usize, SoundError> {
        let from = self.position();
        let count = (self.frames - from).min(block.len() as u64) as usize;
        while let Some(next) = self.waiting.last().copied() {
            let start = frame_at(next.at);
            if start >= from + count as u64 {
                break;
            }
            self.waiting.pop();
            let samples = self.samples(&next)?;
            self.timeline
                .place(start, samples)
                .ok_or(SoundError::TooManyTones)?;
        }
        self.timeline.read(&mut block[..count]);
        Ok(count)
    }

    fn samples(&mut self, next: &TrackTone) -> Result<Arc<[f32]>, SoundError> {
        let frames = frame_at(next.lasts) as usize;
        let tone = &next.tone;
        let key = (
            tone.frequency_hz.to_bits(),
            tone.voice,
            tone.pluck_seed,
            tone.level,
            frames,
        );
        if let Some(samples) = self.made.get(&key) {
            return Ok(Arc::clone(samples));
        }
        let samples: Arc<[f32]> = damped(render(tone, TRACK_RATE_HZ)?, frames).into();
        self.made.insert(key, Arc::clone(&samples));
        Ok(samples)
    }
}

/// The first frames of a tone, softly ended.
fn damped(mut samples: Vec<f32>, frames: usize) -> Vec<f32> {
    if frames >= samples.len() {
        return samples;
    }
    samples.truncate(frames);
    let ramp = ((DAMP_S * f64::from(TRACK_RATE_HZ)) as usize).min(frames);
    for (n, sample) in samples.iter_mut().rev().take(ramp).enumerate() {
        *sample *= (0.5 - 0.5 * (PI * (n as f64 + 0.5) / ramp as f64).cos()) as f32;
    }
    samples
}

/// The frame nearest to a time.
fn frame_at(time: Duration) -> u64 {
    let frames = time.as_nanos() * u128::from(TRACK_RATE_HZ) + 500_000_000;
    u64::try_from(frames / 1_000_000_000).unwrap_or(u64::MAX)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{CEILING, Level, TONE_CEILING, Voice};

    fn tone(at_ms: u64, lasts_ms: u64, hz: f64, level: u32) -> TrackTone {
        TrackTone {
            at: Duration::from_millis(at_ms),
            lasts: Duration::from_millis(lasts_ms),
            tone: ToneSpec {
                frequency_hz: hz,
                voice: Voice::Guitar,
                pluck_seed: 1,
                level: Level::from_percent(level).expect("a level"),
            },
        }
    }

    fn all(mut track: TrackSamples, block: usize) -> Vec<f32> {
        let mut buffer = vec![9.0; block];
        let mut samples = Vec::new();
        loop {
            let count = track.read(&mut buffer).expect("these tones sound");
            if count == 0 {
                return samples;
            }
            samples.extend(&buffer[..count]);
        }
    }

    #[test]
    fn tones_lie_where_they_should_whatever_the_blocks() {
        let tones = || vec![tone(900, 300, 220.0, 60), tone(100, 500, 440.0, 60)];
        let length = Duration::from_millis(1500);
        let whole = all(TrackSamples::new(tones(), length), 100_000);
        assert_eq!(whole.len(), 72_000);
        for block in [1, 1000, 4096] {
            assert_eq!(all(TrackSamples::new(tones(), length), block), whole);
        }
        let sounds = |ms: usize| {
            whole[48 * ms..48 * (ms + 20)]
                .iter()
                .any(|x| x.abs() > 1e-3)
        };
        let heard: Vec<bool> = [0, 79, 105, 560, 601, 879, 905, 1160, 1201]
            .map(sounds)
            .to_vec();
        assert_eq!(
            heard,
            [false, false, true, true, false, false, true, true, false]
        );
        let fresh = render(&tone(0, 0, 440.0, 60).tone, TRACK_RATE_HZ).expect("a tone");
        assert_eq!(whole[4800..4800 + 22_000], fresh[..22_000]);
    }

    #[test]
    fn a_cut_tone_ends_softly() {
        let whole = all(
            TrackSamples::new(vec![tone(0, 200, 440.0, 100)], Duration::from_millis(300)),
            512,
        );
        let end = &whole[9600 - 48..9600];
        assert!(end.iter().all(|x| x.abs() < 0.01), "{end:?}");
        assert!(whole[9600..].iter().all(|x| *x == 0.0));
    }

    #[test]
    fn nothing_passes_the_ceilings() {
        let at_once = (0..20).map(|n| tone(n, 900, 110.0 + n as f64, 100));
        let mixed = all(
            TrackSamples::new(at_once.collect(), Duration::from_secs(1)),
            4096,
        );
        assert!(mixed.iter().all(|x| x.abs() <= CEILING));
        let alone = all(
            TrackSamples::new(vec![tone(0, 900, 110.0, 100)], Duration::from_secs(1)),
            4096,
        );
        assert!(alone.iter().all(|x| x.abs() <= TONE_CEILING));
        assert!(alone.iter().any(|x| x.abs() > 0.1));
    }

    #[test]
    fn a_tone_that_cannot_be_made_is_told() {
        let mut track = TrackSamples::new(vec![tone(0, 10, 1.0, 60)], Duration::from_secs(1));
        assert!(matches!(
            track.read(&mut [0.0; 8]),
            Err(SoundError::Tone(_))
        ));
    }
}
