//! Sounds made for the ear's tests: strings, noise and a voice, all from seeds.

#![allow(dead_code)]

use std::f64::consts::PI;

use fifthpeg_core::{Pitch, Reference};
use fifthpeg_ear::{Ear, EarSettings, Heard, Pluck};

pub const RATE_HZ: u32 = 48_000;

/// Numbers that look random (Knuth's MMIX generator).
pub struct Chance(pub u64);

impl Chance {
    /// Evenly from 0 to 1.
    pub fn even(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.even()
    }

    /// About normal, with a deviation of 1.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.even()).sum::<f64>() - 6.0
    }
}

/// A recording in the making.
pub struct Scene {
    pub rate_hz: f64,
    pub samples: Vec<f32>,
}

impl Scene {
    pub fn new(rate_hz: u32, seconds: f64) -> Scene {
        Scene {
            rate_hz: f64::from(rate_hz),
            samples: vec![0.0; (f64::from(rate_hz) * seconds) as usize],
        }
    }

    /// A stiff string plucked at a moment: partials at n·f·√(1 + B·n²)
    /// (Fletcher, JASA 36:203, 1964), with the comb of a plucking place, and
    /// loudness and decay of each drawn by chance. `fundamental_db` is added to
    /// the first partial alone.
    pub fn pluck(&mut self, at_s: f64, hz: f64, level: f64, fundamental_db: f64, seed: u64) {
        let mut chance = Chance(seed.wrapping_mul(77) + 5);
        for _ in 0..8 {
            chance.even();
        }
        let stiffness = 10f64.powf(chance.between(-5.0, -3.5));
        let place = chance.between(0.08, 0.3);
        let decay = chance.between(2.0, 9.0);
        let start = (at_s * self.rate_hz) as usize;
        let length = (1.5 * self.rate_hz) as usize;
        for n in 1..=40 {
            let number = f64::from(n);
            let f = hz * number * (1.0 + stiffness * number * number).sqrt();
            if f > 0.45 * self.rate_hz || f > 14_000.0 {
                break;
            }
            let mut amplitude = (PI * number * place).sin().abs().max(0.02)
                * number.powf(-0.7)
                * 10f64.powf(chance.between(-8.0, 4.0) / 20.0);
            if n == 1 {
                amplitude *= 10f64.powf(fundamental_db / 20.0);
            }
            let phase = chance.between(0.0, 0.8);
            let dies = decay * (1.0 + 0.15 * number);
            let end = (start + length).min(self.samples.len());
            for (i, sample) in self.samples[start..end].iter_mut().enumerate() {
                let t = i as f64 / self.rate_hz;
                *sample += (level
                    * amplitude
                    * (1.0 - (-t / 0.0008).exp())
                    * (-t * dies).exp()
                    * (2.0 * PI * f * t + phase).sin()) as f32;
            }
        }
    }

    /// White noise all over.
    pub fn noise(&mut self, deviation: f64, seed: u64) {
        let mut chance = Chance(seed);
        for sample in &mut self.samples {
            *sample += (deviation * chance.normal()) as f32;
        }
    }

    /// A sung or spoken sound: pulses of a glottis through three formants,
    /// swelling and gliding (source and filter: G. Fant, 1960).
    pub fn voice(&mut self, at_s: f64, length_s: f64, hz: (f64, f64), level: f64, seed: u64) {
        let mut chance = Chance(seed + 3);
        let formants = [
            chance.between(300.0, 800.0),
            chance.between(900.0, 2200.0),
            chance.between(2300.0, 3200.0),
        ];
        let start = (at_s * self.rate_hz) as usize;
        let length = (length_s * self.rate_hz) as usize;
        let mut phase = 0.0f64;
        let end = (start + length).min(self.samples.len());
        for (i, sample) in self.samples[start..end].iter_mut().enumerate() {
            let along = i as f64 / length as f64;
            let t = i as f64 / self.rate_hz;
            let f = hz.0 + (hz.1 - hz.0) * along;
            phase += 2.0 * PI * f / self.rate_hz;
            let swell = (1.0 - (-t / 0.04).exp()) * (PI * along).sin().max(0.0).sqrt();
            let mut sum = 0.0;
            for n in 1..=30 {
                let number = f64::from(n);
                let shape: f64 = formants
                    .iter()
                    .map(|formant| 1.0 / (1.0 + ((number * f - formant) / 90.0).powi(2)))
                    .sum();
                sum += (shape + 0.02) / number.sqrt() * (number * phase).sin();
            }
            *sample += (level * swell * sum) as f32;
        }
    }

    /// Everything an ear for a neck of these notes has to tell.
    pub fn heard(&self, lowest: u8, highest: u8) -> Vec<Heard> {
        let mut ear = ear(self.rate_hz as u32, lowest, highest);
        let mut all = Vec::new();
        for block in self.samples.chunks(480) {
            ear.hear(block);
            all.extend(std::iter::from_fn(|| ear.poll()));
        }
        all
    }
}

pub fn ear(rate_hz: u32, lowest: u8, highest: u8) -> Ear {
    Ear::new(EarSettings {
        sample_rate_hz: rate_hz,
        lowest: Pitch::new(lowest).unwrap(),
        highest: Pitch::new(highest).unwrap(),
        reference: Reference::default(),
    })
    .unwrap()
}

pub fn hz(midi: u8) -> f64 {
    Pitch::new(midi).unwrap().frequency_hz(Reference::default())
}

/// The plucks that were not taken back.
pub fn plucks(heard: &[Heard]) -> Vec<Pluck> {
    heard
        .iter()
        .filter_map(|event| match event {
            Heard::Pluck(pluck) => Some(*pluck),
            _ => None,
        })
        .filter(|pluck| {
            !heard
                .iter()
                .any(|event| matches!(event, Heard::Withdrawn { id, .. } if *id == pluck.id))
        })
        .collect()
}

/// How many moments have a pluck of the note within 30 ms, and none of another.
pub fn right(plucks: &[Pluck], rate_hz: f64, moments: &[(f64, u8)]) -> usize {
    moments
        .iter()
        .filter(|&&(at_s, midi)| {
            let near: Vec<u8> = plucks
                .iter()
                .filter(|pluck| (pluck.onset / rate_hz - at_s).abs() < 0.03)
                .map(|pluck| pluck.pitch.midi())
                .collect();
            near == [midi]
        })
        .count()
}
