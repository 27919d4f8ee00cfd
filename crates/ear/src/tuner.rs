//! A tuner: the pitch of one plucked string, steady to about a cent.
//!
//! **What pitch is here.** The partials of a stiff string lie a little wide: the
//! n-th at `n f √(1 + B n²)` (Fletcher, JASA 36:203, 1964). The pitch is the
//! frequency of the first of them, `f √(1 + B)`: the one that two strings in
//! unison have in common, and the one that the program's own tones are made to.
//! It is read off the whole row of partials, because many microphones take the
//! first one in badly (`partials`).
//!
//! A reading needs one string alone. Two at once are refused, unless their
//! partials fall together: a string and its octave in tune are one row.

mod partials;

use fifthpeg_core::{Pitch, Reference};

use crate::decimate::Decimator;
use crate::period::Periods;
use crate::{EarDoubt, EarError};
use partials::{Row, Spectra};

/// Lowest and highest string, in hertz: a semitone beyond E1 and C7.
const LOWEST_HZ: f64 = 38.0;
const HIGHEST_HZ: f64 = 2_250.0;
/// Sound that is kept, in milliseconds: the most that one reading rests on.
const KEPT_MS: f64 = 300.0;
/// Sound of a pluck that is needed, in milliseconds, and what of its beginning
/// is left out: the pick's noise, and the string drawn tight.
const NEEDED_MS: f64 = 130.0;
const ATTACK_MS: f64 = 20.0;
/// From one reading to the next.
const HOP_MS: f64 = 25.0;
/// Stretch in which the period is looked for.
const PERIOD_MS: f64 = 100.0;
/// Softer than this is silence, in dB re full scale.
const SILENCE_DB: f64 = -65.0;
/// A rise by this much from one hop to the next but one is a new pluck.
const PLUCK_DB: f64 = 5.0;
/// How clear the period must be.
const CLEAR: f64 = 0.5;
/// Readings of one pluck whose middle one is told.
const READINGS: usize = 5;

/// What a string is tuned to at the moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// Frequency of the first partial, in hertz.
    pub frequency_hz: f64,
    /// The nearest note at the tuner's reference.
    pub pitch: Pitch,
    /// How far the string lies above that note, in cents: 50 either way.
    pub cents: f64,
    /// Level, in dB re full scale.
    pub level_db: f64,
    /// Sample position up to which was heard.
    pub at: u64,
}

/// Reads the pitch of one string at a time.
pub struct Tuner {
    decimator: Decimator,
    reference: Reference,
    rate_hz: f64,
    skipped: u64,
    taken: u64,
    hop: usize,
    until_look: usize,
    /// The last samples, oldest first.
    kept: Vec<f32>,
    /// How many of them belong to this pluck, its attack left out.
    of_pluck: usize,
    attack_left: usize,
    levels_db: [f64; 3],
    periods: Periods,
    spectra: Spectra,
    readings: Vec<f64>,
    reading: Option<Reading>,
    doubt: Option<EarDoubt>,
}

impl Tuner {
    /// For a microphone of this rate, and an A4.
    ///
    /// # Errors
    /// [`EarError::Rate`] outside 16000 to 192000 Hz.
    pub fn new(sample_rate_hz: u32, reference: Reference) -> Result<Tuner, EarError> {
        if !(16_000..=192_000).contains(&sample_rate_hz) {
            return Err(EarError::Rate {
                rate_hz: sample_rate_hz,
            });
        }
        let decimator = Decimator::new(f64::from(sample_rate_hz));
        let rate_hz = f64::from(sample_rate_hz) / decimator.factor() as f64;
        let samples = |ms: f64| (ms * rate_hz / 1000.0).round() as usize;
        let hop = samples(HOP_MS);
        Ok(Tuner {
            decimator,
            reference,
            rate_hz,
            skipped: 0,
            taken: 0,
            hop,
            until_look: hop,
            kept: vec![0.0; samples(KEPT_MS)],
            of_pluck: 0,
            attack_left: 0,
            levels_db: [f64::NEG_INFINITY; 3],
            periods: Periods::new(
                samples(PERIOD_MS),
                (rate_hz / HIGHEST_HZ) as usize,
                (rate_hz / LOWEST_HZ) as usize + 1,
            ),
            spectra: Spectra::new(rate_hz, samples(KEPT_MS)),
            readings: Vec::with_capacity(READINGS),
            reading: None,
            doubt: None,
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
            let at = self.kept.len() - self.until_look;
            self.kept[at] = kept;
            self.until_look -= 1;
            if self.until_look == 0 {
                self.step();
                self.kept.copy_within(self.hop.., 0);
                self.until_look = self.hop;
            }
        }
    }

    /// The string that rings now; `None` until a pluck has rung for about 150
    /// ms, and while the tuner is in doubt.
    pub fn reading(&self) -> Option<Reading> {
        self.reading
    }

    /// Why there is no reading although something sounds.
    pub fn doubt(&self) -> Option<EarDoubt> {
        self.doubt
    }

    /// Samples heard and skipped so far.
    pub fn position(&self) -> u64 {
        self.skipped + self.taken
    }

    /// Samples were lost: the next pluck is waited for.
    pub fn skip(&mut self, samples: u64) {
        self.skipped += samples;
        self.decimator.forget();
        self.levels_db = [f64::NEG_INFINITY; 3];
        self.begin(0);
        self.of_pluck = 0;
    }

    /// Looks at what the last hop brought.
    fn step(&mut self) {
        let newest = &self.kept[self.kept.len() - self.hop..];
        let level_db = level_db(newest);
        let [before, _, _] = self.levels_db;
        self.levels_db.rotate_left(1);
        self.levels_db[2] = level_db;
        if level_db < SILENCE_DB {
            self.begin(0);
            return;
        }
        if level_db > before.max(SILENCE_DB) + PLUCK_DB {
            // One pluck is not taken for two because it rises over two hops.
            self.levels_db = [level_db; 3];
            self.begin((ATTACK_MS * self.rate_hz / 1000.0) as usize);
            return;
        }
        let after_attack = self.hop.saturating_sub(self.attack_left);
        self.attack_left = self.attack_left.saturating_sub(self.hop);
        self.of_pluck = (self.of_pluck + after_attack).min(self.kept.len());
        if (self.of_pluck as f64) < NEEDED_MS * self.rate_hz / 1000.0 {
            return;
        }
        match self.read() {
            Ok(row) => {
                if self.readings.len() == READINGS {
                    self.readings.remove(0);
                }
                self.readings.push(row.first_hz);
                self.doubt = None;
                self.reading = self.told(level_db);
            }
            Err(doubt) => {
                self.readings.clear();
                self.reading = None;
                self.doubt = Some(doubt);
            }
        }
    }

    fn begin(&mut self, attack: usize) {
        self.of_pluck = 0;
        self.attack_left = attack;
        self.readings.clear();
        self.reading = None;
        self.doubt = None;
    }

    fn read(&mut self) -> Result<Row, EarDoubt> {
        let end = self.kept.len();
        let period_length = (PERIOD_MS * self.rate_hz / 1000.0).round() as usize;
        self.periods.look(&self.kept[end - period_length..]);
        let peak = self
            .periods
            .chosen()
            .filter(|peak| peak.clarity >= CLEAR)
            .ok_or(EarDoubt::NoClearPitch)?;
        let period = self.periods.refined(peak).period;
        self.spectra.look(&self.kept[end - self.of_pluck..]);
        // A strong overtone may look like the string itself: then what lies
        // below it is left over, and a row further down explains it. The other way
        // round, a row that lies too low has gaps.
        let found = self.rate_hz / period;
        let others = [found / 2.0, found / 3.0, found * 2.0, found * 3.0];
        let mut first_doubt = None;
        for hz in [found]
            .into_iter()
            .chain(others)
            .chain([self.spectra.loudest_hz()])
        {
            if !(LOWEST_HZ..=HIGHEST_HZ).contains(&hz) {
                continue;
            }
            match self.spectra.row(hz) {
                Ok(row) => return Ok(row),
                Err(doubt) => first_doubt = first_doubt.or(Some(doubt)),
            }
        }
        Err(first_doubt.unwrap_or(EarDoubt::NoClearPitch))
    }

    fn told(&self, level_db: f64) -> Option<Reading> {
        let mut sorted = [0.0; READINGS];
        let sorted = &mut sorted[..self.readings.len()];
        sorted.copy_from_slice(&self.readings);
        sorted.sort_unstable_by(f64::total_cmp);
        let frequency_hz = *sorted.get(sorted.len() / 2)?;
        let (pitch, cents) = Pitch::nearest(frequency_hz, self.reference)?;
        Some(Reading {
            frequency_hz,
            pitch,
            cents,
            level_db,
            at: self.position(),
        })
    }
}

fn level_db(samples: &[f32]) -> f64 {
    let square = |x: &f32| f64::from(*x) * f64::from(*x);
    let power = samples.iter().map(square).sum::<f64>() / samples.len() as f64;
    10.0 * power.max(1e-20).log10()
}

#[cfg(test)]
mod tests;
