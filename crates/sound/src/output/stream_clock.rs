//! Which frame of a running stream leaves the device when.

use std::time::{Duration, Instant};

/// How much of each new figure is believed: this, or more while there are few
/// (their mean). Single figures scatter by a millisecond or more; the crystals
/// behind them hardly drift.
const BELIEF: f64 = 0.05;
/// A jump this large is no scatter: the stream broke off and went on.
const BROKE_OFF: Duration = Duration::from_millis(20);
/// How fast past scatter is forgotten, per buffer.
const FORGET: f64 = 0.99;
/// Converter and cable, which no driver reports. An estimate, no source.
const BEYOND_DRIVER: Duration = Duration::from_millis(5);
/// The same where no latency is reported at all.
const UNREPORTED: Duration = Duration::from_millis(20);

/// Learns from each buffer: its first frame, when it was asked for, and how long
/// after that the driver said it would play.
#[derive(Debug)]
pub(in crate::output) struct StreamClock {
    rate_hz: u32,
    known: Option<Known>,
    buffers: u64,
}

#[derive(Debug, Clone, Copy)]
struct Known {
    frame: u64,
    plays_at: Instant,
    asked_at: Instant,
    latency: Duration,
    buffer: Duration,
    scatter_s: f64,
    /// Buffers since the stream began or broke off.
    figures: u32,
}

impl StreamClock {
    pub(in crate::output) fn new(rate_hz: u32) -> StreamClock {
        StreamClock {
            rate_hz,
            known: None,
            buffers: 0,
        }
    }

    /// A buffer of `frames` was asked for at `now`; its first frame is `frame`.
    /// A `latency` of zero means that the driver reports none.
    pub(in crate::output) fn buffer(
        &mut self,
        frame: u64,
        frames: usize,
        now: Instant,
        latency: Duration,
    ) {
        self.buffers += 1;
        let buffer = self.span(frames as u64);
        // With no figure, a buffer is taken to play when the one before it ends.
        let seen = now + if latency.is_zero() { buffer } else { latency };
        let (plays_at, scatter_s, figures) = match &self.known {
            None => (seen, 0.0, 1),
            Some(known) => {
                let expected = known.plays_at + self.span(frame.saturating_sub(known.frame));
                let error_s = signed_s(seen, expected);
                if error_s.abs() > BROKE_OFF.as_secs_f64() {
                    (seen, 0.0, 1)
                } else {
                    let scatter_s = (known.scatter_s * FORGET).max(error_s.abs());
                    let figures = known.figures.saturating_add(1);
                    let belief = BELIEF.max(f64::from(figures).recip());
                    (moved(expected, belief * error_s), scatter_s, figures)
                }
            }
        };
        self.known = Some(Known {
            frame,
            plays_at,
            asked_at: now,
            latency,
            buffer,
            scatter_s,
            figures,
        });
    }

    /// How many buffers were asked for so far.
    pub(in crate::output) fn buffers(&self) -> u64 {
        self.buffers
    }

    /// How long nothing was asked for.
    pub(in crate::output) fn silent_for(&self, now: Instant) -> Duration {
        self.known.map_or(Duration::MAX, |known| {
            now.saturating_duration_since(known.asked_at)
        })
    }

    /// The driver's last figure.
    pub(in crate::output) fn latency(&self) -> Duration {
        self.known.map_or(Duration::ZERO, |known| known.latency)
    }

    /// The frame that leaves the device nearest to `at`; zero for a time before
    /// the stream, or before the first buffer.
    pub(in crate::output) fn frame_at(&self, at: Instant) -> u64 {
        self.known.map_or(0, |known| {
            let frames = signed_s(at, known.plays_at) * f64::from(self.rate_hz);
            (known.frame as f64 + frames).round().max(0.0) as u64
        })
    }

    /// When a frame leaves the device.
    pub(in crate::output) fn time_of(&self, frame: u64) -> Instant {
        self.known.map_or_else(Instant::now, |known| {
            let frames = frame as f64 - known.frame as f64;
            moved(known.plays_at, frames / f64::from(self.rate_hz))
        })
    }

    /// How far [`Self::time_of`] may be out, as the page of the device output
    /// says.
    pub(in crate::output) fn uncertainty(&self) -> Duration {
        self.known.map_or(UNREPORTED, |known| {
            if known.latency.is_zero() {
                2 * known.buffer + UNREPORTED
            } else {
                Duration::from_secs_f64(known.scatter_s) + BEYOND_DRIVER
            }
        })
    }

    fn span(&self, frames: u64) -> Duration {
        Duration::from_secs_f64(frames as f64 / f64::from(self.rate_hz))
    }
}

/// `a - b` in seconds.
fn signed_s(a: Instant, b: Instant) -> f64 {
    if a >= b {
        (a - b).as_secs_f64()
    } else {
        -(b - a).as_secs_f64()
    }
}

fn moved(at: Instant, seconds: f64) -> Instant {
    let by = Duration::from_secs_f64(seconds.abs());
    if seconds >= 0.0 {
        at + by
    } else {
        at.checked_sub(by).unwrap_or(at)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: u32 = 48_000;
    const FRAMES: u64 = 960;
    const BUFFER: Duration = Duration::from_millis(20);
    const LATENCY: Duration = Duration::from_millis(40);

    /// Feeds buffers asked for every 20 ms, off by turns by `jitter`.
    fn fed(start: Instant, latency: Duration, jitter: Duration) -> StreamClock {
        let mut clock = StreamClock::new(RATE_HZ);
        for n in 0..200u32 {
            let late = if n % 2 == 0 { Duration::ZERO } else { jitter };
            let now = start + n * BUFFER + late;
            clock.buffer(u64::from(n) * FRAMES, FRAMES as usize, now, latency);
        }
        clock
    }

    #[test]
    fn steady_buffers_give_exact_frames_and_times() {
        let start = Instant::now();
        let clock = fed(start, LATENCY, Duration::ZERO);
        let at = start + Duration::from_secs(5);
        assert_eq!(clock.frame_at(at), 48_000 * 5 - 48 * 40);
        let back = clock.time_of(clock.frame_at(at));
        assert!(signed_s(back, at).abs() < 1e-6);
        assert_eq!(clock.frame_at(start - Duration::from_secs(60)), 0);
    }

    #[test]
    fn scatter_is_smoothed_and_shows_in_the_uncertainty() {
        let start = Instant::now();
        let jitter = Duration::from_millis(4);
        let clock = fed(start, LATENCY, jitter);
        // The truth lies between the two turns; half the jitter is its middle.
        let error_s = signed_s(
            clock.time_of(48_000),
            start + Duration::from_secs(1) + LATENCY,
        );
        assert!((error_s - 0.002).abs() < 0.0005, "{error_s}");
        let uncertainty = clock.uncertainty();
        assert!(uncertainty >= BEYOND_DRIVER + jitter / 2 - Duration::from_micros(300));
        assert!(uncertainty < BEYOND_DRIVER + 2 * jitter);
    }

    #[test]
    fn a_break_is_believed_at_once() {
        let start = Instant::now();
        let mut clock = fed(start, LATENCY, Duration::ZERO);
        let late = start + 200 * BUFFER + Duration::from_millis(300);
        clock.buffer(200 * FRAMES, FRAMES as usize, late, LATENCY);
        assert_eq!(clock.time_of(200 * FRAMES), late + LATENCY);
    }

    #[test]
    fn without_a_reported_latency_the_uncertainty_says_so() {
        let clock = fed(Instant::now(), Duration::ZERO, Duration::ZERO);
        assert_eq!(clock.uncertainty(), 2 * BUFFER + UNREPORTED);
    }
}
