//! A microphone, by way of rodio's cpal.
//!
//! The driver's thread pushes samples, mixed to mono, through a [`tap`](super::tap);
//! the reader learns from the times that the driver gives with each buffer which
//! frame was taken in when ([`CaptureClock`]).
//!
//! The instant of a frame is when it was *in the air*: where the driver reports
//! how old a buffer is, that is subtracted. What the uncertainty counts in: the
//! scatter of the driver's figures, and 5 ms for what no driver knows (converter
//! and cable; an estimate, no source). Where the driver reports nothing, and in
//! the first three seconds, a buffer is taken to have just been filled, and the
//! uncertainty is two buffers and 20 ms. A wireless microphone adds 100 ms and more that no driver tells; that
//! is *not* counted in. The loop test measures what is left.
//!
//! Any sample format and any number of channels will do; 48 kHz is asked for
//! first, since most converters run at it, and anything under 32 kHz is refused.

use super::capture_clock::CaptureClock;
use super::tap::{BufferMark, Drain, tap};
use super::{Argument, Captured, Input, InputKind};
use crate::SoundError;
use crate::devices::{self, COMPLAINT_PAUSE, Complaints, Use};
use rodio::cpal::traits::{DeviceTrait, StreamTrait};
use rodio::cpal::{
    self, ErrorKind, FromSample, I24, InputCallbackInfo, SampleFormat, SizedSample, Stream,
    StreamConfig,
};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

pub(super) const KIND: InputKind = InputKind {
    name: "microphone",
    example: "microphone or microphone:NAME",
    summary: "the microphone, or the one whose name holds NAME",
    argument: Argument::Optional,
    open: |name| Ok(Box::new(Microphone::open(name.to_owned())?)),
};

/// Rates in the order they are asked for.
const WANTED_HZ: [u32; 2] = [48_000, 44_100];
/// A buffer of about this long: short, because a note is named no sooner than
/// its samples have come.
const BUFFER: Duration = Duration::from_millis(20);
/// Buffers that must have come before a microphone counts as running.
const FIRST_BUFFERS: u64 = 4;
/// How long opening waits for those. A sound server may first have to wake a
/// device, and a headset to change from music to speech.
const OPEN_WITHIN: Duration = Duration::from_secs(5);
/// A microphone that brings nothing this long has stopped.
const STOPPED_AFTER: Duration = Duration::from_secs(2);
/// How long the reader rests when nothing has come.
const REST: Duration = Duration::from_millis(4);

struct Microphone {
    wanted: String,
    open: Open,
}

/// What lasts from one opening to the next.
struct Open {
    title: String,
    rate_hz: u32,
    drain: Drain,
    clock: CaptureClock,
    complaints: Arc<Mutex<Complaints>>,
    /// The frame that is expected next, losses counted.
    next: u64,
    /// Frames that the driver itself lost so far.
    never_came: u64,
    came_at: Instant,
    /// None once it is known to be dead and was let go.
    stream: Option<Stream>,
}

impl Microphone {
    fn open(wanted: String) -> Result<Microphone, SoundError> {
        let open = open(wanted.clone())?;
        Ok(Microphone { wanted, open })
    }
}

impl Input for Microphone {
    fn rate_hz(&self) -> u32 {
        self.open.rate_hz
    }

    fn describe(&self) -> String {
        format!("microphone {}, {} Hz", self.open.title, self.open.rate_hz)
    }

    fn read(
        &mut self,
        into: &mut Vec<f32>,
        wait: Duration,
    ) -> Result<Option<Captured>, SoundError> {
        into.clear();
        let until = Instant::now() + wait;
        loop {
            if let Some(mark) = self.open.drain.next(into) {
                return Ok(Some(self.open.captured(mark)));
            }
            self.open.check()?;
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return Ok(None);
            }
            std::thread::sleep(left.min(REST));
        }
    }

    fn reopen(&mut self) -> Result<(), SoundError> {
        // The old stream goes only once there is a new one: it is dead, and
        // closing a dead stream must not cost us the new one's first sound.
        match open(self.wanted.clone()) {
            Ok(open) => {
                self.open = open;
                Ok(())
            }
            Err(error) => {
                // It may be what keeps the device busy: next time it is gone.
                self.open.stream = None;
                Err(error)
            }
        }
    }
}

impl Open {
    /// Learns from a buffer, and says when it was taken in.
    fn captured(&mut self, mark: BufferMark) -> Captured {
        self.came_at = mark.now;
        let counted = mark.frame + self.never_came;
        let frame = self.clock.buffer(counted, mark.frames, mark.now, mark.age);
        self.never_came += frame - counted;
        let lost_frames = frame.saturating_sub(self.next);
        self.next = frame + mark.frames as u64;
        Captured {
            first_frame: frame,
            lost_frames,
            at: self.clock.time_of(frame),
            uncertainty: self.clock.uncertainty(),
        }
    }

    /// Whether it still runs.
    fn check(&self) -> Result<(), SoundError> {
        let complaints = lock(&self.complaints);
        if complaints.gone || self.came_at.elapsed() > STOPPED_AFTER {
            return Err(SoundError::MicrophoneLost {
                reason: complaints
                    .last
                    .clone()
                    .unwrap_or_else(|| "it brings no more sound".into()),
            });
        }
        Ok(())
    }

    fn wait_until_running(&self) -> Result<(), SoundError> {
        let opened = Instant::now();
        while self.drain.brought() < FIRST_BUFFERS {
            if opened.elapsed() > OPEN_WITHIN {
                return Err(SoundError::Microphone {
                    reason: lock(&self.complaints)
                        .last
                        .clone()
                        .unwrap_or_else(|| "it brings no sound".into()),
                });
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        Ok(())
    }
}

fn open(name: String) -> Result<Open, SoundError> {
    devices::on_a_thread(name, |reason| SoundError::Microphone { reason }, open_here)
}

fn open_here(name: &str) -> Result<Open, SoundError> {
    let told = |error: cpal::Error| Use::Listen.told(&error);
    let device = Use::Listen.find(name)?;
    let format = Use::Listen.format(&device, &WANTED_HZ)?;
    let rate_hz = format.sample_rate();
    let complaints = Arc::new(Mutex::new(Complaints::default()));
    let build = |config| build(&device, format.sample_format(), config, &complaints);
    let (stream, drain) = devices::with_buffers(&format, BUFFER, build).map_err(told)?;
    stream.play().map_err(told)?;
    let open = Open {
        title: devices::title(&device),
        rate_hz,
        drain,
        clock: CaptureClock::new(rate_hz),
        complaints,
        next: 0,
        never_came: 0,
        came_at: Instant::now(),
        stream: Some(stream),
    };
    open.wait_until_running()?;
    Ok(open)
}

fn build(
    device: &cpal::Device,
    format: SampleFormat,
    config: StreamConfig,
    complaints: &Arc<Mutex<Complaints>>,
) -> Result<(Stream, Drain), cpal::Error> {
    let complaints = Arc::clone(complaints);
    match format {
        SampleFormat::F32 => build_as::<f32>(device, config, complaints),
        SampleFormat::F64 => build_as::<f64>(device, config, complaints),
        SampleFormat::I8 => build_as::<i8>(device, config, complaints),
        SampleFormat::I16 => build_as::<i16>(device, config, complaints),
        SampleFormat::I24 => build_as::<I24>(device, config, complaints),
        SampleFormat::I32 => build_as::<i32>(device, config, complaints),
        SampleFormat::U8 => build_as::<u8>(device, config, complaints),
        SampleFormat::U16 => build_as::<u16>(device, config, complaints),
        _ => Err(cpal::Error::new(ErrorKind::UnsupportedConfig)),
    }
}

fn build_as<T>(
    device: &cpal::Device,
    config: StreamConfig,
    complaints: Arc<Mutex<Complaints>>,
) -> Result<(Stream, Drain), cpal::Error>
where
    T: SizedSample,
    f32: FromSample<T>,
{
    let (mut tap, drain) = tap(usize::from(config.channels), config.sample_rate);
    let take = move |data: &[T], info: &InputCallbackInfo| {
        let now = Instant::now();
        let times = info.timestamp();
        let age = times.callback.saturating_duration_since(times.capture);
        tap.push(data, now, age);
    };
    let error = move |error: cpal::Error| match error.kind() {
        // Heard as a gap at most, which the clock finds.
        ErrorKind::Xrun | ErrorKind::RealtimeDenied | ErrorKind::DeviceChanged => {}
        _ => {
            lock(&complaints).take(&error);
            std::thread::sleep(COMPLAINT_PAUSE);
        }
    };
    let stream = device.build_input_stream(config, take, error, None)?;
    Ok((stream, drain))
}

/// A panic elsewhere leaves a sentence or none: go on.
fn lock(complaints: &Mutex<Complaints>) -> std::sync::MutexGuard<'_, Complaints> {
    complaints.lock().unwrap_or_else(PoisonError::into_inner)
}
