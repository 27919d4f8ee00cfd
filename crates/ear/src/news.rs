//! What is new after an onset: the peaks that neither noise nor ringing explain.

use crate::onset::OnsetFinder;
use crate::ring::Ring;
use crate::spectrum::{Peak, Spectrum, parabola};

/// Samples in the transform; shorter windows are filled up with noughts.
pub(crate) const TRANSFORM: usize = 4096;
/// Most peaks kept.
pub(crate) const MOST_PEAKS: usize = 48;
/// A peak must stand this far above the floor, in magnitude. Noise alone has a
/// Rayleigh distribution: it does so once in a few hundred independent bins.
const ABOVE_FLOOR: f32 = 2.6;
/// A peak weaker than this share of the strongest is left out.
const LEAST_SHARE: f32 = 0.015;
/// What is taken to be left of the ringing once it is taken away.
const RINGING_LEFT: f32 = 0.2;

/// Looks for peaks; holds the memory for it.
#[derive(Debug)]
pub(crate) struct News {
    spectrum: Spectrum,
    sound: Vec<f32>,
    fresh: Vec<f32>,
    of_sound: Vec<f32>,
    of_fresh: Vec<f32>,
    of_ringing: Vec<f32>,
    peaks: Vec<Peak>,
    rate_hz: f32,
    lowest_hz: f32,
    highest_hz: f32,
}

impl News {
    /// For a decimated rate, and partials from `lowest_hz` to `highest_hz`.
    pub fn new(rate_hz: f32, lowest_hz: f32, highest_hz: f32) -> News {
        let spectrum = Spectrum::new(TRANSFORM);
        let bins = spectrum.bins();
        News {
            sound: vec![0.0; TRANSFORM],
            fresh: vec![0.0; TRANSFORM],
            of_sound: vec![0.0; bins],
            of_fresh: vec![0.0; bins],
            of_ringing: vec![0.0; bins],
            peaks: Vec::with_capacity(bins),
            spectrum,
            rate_hz,
            lowest_hz,
            highest_hz,
        }
    }

    /// Hertz in one bin.
    pub fn bin_hz(&self) -> f32 {
        self.rate_hz / TRANSFORM as f32
    }

    /// The peaks of `length` samples from a position on, in order of frequency.
    /// `ringing` is what would have sounded there anyway.
    pub fn peaks(
        &mut self,
        sound: &Ring,
        from: i64,
        length: usize,
        ringing: &[f32],
        floor: &OnsetFinder,
    ) -> &[Peak] {
        let length = length.min(TRANSFORM);
        sound.copy(from, &mut self.sound[..length]);
        self.fresh[..length].copy_from_slice(&self.sound[..length]);
        for (x, old) in self.fresh[..length].iter_mut().zip(ringing) {
            *x -= old;
        }
        self.spectrum
            .magnitudes(&self.sound[..length], &mut self.of_sound);
        self.spectrum
            .magnitudes(&self.fresh[..length], &mut self.of_fresh);
        let rung = length.min(ringing.len());
        self.spectrum
            .magnitudes(&ringing[..rung], &mut self.of_ringing);
        self.collect(length, floor);
        &self.peaks
    }

    fn collect(&mut self, length: usize, floor: &OnsetFinder) {
        let bin_hz = self.bin_hz();
        let first = ((self.lowest_hz / bin_hz) as usize).max(3);
        let last = ((self.highest_hz / bin_hz) as usize).min(self.of_fresh.len() - 3);
        let fresh = &self.of_fresh;
        self.peaks.clear();
        let mut strongest = 0.0f32;
        for bin in first..last {
            let magnitude = fresh[bin];
            if magnitude <= fresh[bin - 1] || magnitude < fresh[bin + 1] {
                continue;
            }
            let (shift, top) = parabola(fresh[bin - 1], magnitude, fresh[bin + 1]);
            // A string that was stopped at the onset is in the difference, but
            // no longer in the sound.
            let really = self.of_sound[bin - 2..=bin + 2]
                .iter()
                .fold(0.0, |most: f32, &x| most.max(x));
            let top = top.min(really);
            let noise = floor
                .floor_power(bin as f32 / TRANSFORM as f32, length)
                .sqrt()
                .max(1e-6);
            if top < ABOVE_FLOOR * noise || top < RINGING_LEFT * self.of_ringing[bin] {
                continue;
            }
            strongest = strongest.max(top);
            self.peaks.push(Peak {
                hz: (bin as f32 + shift) * bin_hz,
                magnitude: top,
                above_floor: top / noise,
            });
        }
        let least = strongest * LEAST_SHARE;
        self.peaks.retain(|peak| peak.magnitude >= least);
        self.drop_side_lobes(3.2 * self.rate_hz / length as f32);
        if self.peaks.len() > MOST_PEAKS {
            self.peaks
                .sort_unstable_by(|a, b| b.magnitude.total_cmp(&a.magnitude));
            self.peaks.truncate(MOST_PEAKS);
            self.peaks.sort_unstable_by(|a, b| a.hz.total_cmp(&b.hz));
        }
    }

    /// Leaves out what is no peak of its own but the skirt of a far stronger
    /// one nearby.
    fn drop_side_lobes(&mut self, reach_hz: f32) {
        let mut kept = 0;
        for i in 0..self.peaks.len() {
            let peak = self.peaks[i];
            let hidden = |other: &Peak| {
                (other.hz - peak.hz).abs() < reach_hz && other.magnitude > 16.0 * peak.magnitude
            };
            let before = self.peaks[..i].iter().rev().take(6).any(hidden);
            let after = self.peaks[i + 1..].iter().take(6).any(hidden);
            if !(before || after) {
                self.peaks[kept] = peak;
                kept += 1;
            }
        }
        self.peaks.truncate(kept);
    }

    /// Mean square of what is new, of the last span looked at.
    pub fn power(&self, range: std::ops::Range<usize>) -> f32 {
        let part = &self.fresh[range.start.min(TRANSFORM)..range.end.min(TRANSFORM)];
        part.iter().map(|x| x * x).sum::<f32>() / part.len().max(1) as f32
    }
}
