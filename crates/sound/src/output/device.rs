//! A sound device, by way of rodio's cpal.
//!
//! One stream runs from opening to closing and counts frames, so a tone can be
//! laid on an exact frame. rodio's own mixer is passed by because it drops the
//! one thing needed here: the times that the driver gives with each buffer. From
//! those a [`StreamClock`](super::stream_clock::StreamClock) learns which frame leaves the device when.
//!
//! A tone is laid so that it *leaves* at the instant asked for, output latency
//! included, when that is far enough ahead; otherwise it starts with the next
//! buffer, and [`Started`](super::Started) says when that leaves. Until then it
//! moves along with what the clock learns, so that a stream that was starved
//! meanwhile does not make it late.
//!
//! What the uncertainty counts in: the scatter of the driver's figures, and
//! 5 ms for what no driver knows (converter and cable; an estimate, no source).
//! In the first three seconds, when figures may be guesses, and where the driver
//! reports no latency, it is two buffers and 20 ms instead of 5 ms. A wireless loudspeaker adds 100 ms and more that no driver
//! tells; that is *not* counted in, but see [`Trimmed`](super::Trimmed).
//!
//! A device that is lost (headphones pulled, a sound server restarted) is opened
//! again by itself as soon as that works; what was waiting to sound is gone.

mod keeper;
mod stream;

use super::{Argument, Output, OutputKind, Started, not_past};
use crate::{Level, SoundError, ToneSpec};
use keeper::Keeper;
use std::sync::Arc;
use std::time::{Duration, Instant};

pub(super) const KIND: OutputKind = OutputKind {
    name: "device",
    example: "device or device:NAME",
    summary: "the sound device, or the one whose name holds NAME",
    argument: Argument::Optional,
    open: |name| Ok(Box::new(Device::open(name)?)),
};

/// How long [`Output::finish`] lets the last sound fade.
const FADE: Duration = Duration::from_millis(30);

struct Device {
    keeper: Keeper,
}

impl Device {
    fn open(name: &str) -> Result<Device, SoundError> {
        Ok(Device {
            keeper: Keeper::open(name)?,
        })
    }

    /// Lays rendered samples on the time line; they must be at `rate_hz`.
    fn place(&self, samples: Arc<[f32]>, rate_hz: u32, at: Instant) -> Result<Started, SoundError> {
        let at = not_past(at)?;
        self.keeper.with(|open| {
            if open.rate_hz != rate_hz {
                return Err(SoundError::DeviceLost {
                    reason: "it came back as another one".into(),
                });
            }
            let mut shared = open.lock();
            let wanted = shared.clock.frame_at(at);
            let frame = shared
                .timeline
                .place(wanted, samples)
                .ok_or(SoundError::TooManyTones)?;
            Ok(Started {
                at: shared.clock.time_of(frame),
                uncertainty: shared.clock.uncertainty(),
                audible: true,
            })
        })?
    }
}

impl Output for Device {
    fn play(&mut self, tone: &ToneSpec, at: Instant) -> Result<Started, SoundError> {
        // Rendered while nobody else waits for the device.
        let rate_hz = self.keeper.with(|open| open.rate_hz)?;
        let samples = fifthpeg_tone::render(tone, rate_hz)?.into();
        self.place(samples, rate_hz, at)
    }

    fn sample_rate_hz(&self) -> Option<u32> {
        self.keeper.with(|open| open.rate_hz).ok()
    }

    fn play_samples(
        &mut self,
        samples: &[f32],
        level: Level,
        at: Instant,
    ) -> Result<Started, SoundError> {
        let rate_hz = self.keeper.with(|open| open.rate_hz)?;
        self.place(
            fifthpeg_tone::sounded(samples, level, rate_hz).into(),
            rate_hz,
            at,
        )
    }

    fn device_name(&self) -> Option<String> {
        Some(self.keeper.name())
    }

    fn describe(&self) -> String {
        self.keeper.describe()
    }

    fn finish(self: Box<Self>) -> Result<(), SoundError> {
        let wait = self.keeper.with(|open| {
            let frames = (FADE.as_secs_f64() * f64::from(open.rate_hz)) as u32;
            let mut shared = open.lock();
            shared.timeline.fade_out(frames);
            shared.clock.latency() + FADE
        });
        // A lost device has nothing left to fade.
        if let Ok(wait) = wait {
            std::thread::sleep(wait.min(Duration::from_millis(300)));
        }
        Ok(())
    }
}
