//! Where something begins.
//!
//! Detection is by spectral flux: the rise of the logarithm of the spectrum from
//! one moment to a little later, summed over the bins that rise (S. Dixon, "Onset
//! detection revisited", DAFx 2006; J. P. Bello et al., "A tutorial on onset
//! detection in music signals", IEEE Trans. Speech and Audio Processing 13:5,
//! 2005), each bin against the loudest of its neighbours before (S. Böck and G.
//! Widmer, "Maximum filter vibrato suppression for onset detection", DAFx 2013)
//! and against its noise floor. The moment itself is then looked for in a fine
//! envelope.

use crate::floor::Floor;
use crate::ring::Ring;
use crate::spectrum::{Spectrum, greater, lesser};

/// Samples (decimated) in a block of the fine envelopes: about 0.7 ms.
pub(crate) const BLOCK: usize = 8;
/// Blocks in a step of the flux: about 2.7 ms.
const BLOCKS: usize = 4;
/// Samples (decimated) in a step.
pub(crate) const STEP: usize = BLOCK * BLOCKS;
/// Samples (decimated) in the spectrum of a step.
const WINDOW: usize = 256;
/// Steps between the two spectra that are compared.
const LAG: usize = 4;
/// Steps a peak of the flux is waited upon before it counts.
const LOOK_AHEAD: usize = 3;
/// Steps before, within which no higher flux may lie.
const LOOK_BACK: usize = 6;
/// Steps whose flux tells what is usual.
const USUAL: usize = 160;
/// A bin counts from about this many times its floor's power.
const ABOVE_FLOOR: f32 = 4.0;

/// How much a rise of the treble counts beside that of the bins.
const TREBLE_WEIGHT: f32 = 1.0;
/// Flux below this is nothing, whatever is usual.
const LEAST_FLUX: f32 = 0.8;
/// The usual variation of the flux is taken to be no less than this.
const LEAST_SPREAD: f32 = 0.08;
/// How far a peak must stand above what is usual.
const LEAST_STRENGTH: f32 = 5.0;

/// Steps before the peak of the flux at which the sound was as before.
const BEFORE: usize = 9;
/// Share of noise below which the envelope shows every attack,
const LITTLE_NOISE: f32 = 0.1;
/// and how far it then must rise, as a ratio of power.
const LEAST_RISE: f32 = 1.75;
/// unless so much of the spectrum rises that nothing but an attack can be it.
const SURE_STRENGTH: f32 = 15.0;

/// Something began.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Onset {
    /// Where, in decimated samples (before the decimator's delay is taken off).
    pub at: f64,
    /// How far that may be out either way, in decimated samples.
    pub uncertainty: f64,
    /// Flux above what is usual, as a multiple of what chance gives.
    pub strength: f32,
    /// How far the fine envelope rises there, as a ratio of power.
    pub rise: f32,
}

/// Attacks that followed an onset so closely that they were taken for the same.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct After {
    pub count: u32,
    pub strongest: f32,
}

impl After {
    pub fn add(&mut self, onset: &Onset) {
        self.count += 1;
        self.strongest = self.strongest.max(onset.strength);
    }
}

/// Finds onsets in a stream.
#[derive(Debug)]
pub(crate) struct OnsetFinder {
    spectrum: Spectrum,
    frame: Vec<f32>,
    powers: Vec<f32>,
    floor: Floor,
    high_floor: Floor,
    /// How far each bin stood out of its floor, in the last steps.
    standing: [Vec<f32>; LAG + 1],
    high_logs: [f32; 8],
    flux: Ring,
    /// Share of the steady noise in all power, for each step.
    noise: Ring,
    sorted: Vec<f32>,
    /// Fine envelopes: of the whole sound's treble, and of the decimated sound.
    high: Ring,
    low: Ring,
    low_sum: f32,
    in_block: usize,
    blocks: usize,
    loudest: f32,
    high_sum: f32,
    last_sample: f32,
    delay: f64,
}

impl OnsetFinder {
    pub fn new(rate_hz: f64, delay: f64) -> OnsetFinder {
        let spectrum = Spectrum::new(WINDOW);
        let bins = spectrum.bins();
        let step_s = STEP as f64 / rate_hz;
        OnsetFinder {
            spectrum,
            frame: vec![0.0; WINDOW],
            powers: vec![0.0; bins],
            floor: Floor::new(bins, step_s, 1.5),
            high_floor: Floor::new(1, step_s, 1.5),
            standing: std::array::from_fn(|_| vec![1.0; bins]),
            high_logs: [0.0; 8],
            flux: Ring::new(USUAL + 32),
            noise: Ring::new(64),
            sorted: Vec::with_capacity(USUAL + 1),
            high: Ring::new(512),
            low: Ring::new(512),
            low_sum: 0.0,
            in_block: 0,
            blocks: 0,
            loudest: 0.0,
            high_sum: 0.0,
            last_sample: 0.0,
            delay,
        }
    }

    /// Power of the floor of one bin of a transform of `length` decimated
    /// samples at a frequency given in cycles a sample, for a magnitude scaled
    /// as [`Spectrum::magnitudes`] does and a window of `window` samples.
    pub fn floor_power(&self, cycles: f32, window: usize) -> f32 {
        let at = cycles * WINDOW as f32;
        let powers = self.floor.powers();
        let low = (at as usize).min(powers.len() - 2);
        let share = (at - low as f32).clamp(0.0, 1.0);
        let power = powers[low] * (1.0 - share) + powers[low + 1] * share;
        power * WINDOW as f32 / window as f32
    }

    /// Takes in the newest decimated sample of `sound`, and the power of the
    /// treble that came with it.
    pub fn push(&mut self, sound: &Ring, treble_power: f32) -> Option<Onset> {
        let sample = sound.at(sound.end() as i64 - 1);
        let difference = sample - self.last_sample;
        self.last_sample = sample;
        self.low_sum += difference * difference;
        self.high_sum += treble_power;
        self.in_block += 1;
        if self.in_block < BLOCK {
            return None;
        }
        self.low.push(self.low_sum / BLOCK as f32);
        self.high.push(self.high_sum / BLOCK as f32);
        self.in_block = 0;
        self.low_sum = 0.0;
        self.high_sum = 0.0;
        self.blocks += 1;
        if !self.blocks.is_multiple_of(BLOCKS) {
            return None;
        }
        let flux = self.step(sound);
        self.flux.push(flux);
        self.pick(sound.end())
    }

    /// The flux of one step.
    fn step(&mut self, sound: &Ring) -> f32 {
        sound.copy(sound.end() as i64 - WINDOW as i64, &mut self.frame);
        self.spectrum.magnitudes(&self.frame, &mut self.powers);
        let mut loudest = 0.0f32;
        for power in &mut self.powers {
            *power *= *power;
            loudest = greater(loudest, *power);
        }
        self.loudest = loudest.max(self.loudest * 0.998);
        self.floor.step(&self.powers);
        let (mut steady, mut all) = (0.0f32, 1e-12f32);
        for (power, floor) in self.powers.iter().zip(self.floor.powers()) {
            steady += lesser(*floor, *power);
            all += power;
        }
        self.noise.push(steady / all);
        self.standing.rotate_right(1);
        let least = (self.loudest * 1e-6).max(1e-11);
        let (now, before) = self.standing.split_at_mut(1);
        let (now, before) = (&mut now[0], &before[LAG - 1]);
        let floors = self.floor.powers();
        let mut flux = 0.0;
        let last = now.len() - 1;
        for bin in 2..last {
            let floor = ABOVE_FLOOR * greater(floors[bin], least);
            now[bin] = 1.0 + self.powers[bin] / floor;
            let was = greater(greater(before[bin - 1], before[bin]), before[bin + 1]);
            if now[bin] > was {
                flux += now[bin].ln() - was.ln();
            }
        }
        flux / (last as f32).sqrt() + self.treble_flux()
    }

    /// How the treble above the decimated band rises: an attack is broadband,
    /// even where the partials below were sounding already.
    fn treble_flux(&mut self) -> f32 {
        let end = self.high.end() as i64;
        let power = (1..=BLOCKS as i64)
            .map(|i| self.high.at(end - i))
            .sum::<f32>()
            / BLOCKS as f32;
        self.high_floor.step(&[power]);
        let floor = ABOVE_FLOOR * self.high_floor.powers()[0].max(1e-12);
        self.high_logs.rotate_right(1);
        self.high_logs[0] = (1.0 + power / floor).ln();
        // The spectra look back over twenty milliseconds, so the treble's rise
        // is held for as long.
        let rise = (0..4)
            .map(|i| self.high_logs[i] - self.high_logs[i + 1].max(self.high_logs[i + 2]))
            .fold(0.0, f32::max);
        rise * TREBLE_WEIGHT
    }

    /// Tells of a peak of the flux, once nothing higher has followed.
    fn pick(&mut self, sound_end: u64) -> Option<Onset> {
        let end = self.flux.end() as i64;
        let top = end - 1 - LOOK_AHEAD as i64;
        if top < self.flux.begin() as i64 {
            return None;
        }
        let height = self.flux.at(top);
        if height < LEAST_FLUX {
            return None;
        }
        for other in top - LOOK_BACK as i64..end {
            let value = self.flux.at(other);
            if value > height || (value == height && other < top) {
                return None;
            }
        }
        self.sorted.clear();
        for i in 0..USUAL as i64 {
            self.sorted.push(self.flux.at(end - 1 - i));
        }
        self.sorted.sort_unstable_by(f32::total_cmp);
        let middle = self.sorted[USUAL / 2];
        let spread = (self.sorted[USUAL * 3 / 4] - middle).max(LEAST_SPREAD);
        let strength = (height - middle) / spread;
        if strength < LEAST_STRENGTH {
            return None;
        }
        // Blocks are counted as steps are: one step is BLOCKS blocks.
        let behind = (LOOK_AHEAD * BLOCKS) as i64;
        let onset = self.moment(sound_end, self.low.end() as i64 - behind, strength);
        // In noise an attack may be hidden, but where there is little of it, what
        // does not rise is no attack: only partials that beat or break off.
        let quiet = self.noise.at(top - BEFORE as i64) < LITTLE_NOISE;
        (!quiet || onset.rise > LEAST_RISE || strength > SURE_STRENGTH).then_some(onset)
    }

    /// Looks for the sharpest rise of the fine envelopes before the block at
    /// which the flux had its peak.
    fn moment(&self, sound_end: u64, peak_block: i64, strength: f32) -> Onset {
        let mut best = (0.0f32, peak_block - 16, 0.0);
        for (ring, delay) in [(&self.high, 0.0), (&self.low, self.delay)] {
            let back = (WINDOW / BLOCK) as i64 + 2;
            let mut loudest = 0.0f32;
            for block in peak_block - back..peak_block {
                loudest = loudest.max(ring.at(block));
            }
            for block in peak_block - back..peak_block {
                let mean = |from: i64, to: i64| {
                    (from..to).map(|b| ring.at(b)).sum::<f32>() / (to - from) as f32
                };
                let rise = (mean(block, block + 4) + loudest * 0.003 + 1e-12)
                    / (mean(block - 8, block) + loudest * 0.003 + 1e-12);
                if rise > best.0 {
                    best = (rise, block, delay);
                }
            }
        }
        let (rise, block, delay) = best;
        let at = sound_end as i64 - (self.low.end() as i64 - block) * BLOCK as i64;
        Onset {
            // The delay of the low envelope is that of the decimated sound; the
            // treble has none, so it is brought in line with the rest.
            at: at as f64 + self.delay - delay,
            uncertainty: if rise > 6.0 {
                3.0 * BLOCK as f64
            } else if rise > 2.5 {
                4.0 * BLOCK as f64
            } else {
                12.0 * BLOCK as f64
            },
            strength,
            rise,
        }
    }

    /// Forgets what was heard before.
    pub fn forget(&mut self) {
        self.floor.forget();
        self.high_floor.forget();
        for standing in &mut self.standing {
            standing.fill(1.0);
        }
        self.loudest = 0.0;
    }
}
