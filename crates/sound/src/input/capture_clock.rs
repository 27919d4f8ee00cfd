//! Which frame of a running microphone was in the air when.
//!
//! Two things are known of each buffer: when it came, and how old the driver says
//! it is. Arrivals can only be late, never early, so their lower envelope is a
//! steady line; what lies before that line is the driver's latency, taken as the
//! median of what it reported lately. A figure alone is not trusted: a sound
//! server's first ones are guesses (PulseAudio's were seen to be half a second
//! out for up to two seconds, then to slide to the truth).
//!
//! Lost sound shows as a line that has moved for good: no buffer comes as early
//! as it should any more.

use std::collections::VecDeque;
use std::time::{Duration, Instant};

/// Figures of a stream this young are not believed.
const YOUNG: Duration = Duration::from_secs(3);
/// How many figures the median is of: some two seconds of them.
const FIGURES: usize = 128;
/// And how many it needs.
const ENOUGH: usize = 24;
/// No latency is this long, in seconds: such a figure is of another clock. Bluetooth,
/// the slowest in use, stays under half a second (common practice, no source).
const BEYOND_BELIEF_S: f64 = 2.0;
/// A line that has moved this much has lost sound.
const BROKE_OFF_S: f64 = 0.02;
/// That is looked for over stretches of this much sound.
const STRETCH: Duration = Duration::from_millis(300);
/// How fast the line may rise, so that it follows crystals that disagree: more
/// than any two do (100 ppm each, common practice, no source).
const RISE: f64 = 0.0005;
/// Converter and cable, which no driver reports. An estimate, no source.
const BEYOND_DRIVER: Duration = Duration::from_millis(5);
/// The same where no latency is known at all.
const UNREPORTED: Duration = Duration::from_millis(20);

/// Learns from each buffer.
#[derive(Debug)]
pub(super) struct CaptureClock {
    rate_hz: f64,
    line: Option<Line>,
    /// What the driver's latency was, by each figure, in seconds.
    figures: VecDeque<f64>,
    sorted: Vec<f64>,
    /// Their median, and how far nine tenths of them are from it at most.
    latency_s: Option<(f64, f64)>,
    /// Figures count from this frame on.
    young_until: u64,
}

/// Arrivals against frames.
#[derive(Debug)]
struct Line {
    origin: Instant,
    /// After `origin`: when frame zero would have arrived whole, were no buffer
    /// ever late.
    arrival_s: f64,
    came_s: f64,
    buffer_s: f64,
    /// The earliest such arrival in this stretch, and where the stretch ends.
    earliest_s: f64,
    stretch_ends: u64,
}

impl CaptureClock {
    pub(super) fn new(rate_hz: u32) -> CaptureClock {
        CaptureClock {
            rate_hz: f64::from(rate_hz.max(1)),
            line: None,
            figures: VecDeque::with_capacity(FIGURES),
            sorted: Vec::with_capacity(FIGURES),
            latency_s: None,
            young_until: 0,
        }
    }

    /// A buffer came at `now`, of which `frame` would be the first if nothing was
    /// lost since the last; the driver says that it was taken in `age` ago (zero:
    /// it says nothing). Gives its first frame with losses counted in.
    pub(super) fn buffer(&mut self, frame: u64, frames: usize, now: Instant, age: Duration) -> u64 {
        let buffer_s = frames as f64 / self.rate_hz;
        let stretch = self.frames_in(STRETCH);
        let Some(line) = &mut self.line else {
            self.line = Some(Line {
                origin: now,
                arrival_s: -(frame as f64 / self.rate_hz + buffer_s),
                came_s: 0.0,
                buffer_s,
                earliest_s: f64::MAX,
                stretch_ends: frame + stretch,
            });
            self.young_until = frame + self.frames_in(YOUNG);
            return frame;
        };
        let mut frame = frame;
        let came_s = now.saturating_duration_since(line.origin).as_secs_f64();
        let mut arrival_s = came_s - (frame as f64 / self.rate_hz + buffer_s);
        line.arrival_s += RISE * (came_s - line.came_s).max(0.0);
        line.came_s = came_s;
        line.buffer_s = buffer_s;
        line.earliest_s = line.earliest_s.min(arrival_s);
        let mut began_anew = false;
        if frame >= line.stretch_ends {
            let moved_s = line.earliest_s - line.arrival_s;
            if moved_s > BROKE_OFF_S {
                let lost = (moved_s * self.rate_hz) as u64;
                frame += lost;
                arrival_s -= lost as f64 / self.rate_hz;
                began_anew = true;
            }
            line.earliest_s = f64::MAX;
            line.stretch_ends = frame + stretch;
        }
        line.arrival_s = line.arrival_s.min(arrival_s);
        let late_s = arrival_s - line.arrival_s;
        if began_anew {
            // The device is the same, and so is its latency; the figures that
            // come next are guesses again.
            self.young_until = frame + self.frames_in(YOUNG);
        } else if !age.is_zero() && frame >= self.young_until && late_s < BROKE_OFF_S {
            // A buffer later than that may prove to follow a loss.
            self.figure(age.as_secs_f64() - buffer_s - late_s);
        }
        frame
    }

    fn figure(&mut self, latency_s: f64) {
        if latency_s.abs() > BEYOND_BELIEF_S {
            return;
        }
        if self.figures.len() == FIGURES {
            self.figures.pop_front();
        }
        self.figures.push_back(latency_s);
        if self.figures.len() < ENOUGH {
            return;
        }
        self.sorted.clear();
        self.sorted.extend(&self.figures);
        self.sorted.sort_by(f64::total_cmp);
        let median_s = self.sorted[self.sorted.len() / 2];
        for figure in &mut self.sorted {
            *figure = (*figure - median_s).abs();
        }
        self.sorted.sort_by(f64::total_cmp);
        let scatter_s = self.sorted[self.sorted.len() * 9 / 10];
        self.latency_s = Some((median_s, scatter_s));
    }

    /// When a frame was in the air.
    pub(super) fn time_of(&self, frame: u64) -> Instant {
        let Some(line) = &self.line else {
            return Instant::now();
        };
        let latency_s = self.latency_s.map_or(0.0, |(median_s, _)| median_s);
        let at_s = line.arrival_s + frame as f64 / self.rate_hz - latency_s;
        let by = Duration::from_secs_f64(at_s.abs());
        if at_s >= 0.0 {
            line.origin + by
        } else {
            line.origin.checked_sub(by).unwrap_or(line.origin)
        }
    }

    /// How far [`Self::time_of`] may be out, as the page of the microphone says.
    pub(super) fn uncertainty(&self) -> Duration {
        match (self.latency_s, &self.line) {
            (Some((_, scatter_s)), _) => Duration::from_secs_f64(scatter_s) + BEYOND_DRIVER,
            (None, Some(line)) => Duration::from_secs_f64(2.0 * line.buffer_s) + UNREPORTED,
            (None, None) => UNREPORTED,
        }
    }

    fn frames_in(&self, span: Duration) -> u64 {
        (span.as_secs_f64() * self.rate_hz) as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RATE_HZ: u32 = 48_000;
    const FRAMES: u64 = 960;
    const BUFFER_S: f64 = 0.02;

    /// A microphone whose sound is `latency_s` old when a buffer is filled.
    struct Device {
        start: Instant,
        clock: CaptureClock,
        latency_s: f64,
        n: u64,
        /// Frames that the driver has lost, and that the clock has found lost.
        lost: u64,
        found: u64,
    }

    impl Device {
        fn new(latency_s: f64) -> Device {
            Device {
                start: Instant::now() + Duration::from_secs(5),
                clock: CaptureClock::new(RATE_HZ),
                latency_s,
                n: 0,
                lost: 0,
                found: 0,
            }
        }

        /// Brings a buffer `late_s` too late, its age told `wrong_s` too high;
        /// how far the clock is out for its first frame, in seconds, and what
        /// it says of that.
        fn bring(&mut self, late_s: f64, wrong_s: f64, reports: bool) -> (f64, f64) {
            let counted = self.n * FRAMES;
            self.n += 1;
            let truly_s = (counted + self.lost) as f64 / f64::from(RATE_HZ);
            let age_s = BUFFER_S + self.latency_s + late_s + wrong_s;
            let now =
                self.start + Duration::from_secs_f64(truly_s + BUFFER_S + self.latency_s + late_s);
            let age = if reports {
                Duration::from_secs_f64(age_s)
            } else {
                Duration::ZERO
            };
            let expected = counted + self.found;
            let frame = self.clock.buffer(expected, FRAMES as usize, now, age);
            self.found += frame - expected;
            let told = self.clock.time_of(frame);
            let truly = self.start + Duration::from_secs_f64(truly_s);
            let error_s = told
                .max(truly)
                .duration_since(told.min(truly))
                .as_secs_f64();
            (error_s, self.clock.uncertainty().as_secs_f64())
        }
    }

    #[test]
    fn ages_by_another_clock_are_not_believed() {
        let mut device = Device::new(0.03);
        for n in 0..400 {
            let (error_s, uncertainty_s) = device.bring(0.0, 3600.0, true);
            assert!(error_s < uncertainty_s, "{n}: {error_s}");
        }
    }

    #[test]
    fn a_reported_latency_is_subtracted_once_it_is_believed() {
        let mut device = Device::new(0.03);
        for n in 0..400 {
            let (error_s, uncertainty_s) = device.bring(0.0, 0.0, true);
            assert!(error_s < uncertainty_s, "{n}: {error_s}");
            if n > 180 {
                assert!(error_s < 1e-3 && uncertainty_s < 0.006, "{n}: {error_s}");
            }
        }
    }

    #[test]
    fn first_figures_half_a_second_out_do_no_harm() {
        let mut device = Device::new(0.01);
        for n in 0..1000u32 {
            // Half a second too old for two seconds, then sliding to the truth.
            let wrong_s = (0.5 - f64::from(n.saturating_sub(100)) * BUFFER_S).max(0.0);
            let (error_s, uncertainty_s) = device.bring(0.0, wrong_s, true);
            assert!(error_s < uncertainty_s, "{n}: {error_s} {uncertainty_s}");
        }
    }

    #[test]
    fn lost_sound_is_found_and_counted() {
        let mut device = Device::new(0.01);
        for _ in 0..300 {
            device.bring(0.0, 0.0, true);
        }
        device.lost = 9600;
        for _ in 0..40 {
            device.bring(0.0, 0.0, true);
        }
        assert!(device.found.abs_diff(9600) < 100, "{}", device.found);
        let (error_s, uncertainty_s) = device.bring(0.0, 0.0, true);
        assert!(error_s < 0.001 && uncertainty_s < 0.01, "{error_s}");
    }

    proptest! {
        /// However late single buffers come, no sound is taken for lost, and the
        /// time stays within its uncertainty; with a driver that reports and
        /// with one that does not.
        #[test]
        fn late_buffers_move_nothing(
            late_ms in proptest::collection::vec(prop_oneof![3 => Just(0.0), 1 => 0.0f64..40.0], 300),
            latency_ms in 0.0f64..15.0,
            reports in any::<bool>(),
        ) {
            let mut device = Device::new(latency_ms / 1000.0);
            let (mut stall_s, mut begun) = (0.0f64, false);
            for late in late_ms {
                // A buffer cannot come before the one that is late before it.
                stall_s = (stall_s - BUFFER_S).max(late / 1000.0);
                begun |= stall_s == 0.0;
                let (error_s, uncertainty_s) = device.bring(stall_s, 0.0, reports);
                if begun {
                    prop_assert!(error_s < uncertainty_s, "{} {}", error_s, uncertainty_s);
                }
            }
        }
    }
}
