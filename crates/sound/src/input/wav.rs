//! A WAV file, read in real time as though it were a microphone, then silence
//! for ever. For trying things without a microphone, and for tests.
//!
//! Sample `n` counts as taken in at `opened + n / rate`; its uncertainty is half
//! a sample.

use super::mixing::Mixer;
use super::{Argument, Captured, Input, InputKind};
use crate::{SAMPLE_RATES_HZ, SoundError};
use fifthpeg_core::Cause;
use hound::{SampleFormat, WavReader, WavSpec};
use std::fs::File;
use std::io::BufReader;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

pub(super) const KIND: InputKind = InputKind {
    name: "wav",
    example: "wav:FILE",
    summary: "a WAV file, heard in real time as if played to a microphone",
    argument: Argument::Needed,
    open: |path| Ok(Box::new(WavInput::open(Path::new(path))?)),
};

/// Samples come about as often as from a sound device.
const BLOCK: Duration = Duration::from_millis(20);
/// A reader that was away this long gets what it missed in pieces of at most
/// this length.
const LONGEST_BLOCK: Duration = Duration::from_millis(500);

struct WavInput {
    path: PathBuf,
    reader: WavReader<BufReader<File>>,
    mixer: Mixer,
    frame: Vec<f32>,
    opened: Instant,
    /// The first frame not read yet.
    next: u64,
}

impl WavInput {
    fn open(path: &Path) -> Result<WavInput, SoundError> {
        let reader = WavReader::open(path).map_err(|error| unreadable(path, error))?;
        let spec = reader.spec();
        if !SAMPLE_RATES_HZ.contains(&spec.sample_rate) || spec.channels == 0 {
            return Err(SoundError::Unreadable {
                path: path.to_owned(),
                reason: format!(
                    "it has {} samples a second in {} channels",
                    spec.sample_rate, spec.channels
                )
                .into(),
            });
        }
        Ok(WavInput {
            path: path.to_owned(),
            reader,
            mixer: Mixer::new(usize::from(spec.channels), spec.sample_rate),
            frame: Vec::with_capacity(usize::from(spec.channels)),
            opened: Instant::now(),
            next: 0,
        })
    }

    fn rate(&self) -> f64 {
        f64::from(self.rate_hz())
    }

    /// When a frame is taken in.
    fn time_of(&self, frame: u64) -> Instant {
        self.opened + Duration::from_secs_f64(frame as f64 / self.rate())
    }

    /// The next frame of the file mixed to one sample; silence after its end.
    fn next_sample(&mut self) -> Result<f32, hound::Error> {
        let spec = self.reader.spec();
        self.frame.clear();
        for _ in 0..spec.channels {
            match sample(&mut self.reader, spec) {
                Some(sample) => self.frame.push(sample?),
                None => return Ok(0.0),
            }
        }
        Ok(self.mixer.mix(self.frame.iter().copied()))
    }
}

impl Input for WavInput {
    fn rate_hz(&self) -> u32 {
        self.reader.spec().sample_rate
    }

    fn describe(&self) -> String {
        format!("sound file {}, {} Hz", self.path.display(), self.rate_hz())
    }

    fn read(
        &mut self,
        into: &mut Vec<f32>,
        wait: Duration,
    ) -> Result<Option<Captured>, SoundError> {
        into.clear();
        let due = self.time_of(self.next) + BLOCK;
        let left = due.saturating_duration_since(Instant::now());
        std::thread::sleep(left.min(wait));
        if left > wait {
            return Ok(None);
        }
        let passed_s = self.opened.elapsed().as_secs_f64();
        let longest = (LONGEST_BLOCK.as_secs_f64() * self.rate()) as u64;
        let end = ((passed_s * self.rate()) as u64).clamp(self.next, self.next + longest);
        let captured = Captured {
            first_frame: self.next,
            lost_frames: 0,
            at: self.time_of(self.next),
            uncertainty: Duration::from_secs_f64(0.5 / self.rate()),
        };
        while self.next < end {
            let sample = self
                .next_sample()
                .map_err(|error| unreadable(&self.path, error))?;
            into.push(sample);
            self.next += 1;
        }
        Ok(Some(captured))
    }

    fn reopen(&mut self) -> Result<(), SoundError> {
        *self = WavInput::open(&self.path)?;
        Ok(())
    }
}

/// The next sample of the file, full scale 1.0.
fn sample(
    reader: &mut WavReader<BufReader<File>>,
    spec: WavSpec,
) -> Option<Result<f32, hound::Error>> {
    match spec.sample_format {
        SampleFormat::Float => reader.samples::<f32>().next(),
        SampleFormat::Int => {
            let full_scale = 2f32.powi(i32::from(spec.bits_per_sample) - 1);
            reader
                .samples::<i32>()
                .next()
                .map(|sample| sample.map(|sample| sample as f32 / full_scale))
        }
    }
}

fn unreadable(path: &Path, error: hound::Error) -> SoundError {
    SoundError::Unreadable {
        path: path.to_owned(),
        reason: Cause::told(error.to_string().trim_end_matches('.'), error),
    }
}
