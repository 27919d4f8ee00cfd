//! What is new after an onset: the peaks that neither noise nor ringing explain.

use crate::onset::OnsetFinder;
use crate::ring::Ring;
use crate::spectrum::{Peak, Spectrum, greater, parabola};

/// Samples in the transform; shorter windows are filled up with noughts.
pub(crate) const TRANSFORM: usize = 4096;
/// Most peaks kept.
pub(crate) const MOST_PEAKS: usize = 48;
/// A peak must stand this far above the floor, in magnitude. Noise alone has a
/// Rayleigh distribution: it does so once in a few hundred independent bins.
pub(crate) const ABOVE_FLOOR: f32 = 2.6;
/// A peak weaker than this share of the strongest is left out.
const LEAST_SHARE: f32 = 0.015;
/// What is taken to be left of the ringing once it is taken away.
const RINGING_LEFT: f32 = 0.2;

/// A partial that is less than this many times as strong as before the onset is
/// likely to be ringing that was carried on wrongly,
const RISE_FROM: f32 = 0.8;
/// and one that is stronger by this much more is surely new.
const RISE_SPAN: f32 = 0.6;
/// What is left of a partial that did not rise: a string plucked again may be
/// softer than it was.
const LEAST_RISE: f32 = 0.15;

/// What was there before an onset.
pub(crate) struct Before<'a> {
    /// What would have sounded on after the onset.
    pub ringing: &'a [f32],
    /// How far that is to be trusted, for each bin: see [`News::astray`].
    pub astray: &'a [f32],
    /// Position up to which nothing new was in the sound.
    pub until: i64,
}

/// Looks for peaks; holds the memory for it.
#[derive(Debug)]
pub(crate) struct News {
    spectrum: Spectrum,
    sound: Vec<f32>,
    fresh: Vec<f32>,
    of_sound: Vec<f32>,
    of_fresh: Vec<f32>,
    of_ringing: Vec<f32>,
    of_past: Vec<f32>,
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
            of_past: vec![0.0; bins],
            peaks: Vec::with_capacity(bins),
            spectrum,
            rate_hz,
            lowest_hz,
            highest_hz,
        }
    }

    pub fn last_peaks(&self) -> &[Peak] {
        &self.peaks
    }
    /// Hertz in one bin.
    pub fn bin_hz(&self) -> f32 {
        self.rate_hz / TRANSFORM as f32
    }

    /// The peaks of `length` samples from a position on, in order of frequency.
    pub fn peaks(
        &mut self,
        sound: &Ring,
        from: i64,
        length: usize,
        before: &Before<'_>,
        floor: &OnsetFinder,
    ) -> &[Peak] {
        let length = length.min(TRANSFORM);
        sound.copy(from, &mut self.sound[..length]);
        self.fresh[..length].copy_from_slice(&self.sound[..length]);
        for (x, old) in self.fresh[..length].iter_mut().zip(before.ringing) {
            *x -= old;
        }
        self.spectrum
            .magnitudes(&self.sound[..length], &mut self.of_sound);
        self.spectrum
            .magnitudes(&self.fresh[..length], &mut self.of_fresh);
        let rung = length.min(before.ringing.len());
        self.spectrum
            .magnitudes(&before.ringing[..rung], &mut self.of_ringing);
        sound.copy(before.until - length as i64, &mut self.sound[..length]);
        self.spectrum
            .magnitudes(&self.sound[..length], &mut self.of_past);
        self.collect(length, before.astray, floor);
        &self.peaks
    }

    /// All peaks of `length` samples from a position on, new or not.
    pub fn all_peaks(
        &mut self,
        sound: &Ring,
        from: i64,
        length: usize,
        floor: &OnsetFinder,
    ) -> &[Peak] {
        let length = length.min(TRANSFORM);
        sound.copy(from, &mut self.fresh[..length]);
        self.spectrum
            .magnitudes(&self.fresh[..length], &mut self.of_fresh);
        self.of_sound.copy_from_slice(&self.of_fresh);
        self.of_past.fill(0.0);
        self.of_ringing.fill(0.0);
        self.collect(length, &[], floor);
        &self.peaks
    }

    /// Looks at as much sound before a position, beside the peaks looked at last.
    pub fn look_before(&mut self, sound: &Ring, until: i64, length: usize) {
        let length = length.min(TRANSFORM);
        sound.copy(until - length as i64, &mut self.sound[..length]);
        self.spectrum
            .magnitudes(&self.sound[..length], &mut self.of_past);
    }

    /// Power of a peak there, as a square of its magnitude.
    pub fn power_before(&self, hz: f32) -> f32 {
        let bin = (hz / self.bin_hz()).round() as usize;
        let bins = bin.saturating_sub(2)..(bin + 3).min(self.of_past.len());
        let most = self.of_past[bins].iter().copied().fold(0.0, greater);
        most * most
    }

    /// The magnitudes of the sound and of as long before, as [`News::peaks`] looked
    /// at last, and the first bin that counts.
    pub fn now_and_before(&self) -> (&[f32], &[f32], usize) {
        let last = ((self.highest_hz / self.bin_hz()) as usize).min(self.of_sound.len());
        let first = ((self.lowest_hz / self.bin_hz()) as usize).max(3);
        (&self.of_sound[..last], &self.of_past[..last], first)
    }

    /// What is new, of the last span looked at, as a wave.
    pub fn fresh(&self, range: std::ops::Range<usize>) -> &[f32] {
        &self.fresh[range.start.min(TRANSFORM)..range.end.min(TRANSFORM)]
    }

    /// How far a test of carrying on went astray, for each bin: the error as a
    /// share of what there really was.
    pub fn astray(&mut self, carried: &[f32], really: &[f32], into: &mut [f32]) {
        let length = really.len();
        for ((x, carried), really) in self.fresh.iter_mut().zip(carried).zip(really) {
            *x = carried - really;
        }
        self.spectrum.magnitudes(really, &mut self.of_sound);
        self.spectrum
            .magnitudes(&self.fresh[..length], &mut self.of_fresh);
        let bins = into.len();
        for (bin, astray) in into.iter_mut().enumerate() {
            let near = bin.saturating_sub(4)..(bin + 5).min(bins);
            let most = |of: &[f32]| of[near.clone()].iter().copied().fold(0.0, greater);
            *astray = (most(&self.of_fresh) / most(&self.of_sound).max(1e-9)).min(1.0);
        }
    }

    fn collect(&mut self, length: usize, astray: &[f32], floor: &OnsetFinder) {
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
                .copied()
                .fold(0.0, greater);
            let past = self.of_past[bin].max(1e-9);
            let rise = ((really / past - RISE_FROM) / RISE_SPAN).clamp(LEAST_RISE, 1.0);
            let left = (1.0 - 2.0 * astray.get(bin).unwrap_or(&0.0) * self.of_ringing[bin] / top)
                .clamp(LEAST_RISE, 1.0);
            let top = top.min(really) * rise.max(left);
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
