//! Which frame of a running stream leaves the device when.
//!
//! Each buffer's figure says when its first frame leaves. Now and then the sound
//! thread is held up between asking the driver and looking at the clock, and then
//! it is too high. So at first the median of the last few is believed. A sound
//! server that smooths its figures lets them wander besides; so as soon as may be
//! they are held against when buffers are asked for: [`pace`]. A stream that was
//! starved goes on some milliseconds later, often without anybody saying so: that is
//! followed within half a second. (A running mean would take a second for that, and
//! so would make terminals start apart.)

mod pace;

use pace::StreamPace;
use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// How many figures the first median, and the scatter, is of.
const FIGURES: usize = 15;
/// In a stream this young, figures are not yet trusted: other sound servers may
/// begin with guesses.
const YOUNG: Duration = Duration::from_secs(3);
/// Converter and cable, which no driver reports. An estimate, no source.
const BEYOND_DRIVER: Duration = Duration::from_millis(5);
/// The same where no latency is reported at all, or not yet trusted.
const UNREPORTED: Duration = Duration::from_millis(20);

/// Learns from each buffer: its first frame, when it was asked for, and how long
/// after that the driver said it would play.
#[derive(Debug)]
pub(in crate::output) struct StreamClock {
    rate_hz: f64,
    /// The first buffer's moment, from which seconds are counted here.
    origin: Option<Instant>,
    /// When frame zero left (or would have), by each figure.
    figures: VecDeque<f64>,
    sorted: Vec<f64>,
    pace: StreamPace,
    /// When it left as it is believed, and how far nine tenths of the figures are
    /// from that at most.
    zero_s: f64,
    scatter_s: f64,
    /// What `zero_s` was when [`StreamClock::moved`] told it last.
    told_zero_s: f64,
    buffers: u64,
    asked_at: Option<Instant>,
    latency: Duration,
    buffer: Duration,
}

impl StreamClock {
    pub(in crate::output) fn new(rate_hz: u32) -> StreamClock {
        StreamClock {
            rate_hz: f64::from(rate_hz.max(1)),
            origin: None,
            figures: VecDeque::with_capacity(FIGURES),
            sorted: Vec::with_capacity(FIGURES),
            pace: StreamPace::default(),
            zero_s: 0.0,
            scatter_s: 0.0,
            told_zero_s: 0.0,
            buffers: 0,
            asked_at: None,
            latency: Duration::ZERO,
            buffer: Duration::ZERO,
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
        self.asked_at = Some(now);
        self.latency = latency;
        self.buffer = Duration::from_secs_f64(frames as f64 / self.rate_hz);
        let origin = *self.origin.get_or_insert(now);
        // With no figure, a buffer is taken to play when the one before it ends.
        let leaves = now
            + if latency.is_zero() {
                self.buffer
            } else {
                latency
            };
        if self.figures.len() == FIGURES {
            self.figures.pop_front();
        }
        let frame_s = frame as f64 / self.rate_hz;
        let zero_s = signed_s(leaves, origin) - frame_s;
        self.figures.push_back(zero_s);
        let now_s = signed_s(now, origin);
        self.pace.buffer(now_s, now_s - frame_s, zero_s);
        self.sorted.clear();
        self.sorted.extend(&self.figures);
        self.sorted.sort_by(f64::total_cmp);
        let median_s = self.sorted[self.sorted.len() / 2];
        self.zero_s = self.pace.zero_s().unwrap_or(median_s);
        for figure in &mut self.sorted {
            *figure = (*figure - self.zero_s).abs();
        }
        self.sorted.sort_by(f64::total_cmp);
        self.scatter_s = self.sorted[self.sorted.len() * 9 / 10];
    }

    /// The driver says that the stream broke off and goes on: older figures say
    /// nothing of what comes.
    pub(in crate::output) fn broke_off(&mut self) {
        self.figures.clear();
        self.pace = StreamPace::default();
    }

    /// By how many frames what waits to be played must move, to leave when it was
    /// to leave, since this was asked last.
    pub(in crate::output) fn moved(&mut self) -> i64 {
        let frames = ((self.told_zero_s - self.zero_s) * self.rate_hz).round();
        self.told_zero_s -= frames / self.rate_hz;
        frames as i64
    }

    /// How many buffers were asked for so far.
    pub(in crate::output) fn buffers(&self) -> u64 {
        self.buffers
    }

    /// How long nothing was asked for.
    pub(in crate::output) fn silent_for(&self, now: Instant) -> Duration {
        self.asked_at
            .map_or(Duration::MAX, |at| now.saturating_duration_since(at))
    }

    /// The driver's last figure.
    pub(in crate::output) fn latency(&self) -> Duration {
        self.latency
    }

    /// The frame that leaves the device nearest to `at`; zero for a time before
    /// the stream, or before the first buffer.
    pub(in crate::output) fn frame_at(&self, at: Instant) -> u64 {
        self.origin.map_or(0, |origin| {
            let frames = (signed_s(at, origin) - self.zero_s) * self.rate_hz;
            frames.round().max(0.0) as u64
        })
    }

    /// When a frame leaves the device.
    pub(in crate::output) fn time_of(&self, frame: u64) -> Instant {
        self.origin.map_or_else(Instant::now, |origin| {
            moved(origin, self.zero_s + frame as f64 / self.rate_hz)
        })
    }

    /// How far [`Self::time_of`] may be out, as the page of the device output
    /// says.
    pub(in crate::output) fn uncertainty(&self) -> Duration {
        let (Some(origin), Some(asked_at)) = (self.origin, self.asked_at) else {
            return UNREPORTED;
        };
        let scatter = Duration::from_secs_f64(self.scatter_s);
        if self.latency.is_zero() || asked_at < origin + YOUNG {
            scatter + 2 * self.buffer + UNREPORTED
        } else {
            scatter + BEYOND_DRIVER
        }
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
    use proptest::prelude::*;

    const RATE_HZ: u32 = 48_000;
    const FRAMES: u64 = 960;
    const BUFFER: Duration = Duration::from_millis(20);
    const LATENCY: Duration = Duration::from_millis(40);
    const MS: Duration = Duration::from_millis(1);

    /// A device that asks every 20 ms and is 40 ms late.
    struct Device {
        start: Instant,
        clock: StreamClock,
        n: u32,
        /// Silence of the device's own so far.
        gap: Duration,
        /// How much faster than its rate it runs, in parts per million.
        fast_ppm: u64,
        /// How much sooner than it need it asks.
        sooner: Duration,
        /// How far its figures are out, in milliseconds.
        wander_ms: fn(f64) -> f64,
    }

    impl Device {
        fn new() -> Device {
            Device {
                start: Instant::now(),
                clock: StreamClock::new(RATE_HZ),
                n: 0,
                gap: Duration::ZERO,
                fast_ppm: 0,
                sooner: Duration::ZERO,
                wander_ms: |_| 0.0,
            }
        }

        /// Brings a buffer that is asked for `late`, whose figure is `held_up` too
        /// high; how far the clock is out for its first frame.
        fn bring(&mut self, late: Duration, held_up: Duration) -> Duration {
            let frame = u64::from(self.n) * FRAMES;
            let went = self.n * BUFFER;
            let began = self.start + went + self.gap - went * self.fast_ppm as u32 / 1_000_000;
            let (asked, truly) = (began + late - self.sooner, began + LATENCY);
            self.n += 1;
            let wander_ms = (self.wander_ms)(went.as_secs_f64());
            let figure = (LATENCY + self.sooner - late).as_secs_f64() + wander_ms / 1000.0;
            let figure = Duration::from_secs_f64(figure);
            self.clock
                .buffer(frame, FRAMES as usize, asked + held_up, figure);
            let told = self.clock.time_of(frame);
            told.max(truly) - told.min(truly)
        }

        fn run(&mut self, buffers: u32) {
            for n in 0..buffers {
                self.bring(n % 3 * 5 * MS, Duration::ZERO);
            }
        }
    }

    #[test]
    fn steady_buffers_give_exact_frames_and_times_however_late_they_are_asked_for() {
        let mut device = Device::new();
        device.run(200);
        let at = device.start + Duration::from_secs(5);
        assert_eq!(device.clock.frame_at(at), 48_000 * 5 - 48 * 40);
        let back = device.clock.time_of(device.clock.frame_at(at));
        assert!(signed_s(back, at).abs() < 1e-6);
        let long_before = device.start.checked_sub(Duration::from_secs(60));
        assert_eq!(long_before.map(|at| device.clock.frame_at(at)), Some(0));
        assert!(device.clock.uncertainty() < BEYOND_DRIVER + MS);
    }

    #[test]
    fn a_young_stream_says_that_it_is() {
        let mut device = Device::new();
        device.run(100);
        assert!(device.clock.uncertainty() >= UNREPORTED + 2 * BUFFER);
    }

    /// What waits is moved by what the clock has learnt since it was laid, so that
    /// it leaves at its time; rounding does not add up.
    #[test]
    fn what_waits_is_told_to_move_with_the_clock() {
        let mut device = Device::new();
        device.run(200);
        device.clock.moved();
        let at = device.start + Duration::from_secs(5);
        let mut laid = device.clock.frame_at(at) as i64;
        for gap_us in [10_000, 7, 13_000, 5, 11, 3] {
            device.gap += Duration::from_micros(gap_us);
            for _ in 0..30 {
                device.bring(Duration::ZERO, Duration::ZERO);
                laid += device.clock.moved();
            }
        }
        assert!((device.clock.frame_at(at) as i64 - laid).abs() <= 1);
        assert_eq!(device.clock.moved(), 0);
    }

    /// How PulseAudio 16.1 let its figures wander when it was busy while a stream
    /// was opened, as recorded here.
    fn wandering_ms(s: f64) -> f64 {
        const SEEN: [(f64, f64); 12] = [
            (0.0, -2.4),
            (0.3, -2.1),
            (0.6, -1.6),
            (1.0, -0.2),
            (1.6, 2.0),
            (2.5, 4.0),
            (3.5, 6.0),
            (4.5, 5.9),
            (5.5, 6.8),
            (7.0, 4.2),
            (9.0, 2.2),
            (11.0, 1.4),
        ];
        SEEN.windows(2).find(|pair| s < pair[1].0).map_or_else(
            || 1.4 * (-(s - 11.0) / 4.0).exp(),
            |pair| {
                let ((a, from), (b, to)) = (pair[0], pair[1]);
                from + (to - from) * (s - a) / (b - a)
            },
        )
    }

    #[test]
    fn figures_that_wander_are_not_followed() {
        let mut device = Device::new();
        device.wander_ms = wandering_ms;
        device.run(8);
        for n in 0..2000u32 {
            let out = device.bring(n % 3 * 5 * MS, Duration::ZERO);
            let within = if n < 75 { 2500 } else { 1300 };
            assert!(out < Duration::from_micros(within), "{n}: {out:?}");
        }
        let out = device.bring(Duration::ZERO, Duration::ZERO);
        assert!(out < MS / 5, "in the end they are right: {out:?}");
    }

    #[test]
    fn a_device_that_runs_faster_is_kept_up_with() {
        let mut device = Device::new();
        device.fast_ppm = 200;
        device.run(100);
        for n in 0..3000u32 {
            let out = device.bring(n % 3 * 5 * MS, Duration::ZERO);
            assert!(out < MS / 5, "{n}: {out:?}");
        }
    }

    /// Seen when another program let go of the same device: the sound goes on as it
    /// did.
    #[test]
    fn buffers_that_are_asked_for_sooner_or_later_move_nothing() {
        let mut device = Device::new();
        device.run(205);
        for sooner_ms in [0, 16, 3, 0, 12] {
            device.sooner = sooner_ms * MS;
            for _ in 0..100 {
                let out = device.bring(Duration::ZERO, Duration::ZERO);
                assert!(out < MS / 10, "{sooner_ms}: {out:?}");
            }
        }
    }

    /// As when the system's usual device becomes another one.
    #[test]
    fn a_figure_far_from_the_one_before_is_believed() {
        let mut device = Device::new();
        device.run(400);
        device.wander_ms = |_| 140.0;
        device.run(20);
        assert!(device.bring(Duration::ZERO, Duration::ZERO) > 139 * MS);
    }

    #[test]
    fn a_break_that_the_driver_tells_is_believed_at_once() {
        let mut device = Device::new();
        device.run(200);
        device.gap += 300 * MS;
        device.clock.broke_off();
        let out = device.bring(Duration::ZERO, Duration::ZERO);
        assert!(out < MS / 10, "{out:?}");
    }

    #[test]
    fn without_a_reported_latency_the_uncertainty_says_so() {
        let mut clock = StreamClock::new(RATE_HZ);
        let start = Instant::now();
        for n in 0..200u32 {
            let frame = u64::from(n) * FRAMES;
            clock.buffer(frame, FRAMES as usize, start + n * BUFFER, Duration::ZERO);
        }
        assert_eq!(clock.uncertainty(), 2 * BUFFER + UNREPORTED);
    }

    proptest! {
        /// Silence that nobody tells of, as sound servers were seen to make; and
        /// some of a buffer that was lost.
        #[test]
        fn a_step_that_nobody_tells_is_followed_within_half_a_second(
            before in 30u32..300,
            gap_ms in 3u32..200,
            late_ms in 0u32..4,
        ) {
            let mut device = Device::new();
            for n in 0..before {
                device.bring(n % 3 * late_ms * MS, Duration::ZERO);
            }
            device.gap += gap_ms * MS;
            device.run(23);
            let out = device.bring(Duration::ZERO, Duration::ZERO);
            prop_assert!(out < MS / 10, "{:?}", out);
        }

        /// However often the sound thread is held up, in less than half of the
        /// buffers, the time stays exact; and the uncertainty grows when it is
        /// held up often.
        #[test]
        fn a_thread_that_is_held_up_moves_nothing(
            held_up_ms in proptest::collection::vec(0u32..60, 60),
        ) {
            let mut device = Device::new();
            device.run(200);
            for (n, ms) in held_up_ms.into_iter().enumerate() {
                let held_up = if n % 5 < 2 { ms * MS } else { Duration::ZERO };
                let out = device.bring(Duration::ZERO, held_up);
                prop_assert!(out < MS / 10, "{:?}", out);
            }
        }
    }
}
