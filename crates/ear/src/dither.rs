//! Noise as wide as the steps that sound comes in.
//!
//! Sound of few bits was rounded. Where that was done without noise, silence is
//! exactly nothing, and what dies away becomes a row of pulses in step with itself:
//! the floor under the partials (`floor`) is not there, every pulse is an onset, and a
//! string that flickers takes after a voice. Noise must be added before rounding to
//! undo that (S. P. Lipshitz, R. A. Wannamaker and J. Vanderkooy, "Quantization and
//! dither: a theoretical survey", J. Audio Eng. Soc. 40:5, 1992). Added afterwards it
//! gives the floor back, at the level where rounding with noise would have left it.
//! The steps are those of the sound itself: of 16 bits they are no louder than -101 dB,
//! and sound that was changed after it was rounded has none left.

/// Steps wider than this are none of rounding: sound of less than seven bits.
const WIDEST: f32 = 1.0 / 60.0;
/// Changes from one sample to the next by which the steps are found, and then found
/// anew.
const FIRST: u32 = 1_000;
const ANEW: u32 = 24_000;
/// A step is a change as large as many are, one in so many at least,
const MANY: u32 = 10;
/// while changes of a half to an eighth of it are hardly any, one for so many of it.
/// Where nothing was rounded they are nearly as many. (Whoever kept such sound in 16 bits
/// may have added noise: of changes as small as that there may be more.)
const FEW: u32 = 20;
/// Sizes told apart, in octaves below full scale.
const OCTAVES: usize = 24;

/// Finds the steps of a sound, and adds the noise.
#[derive(Debug)]
pub(crate) struct Dither {
    last: f32,
    step: f32,
    /// How many changes of each size there were, and the least of them.
    sizes: [(u32, f32); OCTAVES],
    changes: u32,
    enough: u32,
    chance: u32,
}

impl Dither {
    pub fn new() -> Dither {
        Dither {
            last: 0.0,
            step: 0.0,
            sizes: [(0, f32::MAX); OCTAVES],
            changes: 0,
            enough: FIRST,
            chance: 0x9e37_79b9,
        }
    }

    /// The step that was found, or nought.
    pub fn step(&self) -> f32 {
        self.step
    }

    /// A sample with its noise.
    pub fn add(&mut self, sample: f32) -> f32 {
        let change = (sample - self.last).abs();
        self.last = sample;
        if change > 0.0 {
            self.learn(change);
        }
        // G. Marsaglia, "Xorshift RNGs", J. Statistical Software 8:14, 2003.
        self.chance ^= self.chance << 13;
        self.chance ^= self.chance >> 17;
        self.chance ^= self.chance << 5;
        if self.step > 0.0 {
            sample + self.step * (self.chance as f32 / u32::MAX as f32 - 0.5)
        } else {
            sample
        }
    }

    fn learn(&mut self, change: f32) {
        let size = &mut self.sizes[octave(change)];
        *size = (size.0 + 1, size.1.min(change));
        self.changes += 1;
        if self.changes == self.enough {
            self.step = self.found();
            self.sizes = [(0, f32::MAX); OCTAVES];
            self.changes = 0;
            self.enough = if self.step > 0.0 { ANEW } else { FIRST };
        }
    }

    /// The step, or nought.
    fn found(&self) -> f32 {
        let smaller = |at: usize| -> u32 {
            let near = self.sizes[at + 1..].iter().take(2);
            near.map(|size| size.0).sum()
        };
        let is_step = |&at: &usize| {
            let (count, least) = self.sizes[at];
            least < WIDEST && MANY * count >= self.changes && FEW * smaller(at) <= count
        };
        if let Some(at) = (0..OCTAVES).find(is_step) {
            return self.sizes[at].1;
        }
        // Of what is loud few changes are small; the steps may be as they were.
        let is_kept = self.step > 0.0 && FEW * smaller(octave(self.step)) <= self.changes;
        if is_kept { self.step } else { 0.0 }
    }
}

/// How many octaves below full scale.
fn octave(change: f32) -> usize {
    // The exponent of its binary form: 127 stands for 1 to 2.
    let below = 127u32.saturating_sub(change.to_bits() >> 23) as usize;
    below.min(OCTAVES - 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn falling(i: usize) -> f32 {
        let t = i as f32 / 48_000.0;
        0.2 * (-8.0 * t).exp() * (1_231.0 * t).sin()
    }

    /// What is added to each sample of the last of two seconds, at most and as mean
    /// square.
    fn added(rounded: impl Fn(f32) -> f32) -> (f32, f32) {
        let mut dither = Dither::new();
        let (mut most, mut sum) = (0.0f32, 0.0f32);
        for i in 0..96_000 {
            let sample = rounded(falling(i % 48_000));
            let added = dither.add(sample) - sample;
            if i >= 48_000 {
                most = most.max(added.abs());
                sum += added * added;
            }
        }
        (most, sum / 48_000.0)
    }

    #[test]
    fn as_loud_as_rounding_evenly_spread_over_a_step() {
        // A step's width over the root of twelve: Lipshitz, Wannamaker and Vanderkooy,
        // section 1.
        for bits in [8, 12] {
            let steps = (1 << (bits - 1)) as f32;
            let (most, power) = added(|x| (x * steps).round() / steps);
            assert!(most <= 0.501 / steps, "{most}");
            let wanted = 1.0 / (12.0 * steps * steps);
            assert!((power / wanted - 1.0).abs() < 0.1, "{power} {wanted}");
        }
    }

    #[test]
    fn noise_of_sixteen_bits_does_not_hide_steps_of_eight() {
        let turn = std::cell::Cell::new(0);
        let (most, _) = added(|x| {
            turn.set(turn.get() + 1);
            let noise = f32::from(u8::from(turn.get() % 5 == 0)) / 32_768.0;
            (x * 128.0).round() / 128.0 + noise
        });
        assert!((0.49..0.51).contains(&(most * 128.0)), "{most}");
    }

    #[test]
    fn nothing_where_nothing_was_rounded_or_steps_are_no_rounding() {
        assert!(added(|x| x).0 < 1e-6);
        assert_eq!(added(|x| 0.3 * x.signum()).0, 0.0);
        assert_eq!(added(|_| 0.0).0, 0.0);
    }
}
