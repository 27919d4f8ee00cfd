//! A sung voice: its pitch as it goes, and each note that is held.
//!
//! Every 10 ms the period of the last 36 ms is looked for
//! (`period`); the row of pitches is then searched for
//! stretches that stay, vibrato apart (`held`).
//!
//! A plucked string holds its pitch as well, but it dies away from the moment
//! it is let go, and it does so with a steadier pitch than a voice has: such
//! stretches are left out. Instruments that hold a steady tone (a flute, a
//! fiddle, a drone) cannot be told from a voice and are heard as one.

mod held;
mod track;

use std::collections::VecDeque;

use crate::EarError;
use crate::decimate::Decimator;
use crate::period::{Peak, Periods};
use held::{Finder, HeldNote};
use track::{Point, Track};

/// Lowest and highest voice that is followed, in hertz.
const LOWEST_HZ: f64 = 65.0;
const HIGHEST_HZ: f64 = 1200.0;
/// Length of the stretch in which a period is looked for, in milliseconds: more
/// than two periods of the lowest voice.
const STRETCH_MS: f64 = 36.0;
/// And length in which a high voice's period is then measured: a vibrato changes
/// loudness along with pitch, so that a long stretch leans to one side.
const SHORT_MS: f64 = 12.0;
const HIGH_HZ: f64 = 300.0;
/// From one look to the next.
const HOP_MS: f64 = 10.0;
/// Partials above this are taken out: they hold more breath than voice.
const BRIGHTEST_HZ: f64 = 2_500.0;
/// How clear a period must be to begin and to go on (white noise stays under
/// 0.4 at this length).
const CLEAR_TO_BEGIN: f64 = 0.75;
const CLEAR_TO_GO_ON: f64 = 0.6;
/// Softer than this is silence, in dB re full scale.
const SILENCE_DB: f64 = -70.0;
/// A leap of the voice is believed after so many looks; one that goes back
/// sooner was a mistaken octave.
const LOOKS_TO_LEAP: usize = 4;
/// A smaller step than this is no leap, in cents.
const LEAP_CENTS: f64 = 300.0;
/// Notes that wait to be polled.
const MOST_WAITING: usize = 8;

/// A note that was sung and held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sung {
    /// The pitch in the middle of the vibrato, in hertz: the mean of the
    /// pitch in cents, which is what listeners hear (Shonle and Horan, JASA
    /// 67:246, 1980; from memory).
    pub frequency_hz: f64,
    /// How far the voice strayed from it, in cents: one standard deviation,
    /// vibrato included.
    pub spread_cents: f64,
    /// Sample position where the note began to be held.
    pub from: u64,
    /// Sample position up to which it was held. A note that lasts longer than
    /// a second is told after that second.
    pub until: u64,
}

/// Follows a voice.
#[derive(Debug, Clone)]
pub struct Singer {
    decimator: Decimator,
    filter: [Biquad; 2],
    rate_hz: f64,
    /// Input samples before the first one that the filters know.
    skipped: u64,
    taken: u64,
    kept: u64,
    hop: usize,
    until_look: usize,
    stretch: Vec<f32>,
    periods: Periods,
    short: Periods,
    short_length: usize,
    track: Track,
    /// Looks that leapt away from the track and wait to be believed.
    leapt: usize,
    unclear: usize,
    finder: Finder,
    waiting: VecDeque<Sung>,
}

impl Singer {
    /// For a microphone of this rate.
    ///
    /// # Errors
    /// [`EarError::Rate`] outside 16000 to 192000 Hz.
    pub fn new(sample_rate_hz: u32) -> Result<Singer, EarError> {
        if !(16_000..=192_000).contains(&sample_rate_hz) {
            return Err(EarError::Rate {
                rate_hz: sample_rate_hz,
            });
        }
        let decimator = Decimator::new(f64::from(sample_rate_hz));
        let rate_hz = f64::from(sample_rate_hz) / decimator.factor() as f64;
        let samples = |ms: f64| (ms * rate_hz / 1000.0).round() as usize;
        let length = samples(STRETCH_MS);
        let longest = (rate_hz / LOWEST_HZ).ceil() as usize + 1;
        let shortest = (rate_hz / HIGHEST_HZ * 0.95).floor() as usize;
        let hop = samples(HOP_MS);
        let short_length = samples(SHORT_MS);
        Ok(Singer {
            decimator,
            filter: Biquad::low_pass_4(BRIGHTEST_HZ, rate_hz),
            rate_hz,
            skipped: 0,
            taken: 0,
            kept: 0,
            hop,
            until_look: length,
            stretch: vec![0.0; length],
            periods: Periods::new(length, shortest, longest),
            short: Periods::new(short_length, shortest, short_length / 2),
            short_length,
            track: Track::new(hop as f64 / rate_hz),
            leapt: 0,
            unclear: 0,
            finder: Finder::new(hop as f64 / rate_hz),
            waiting: VecDeque::with_capacity(MOST_WAITING),
        })
    }

    /// Hears samples, full scale 1.0, in blocks of any length. Allocates nothing.
    pub fn hear(&mut self, samples: &[f32]) {
        for sample in samples {
            self.taken += 1;
            let sample = if sample.is_finite() { *sample } else { 0.0 };
            let Some(kept) = self.decimator.push(sample) else {
                continue;
            };
            let mut x = f64::from(kept);
            for stage in &mut self.filter {
                x = stage.push(x);
            }
            self.keep(x as f32);
        }
    }

    /// The next note that was held.
    pub fn poll(&mut self) -> Option<Sung> {
        self.waiting.pop_front()
    }

    /// The voice now, in hertz, the last fifth of a second taken together;
    /// `None` while nobody sings.
    pub fn current(&self) -> Option<f64> {
        self.finder.current(&self.track).map(hz_of)
    }

    /// Samples heard and skipped so far.
    pub fn position(&self) -> u64 {
        self.skipped + self.taken
    }

    /// Samples were lost: the positions move on, and no note reaches across.
    pub fn skip(&mut self, samples: u64) {
        self.end_of_voice();
        self.skipped += samples + self.taken;
        self.taken = 0;
        self.kept = 0;
        self.until_look = self.stretch.len();
        self.decimator.forget();
        for stage in &mut self.filter {
            stage.forget();
        }
    }

    fn keep(&mut self, sample: f32) {
        self.kept += 1;
        let at = self.stretch.len() - self.until_look;
        self.stretch[at] = sample;
        self.until_look -= 1;
        if self.until_look == 0 {
            self.look();
            // The stretch is short: moving it is cheaper than looking round a ring.
            self.stretch.copy_within(self.hop.., 0);
            self.until_look = self.hop;
        }
    }

    fn look(&mut self) {
        let power: f64 = self
            .stretch
            .iter()
            .map(|x| f64::from(*x) * f64::from(*x))
            .sum::<f64>()
            / self.stretch.len() as f64;
        let level_db = 10.0 * power.max(1e-20).log10();
        self.periods.look(&self.stretch);
        let needed = if self.track.is_empty() {
            CLEAR_TO_BEGIN
        } else {
            CLEAR_TO_GO_ON
        };
        let clear = self
            .periods
            .chosen()
            .filter(|peak| level_db > SILENCE_DB && peak.clarity >= needed);
        let Some(peak) = clear else {
            self.unclear += 1;
            self.track.pass();
            if self.unclear > LOOKS_TO_LEAP {
                self.end_of_voice();
            }
            return;
        };
        self.unclear = 0;
        let hz = self.rate_hz / self.measured(peak).period;
        if !(LOWEST_HZ * 0.97..=HIGHEST_HZ * 1.03).contains(&hz) {
            self.track.pass();
            return;
        }
        let cents = cents_of(hz);
        let before = self.track.last_cents();
        if before.is_some_and(|before| (cents - before).abs() > LEAP_CENTS) {
            self.leapt += 1;
            if self.leapt <= LOOKS_TO_LEAP {
                self.track.pass();
                return;
            }
            self.end_of_voice();
        } else if self.track.jumps_up_in_level(level_db) {
            self.end_of_voice();
        }
        self.leapt = 0;
        self.track.push(Point {
            cents,
            level_db,
            position: self.middle_of_stretch(),
        });
        if let Some(note) = self.finder.step(&self.track) {
            self.tell(note);
        }
    }

    /// The period of a peak, as exactly as can be.
    fn measured(&mut self, peak: Peak) -> Peak {
        let whole = self.periods.refined(peak);
        if whole.period > self.rate_hz / HIGH_HZ {
            return whole;
        }
        let from = (self.stretch.len() - self.short_length) / 2;
        let middle = &self.stretch[from..from + self.short_length];
        let near = |other: &&Peak| (other.period / whole.period - 1.0).abs() < 0.06;
        let found = self.short.look(middle).iter().find(near).copied();
        found.map_or(whole, |peak| self.short.refined(peak))
    }

    fn middle_of_stretch(&self) -> u64 {
        let lag = self.stretch.len() as f64 / 2.0 + self.decimator.delay();
        let kept = (self.kept as f64 - lag).max(0.0);
        self.skipped + (kept * self.decimator.factor() as f64) as u64
    }

    fn end_of_voice(&mut self) {
        if let Some(note) = self.finder.finish(&self.track) {
            self.tell(note);
        }
        self.track.clear();
        self.leapt = 0;
    }

    fn tell(&mut self, note: HeldNote) {
        if self.waiting.len() == MOST_WAITING {
            self.waiting.pop_front();
        }
        self.waiting.push_back(Sung {
            frequency_hz: hz_of(note.cents),
            spread_cents: note.spread_cents,
            from: note.from,
            until: note.until,
        });
    }
}

/// Cents above 1 Hz.
fn cents_of(hz: f64) -> f64 {
    1200.0 * hz.log2()
}

fn hz_of(cents: f64) -> f64 {
    (cents / 1200.0).exp2()
}

/// A filter of second order, in the form that Bristow-Johnson's "Audio EQ
/// Cookbook" gives.
#[derive(Debug, Clone)]
struct Biquad {
    b: [f64; 3],
    a: [f64; 2],
    state: [f64; 2],
}

impl Biquad {
    /// A Butterworth low-pass of fourth order in two stages.
    fn low_pass_4(cut_hz: f64, rate_hz: f64) -> [Biquad; 2] {
        [0.541_196_1, 1.306_563].map(|q| {
            let turn = std::f64::consts::TAU * cut_hz / rate_hz;
            let (sin, cos) = turn.sin_cos();
            let alpha = sin / (2.0 * q);
            let a0 = 1.0 + alpha;
            let b = (1.0 - cos) / 2.0 / a0;
            Biquad {
                b: [b, 2.0 * b, b],
                a: [-2.0 * cos / a0, (1.0 - alpha) / a0],
                state: [0.0; 2],
            }
        })
    }

    fn push(&mut self, x: f64) -> f64 {
        let y = self.b[0] * x + self.state[0];
        self.state[0] = self.b[1] * x - self.a[0] * y + self.state[1];
        self.state[1] = self.b[2] * x - self.a[1] * y;
        y
    }

    fn forget(&mut self) {
        self.state = [0.0; 2];
    }
}

#[cfg(test)]
mod tests;
