//! A WAV file that holds the whole time line from its opening, silence and all.
//!
//! One channel, 48 kHz, 16 bits. A tone for instant `t` lands on the frame
//! `(t - opened) * 48000`, rounded; its uncertainty is half a frame. A thread
//! writes what has passed and mends the header several times a second, so that
//! a killed program loses under a second and leaves a file that plays.

use super::{Argument, Output, OutputKind, Started, not_past};
use crate::timeline::Timeline;
use crate::{Level, SoundError, ToneSpec};
use hound::{SampleFormat, WavSpec, WavWriter};
use std::fs::File;
use std::io::{BufWriter, Read};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{self, RecvTimeoutError};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

pub(super) const KIND: OutputKind = OutputKind {
    name: "wav",
    example: "wav:FILE",
    summary: "a WAV file, written as time passes",
    argument: Argument::Needed,
    open: |path| Ok(Box::new(WavFile::create(Path::new(path))?)),
};

const RATE_HZ: u32 = 48_000;
const HALF_FRAME: Duration = Duration::from_nanos(1_000_000_000 / (2 * RATE_HZ as u64));

/// How often the file is brought up to date.
const WRITE_EVERY: Duration = Duration::from_millis(200);
/// How far writing stays behind the clock, so that a tone for right now still
/// lands on its own frame.
const BEHIND: Duration = Duration::from_millis(300);
/// A WAV header counts bytes in 32 bits; stop well short of that.
const MAX_FRAMES: u64 = 2_000_000_000;

/// The thread owns the writer; the time line is shared.
struct WavFile {
    path: PathBuf,
    opened: Instant,
    shared: Arc<Mutex<Shared>>,
    stop: mpsc::Sender<()>,
    thread: Option<JoinHandle<()>>,
}

#[derive(Default)]
struct Shared {
    timeline: Timeline,
    failed: Option<SoundError>,
}

impl WavFile {
    fn create(path: &Path) -> Result<WavFile, SoundError> {
        let spec = WavSpec {
            channels: 1,
            sample_rate: RATE_HZ,
            bits_per_sample: 16,
            sample_format: SampleFormat::Int,
        };
        spare_what_is_no_wav(path)?;
        let failed = |error: hound::Error| file_error(path, error);
        let mut writer = WavWriter::create(path, spec).map_err(failed)?;
        writer.flush().map_err(failed)?;
        let opened = Instant::now();
        let shared = Arc::new(Mutex::new(Shared::default()));
        let (stop, stopped) = mpsc::channel();
        let thread = WavThread {
            path: path.to_owned(),
            writer,
            shared: Arc::clone(&shared),
            block: Vec::new(),
        };
        let thread = std::thread::Builder::new()
            .name("sound file".to_owned())
            .spawn(move || thread.keep_up(opened, &stopped))
            .map_err(|error| SoundError::File {
                path: path.to_owned(),
                reason: error.into(),
            })?;
        Ok(WavFile {
            path: path.to_owned(),
            opened,
            shared,
            stop,
            thread: Some(thread),
        })
    }

    fn place(&self, samples: Arc<[f32]>, at: Instant) -> Result<Started, SoundError> {
        let at = not_past(at)?;
        let wanted = frame_at(at - self.opened);
        let mut shared = lock(&self.shared);
        if let Some(error) = &shared.failed {
            return Err(error.clone());
        }
        let frame = shared
            .timeline
            .place(wanted, samples)
            .ok_or(SoundError::TooManyTones)?;
        Ok(Started {
            at: self.opened + time_of(frame),
            uncertainty: HALF_FRAME,
            audible: true,
        })
    }

    /// Has the thread write the rest, and waits for it.
    fn close(&mut self) -> Result<(), SoundError> {
        let Some(thread) = self.thread.take() else {
            return Ok(());
        };
        // The thread may have ended after a failure; that is told below.
        let _ = self.stop.send(());
        if thread.join().is_err() {
            return Err(SoundError::File {
                path: self.path.clone(),
                reason: "the writer stopped".into(),
            });
        }
        lock(&self.shared).failed.clone().map_or(Ok(()), Err)
    }
}

impl Output for WavFile {
    fn play(&mut self, tone: &ToneSpec, at: Instant) -> Result<Started, SoundError> {
        self.place(fifthpeg_tone::render(tone, RATE_HZ)?.into(), at)
    }

    fn sample_rate_hz(&self) -> Option<u32> {
        Some(RATE_HZ)
    }

    fn play_samples(
        &mut self,
        samples: &[f32],
        level: Level,
        at: Instant,
    ) -> Result<Started, SoundError> {
        self.place(fifthpeg_tone::sounded(samples, level, RATE_HZ).into(), at)
    }

    fn describe(&self) -> String {
        format!("sound file {}", self.path.display())
    }

    fn finish(mut self: Box<Self>) -> Result<(), SoundError> {
        self.close()
    }
}

impl Drop for WavFile {
    fn drop(&mut self) {
        // Nobody is left to tell; finish() is how to hear of a failure.
        let _ = self.close();
    }
}

/// The writing end.
struct WavThread {
    path: PathBuf,
    writer: WavWriter<BufWriter<File>>,
    shared: Arc<Mutex<Shared>>,
    block: Vec<f32>,
}

impl WavThread {
    fn keep_up(mut self, opened: Instant, stopped: &mpsc::Receiver<()>) {
        let result = loop {
            let told = stopped.recv_timeout(WRITE_EVERY);
            let passed = opened.elapsed();
            if told != Err(RecvTimeoutError::Timeout) {
                // The end: the time that has passed, and every tone whole.
                let end = lock(&self.shared).timeline.end_frame();
                break self.write_to(end.max(frame_at(passed)));
            }
            if let Err(error) = self.write_to(frame_at(passed.saturating_sub(BEHIND))) {
                break Err(error);
            }
        };
        let result = result.and_then(|()| {
            self.writer
                .finalize()
                .map_err(|error| file_error(&self.path, error))
        });
        if let Err(error) = result {
            lock(&self.shared).failed = Some(error);
        }
    }

    fn write_to(&mut self, end_frame: u64) -> Result<(), SoundError> {
        let end_frame = end_frame.min(MAX_FRAMES);
        loop {
            // Short reads, so that play() never waits long for the lock.
            let next = {
                let mut shared = lock(&self.shared);
                let next = shared.timeline.next_frame();
                if next >= MAX_FRAMES {
                    return Err(SoundError::FileFull {
                        path: self.path.clone(),
                    });
                }
                let frames = end_frame.saturating_sub(next).min(4800);
                self.block.resize(frames as usize, 0.0);
                shared.timeline.read(&mut self.block);
                next + frames
            };
            for x in &self.block {
                let sample = (x * f32::from(i16::MAX)).round() as i16;
                self.writer
                    .write_sample(sample)
                    .map_err(|error| file_error(&self.path, error))?;
            }
            if next >= end_frame {
                break;
            }
        }
        self.writer
            .flush()
            .map_err(|error| file_error(&self.path, error))
    }
}

/// An older recording may be written over; somebody's notes may not.
fn spare_what_is_no_wav(path: &Path) -> Result<(), SoundError> {
    if !path
        .metadata()
        .is_ok_and(|about| about.is_file() && about.len() > 0)
    {
        return Ok(());
    }
    let mut start = [0; 4];
    let read = File::open(path).and_then(|mut file| file.read_exact(&mut start));
    if read.is_ok() && &start == b"RIFF" {
        return Ok(());
    }
    Err(SoundError::NotOurs {
        path: path.to_owned(),
    })
}

fn frame_at(since_opened: Duration) -> u64 {
    (since_opened.as_nanos() * u128::from(RATE_HZ) + 500_000_000).div_euclid(1_000_000_000) as u64
}

fn time_of(frame: u64) -> Duration {
    Duration::from_nanos((u128::from(frame) * 1_000_000_000 / u128::from(RATE_HZ)) as u64)
}

fn file_error(path: &Path, error: hound::Error) -> SoundError {
    SoundError::File {
        path: path.to_owned(),
        reason: error.into(),
    }
}

/// A panic elsewhere leaves samples, not broken promises: go on.
fn lock(shared: &Mutex<Shared>) -> std::sync::MutexGuard<'_, Shared> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}
