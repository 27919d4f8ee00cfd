//! What the finger gives the string.

use std::f64::consts::TAU;

/// A pluck, in seconds of the string's own time. Written in continuous time, so
/// that it is the same at every sample rate.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pluck {
    /// Where along the string, as a part of its length.
    pub place: f64,
    /// How far the seed may move the place, either way.
    pub wander: f64,
    /// The width of the finger's push (its standard deviation), in seconds: a
    /// fleshy finger is wider, and duller.
    pub width_s: f64,
    /// The scrape of the finger, as a part of the push.
    pub scrape: f64,
}

/// Spacing and number of the grains that make up the scrape.
const GRAIN_S: f64 = 0.000_09;
const GRAINS: u32 = 40;

impl Pluck {
    /// The drive for a string of that period, at that rate.
    pub(super) fn drive(&self, period_s: f64, seed: u32, rate: f64) -> Vec<f64> {
        let mut random = Random::new(seed);
        let place = self.place + self.wander * random.both_ways();
        let start_s = 4.0 * self.width_s;
        let last_s = (place * period_s).max(GRAIN_S * f64::from(GRAINS));
        let mut drive = vec![0.0; ((start_s + last_s + 4.0 * self.width_s) * rate) as usize + 1];
        // One push, and its echo from the near end turned upside down: no mode
        // with a node under the finger sounds, and the sum is zero.
        self.add_push(&mut drive, start_s, 1.0, rate);
        self.add_push(&mut drive, start_s + place * period_s, -1.0, rate);
        let mut previous = 0.0;
        for grain in 0..GRAINS {
            let fade = 1.0 - f64::from(grain) / f64::from(GRAINS);
            let size = self.scrape * fade * random.both_ways();
            // Differences, so that the scrape holds next to nothing low down and
            // cannot weaken the fundamental.
            let time_s = start_s + GRAIN_S * f64::from(grain);
            self.add_push(&mut drive, time_s, size - previous, rate);
            previous = size;
        }
        drive
    }

    fn add_push(&self, drive: &mut [f64], time_s: f64, size: f64, rate: f64) {
        let reach_s = 4.0 * self.width_s;
        let first = ((time_s - reach_s) * rate).ceil().max(0.0) as usize;
        let last = ((time_s + reach_s) * rate) as usize;
        // A push of unit area, whatever the rate and width.
        let height = size / (self.width_s * TAU.sqrt() * rate);
        for (n, x) in drive.iter_mut().enumerate().take(last + 1).skip(first) {
            let apart = (n as f64 / rate - time_s) / self.width_s;
            *x += height * (-0.5 * apart * apart).exp();
        }
    }
}

/// Steele, Lea and Flood's SplitMix64 (OOPSLA 2014): the same numbers on every
/// machine.
struct Random(u64);

impl Random {
    fn new(seed: u32) -> Random {
        Random(u64::from(seed))
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly spread from -1 to 1.
    fn both_ways(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_generator_gives_its_published_numbers() {
        // The first outputs for seed 1234567 in the generator's public tests.
        let mut random = Random::new(1_234_567);
        assert_eq!(random.next(), 6_457_827_717_110_365_317);
        assert_eq!(random.next(), 3_203_168_211_198_807_973);
    }

    #[test]
    fn a_pluck_adds_up_to_nothing_and_depends_on_its_seed() {
        let pluck = Pluck {
            place: 0.2,
            wander: 0.02,
            width_s: 0.000_08,
            scrape: 0.3,
        };
        let drive = pluck.drive(0.005, 3, 48_000.0);
        assert!(drive.iter().sum::<f64>().abs() < 0.05);
        assert_eq!(drive, pluck.drive(0.005, 3, 48_000.0));
        assert_ne!(drive, pluck.drive(0.005, 4, 48_000.0));
    }
}
