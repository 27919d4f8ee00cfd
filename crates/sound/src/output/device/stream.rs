//! One opening of a sound device: from the moment it runs until it is lost.

use super::super::stream_clock::StreamClock;
use crate::SoundError;
use crate::devices::{self, COMPLAINT_PAUSE, Complaints, Use};
use crate::timeline::Timeline;
use fifthpeg_core::Cause;
use rodio::cpal::traits::{DeviceTrait, StreamTrait};
use rodio::cpal::{
    self, ErrorKind, FromSample, I24, OutputCallbackInfo, SampleFormat, SizedSample, Stream,
    StreamConfig,
};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

/// A buffer of about this long, two of which are kept filled: short enough to
/// answer a key press, long enough for a busy laptop.
const BUFFER: Duration = Duration::from_millis(25);
/// Buffers that must have been asked for before a device counts as running.
const FIRST_BUFFERS: u64 = 8;
/// How long opening waits for those. A sound server may first have to wake a
/// device.
const OPEN_WITHIN: Duration = Duration::from_secs(5);
/// A device that asks for nothing this long has stopped.
const STOPPED_AFTER: Duration = Duration::from_secs(2);

/// A device that runs, or ran.
pub(super) struct RunningStream {
    pub(super) name: String,
    pub(super) rate_hz: u32,
    shared: Arc<Mutex<Shared>>,
    _stream: Stream,
}

/// Held by the sound thread for as long as mixing one buffer takes, and by
/// `play` for a few copies.
pub(super) struct Shared {
    pub(super) timeline: Timeline,
    pub(super) clock: StreamClock,
    /// The last of them holds until the sound system asks for sound again.
    complaints: Complaints,
}

impl RunningStream {
    /// Opens the device of that name.
    pub(super) fn open(name: String) -> Result<RunningStream, SoundError> {
        let failed = |reason| SoundError::Device { reason };
        devices::on_a_thread(name, failed, RunningStream::open_here)
    }

    fn open_here(name: &str) -> Result<RunningStream, SoundError> {
        let told = |error: cpal::Error| Use::Play.told(&error);
        let device = Use::Play.find(name)?;
        let format = Use::Play.format(&device, &[])?;
        let rate_hz = format.sample_rate();
        let shared = Arc::new(Mutex::new(Shared {
            timeline: Timeline::default(),
            clock: StreamClock::new(rate_hz),
            complaints: Complaints::default(),
        }));
        let build = |config| build(&device, format.sample_format(), config, &shared);
        let stream = devices::with_buffers(&format, BUFFER, build).map_err(told)?;
        stream.play().map_err(told)?;
        let open = RunningStream {
            name: devices::title(&device),
            rate_hz,
            shared,
            _stream: stream,
        };
        open.wait_until_running()?;
        Ok(open)
    }

    fn wait_until_running(&self) -> Result<(), SoundError> {
        let opened = Instant::now();
        loop {
            let (buffers, complaint) = {
                let shared = lock(&self.shared);
                (shared.clock.buffers(), shared.complaints.last.clone())
            };
            if buffers >= FIRST_BUFFERS {
                return Ok(());
            }
            if opened.elapsed() > OPEN_WITHIN {
                return Err(SoundError::Device {
                    reason: complaint.unwrap_or_else(|| "it asks for no sound".into()),
                });
            }
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    pub(super) fn lock(&self) -> MutexGuard<'_, Shared> {
        lock(&self.shared)
    }

    /// Why it is lost, if it is.
    pub(super) fn lost(&self) -> Option<Cause> {
        let shared = self.lock();
        (shared.complaints.gone || shared.clock.silent_for(Instant::now()) > STOPPED_AFTER).then(
            || {
                let last = shared.complaints.last.clone();
                last.unwrap_or_else(|| "it asks for no more sound".into())
            },
        )
    }
}

fn build(
    device: &cpal::Device,
    format: SampleFormat,
    config: StreamConfig,
    shared: &Arc<Mutex<Shared>>,
) -> Result<Stream, cpal::Error> {
    let shared = Arc::clone(shared);
    match format {
        SampleFormat::F32 => build_as::<f32>(device, config, shared),
        SampleFormat::F64 => build_as::<f64>(device, config, shared),
        SampleFormat::I8 => build_as::<i8>(device, config, shared),
        SampleFormat::I16 => build_as::<i16>(device, config, shared),
        SampleFormat::I24 => build_as::<I24>(device, config, shared),
        SampleFormat::I32 => build_as::<i32>(device, config, shared),
        SampleFormat::U8 => build_as::<u8>(device, config, shared),
        SampleFormat::U16 => build_as::<u16>(device, config, shared),
        _ => Err(cpal::Error::new(ErrorKind::UnsupportedConfig)),
    }
}

fn build_as<T>(
    device: &cpal::Device,
    config: StreamConfig,
    shared: Arc<Mutex<Shared>>,
) -> Result<Stream, cpal::Error>
where
    T: SizedSample + FromSample<f32>,
{
    let channels = usize::from(config.channels.max(1));
    let complain = Arc::clone(&shared);
    let mut mono: Vec<f32> = Vec::with_capacity(config.sample_rate as usize / 4);
    let fill = move |data: &mut [T], info: &OutputCallbackInfo| {
        let now = Instant::now();
        let times = info.timestamp();
        let latency = times.playback.saturating_duration_since(times.callback);
        mono.resize(data.len() / channels, 0.0);
        let mut shared = lock(&shared);
        let frame = shared.timeline.next_frame();
        shared.clock.buffer(frame, mono.len(), now, latency);
        // What waits follows the clock up to its last moment.
        let by = shared.clock.moved();
        shared.timeline.shift_waiting(by);
        shared.complaints.last = None;
        shared.timeline.read(&mut mono);
        drop(shared);
        for (frame, x) in data.chunks_mut(channels).zip(&mono) {
            frame.fill(T::from_sample(*x));
        }
    };
    let error = move |error: cpal::Error| match error.kind() {
        // Heard as a gap at most; the clock finds its place again.
        ErrorKind::Xrun => lock(&complain).clock.broke_off(),
        ErrorKind::RealtimeDenied | ErrorKind::DeviceChanged => {}
        _ => {
            lock(&complain).complaints.take(&error);
            std::thread::sleep(COMPLAINT_PAUSE);
        }
    };
    device.build_output_stream(config, fill, error, None)
}

/// A panic elsewhere leaves samples, not broken promises: go on.
fn lock(shared: &Mutex<Shared>) -> MutexGuard<'_, Shared> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}
