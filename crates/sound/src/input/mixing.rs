//! Many channels into one.
//!
//! A banjo in one socket of a two-channel interface must be heard at its full
//! level, and two microphones wired the wrong way round must not cancel. So the
//! rule is: the average of all channels, unless that has lost [`AVERAGE_LOSS`]
//! against the loudest channel; then the loudest channel alone, until another is
//! [`TAKES_OVER`] louder. A channel's loudness is the loudest short moment that
//! it had lately, so that hum in an empty socket does not win while the player
//! rests. A change is drawn out over [`CHANGE`], and is no onset.
//!
//! The cost: on an interface with the banjo in one socket only, the very first
//! notes may come up to 6 dB too low.

use std::time::Duration;

/// Powers are taken over moments of this length.
const MOMENT: Duration = Duration::from_millis(50);
/// How long a moment is remembered: it fades by a factor of e in this time.
const MEMORY: Duration = Duration::from_secs(20);
/// How long a change from one mix to another takes.
const CHANGE: Duration = Duration::from_millis(100);
/// The average may be this much weaker than the loudest channel, as a ratio of
/// powers: -4.5 dB, between the -3 dB of two microphones that hear differently
/// and the -6 dB of one channel in use out of two.
const AVERAGE_LOSS: f32 = 0.355;
/// Another channel takes over when this much stronger, as a ratio of powers: 6 dB.
const TAKES_OVER: f32 = 4.0;
/// Below this mean square nothing is decided: -70 dB re full scale.
const SILENCE: f32 = 1e-7;

/// Mixes frames of several channels into mono. Allocates only when made.
#[derive(Debug)]
pub(super) struct Mixer {
    gains: Vec<f32>,
    wanted: Vec<f32>,
    /// Sums of squares over the moment so far, the mix's last.
    sums: Vec<f32>,
    /// The loudest moment remembered, mean square, the mix's last.
    loudest: Vec<f32>,
    chosen: Option<usize>,
    in_moment: u32,
    moment: u32,
    fading: f32,
    step: f32,
}

impl Mixer {
    pub(super) fn new(channels: usize, rate_hz: u32) -> Mixer {
        let channels = channels.max(1);
        let rate = rate_hz as f32;
        let even = vec![1.0 / channels as f32; channels];
        Mixer {
            gains: even.clone(),
            wanted: even,
            sums: vec![0.0; channels + 1],
            loudest: vec![0.0; channels + 1],
            chosen: None,
            in_moment: 0,
            moment: ((rate * MOMENT.as_secs_f32()) as u32).max(1),
            fading: (-MOMENT.as_secs_f32() / MEMORY.as_secs_f32()).exp(),
            step: 1.0 / (rate * CHANGE.as_secs_f32()),
        }
    }

    pub(super) fn channels(&self) -> usize {
        self.gains.len()
    }

    /// Mixes one frame, a sample of each channel.
    pub(super) fn mix(&mut self, frame: impl Iterator<Item = f32>) -> f32 {
        let mut mixed = 0.0;
        for (channel, sample) in frame.take(self.gains.len()).enumerate() {
            // A broken driver's not-a-number must not stay in the sums for good.
            let sample = if sample.is_finite() { sample } else { 0.0 };
            let (gain, wanted) = (&mut self.gains[channel], self.wanted[channel]);
            *gain += (wanted - *gain).clamp(-self.step, self.step);
            mixed += *gain * sample;
            self.sums[channel] += sample * sample;
        }
        if self.gains.len() > 1 {
            let average = self.gains.len();
            self.sums[average] += mixed * mixed;
            self.in_moment += 1;
            if self.in_moment == self.moment {
                self.decide();
            }
        }
        mixed
    }

    /// At the end of a moment: which channel, if any, stands for all.
    fn decide(&mut self) {
        let frames = self.moment as f32;
        for (sum, loudest) in self.sums.iter_mut().zip(&mut self.loudest) {
            *loudest = (*loudest * self.fading).max(*sum / frames);
            *sum = 0.0;
        }
        self.in_moment = 0;
        let channels = self.gains.len();
        let mut best = 0;
        for channel in 1..channels {
            if self.loudest[channel] > self.loudest[best] {
                best = channel;
            }
        }
        let strongest = self.loudest[best];
        let change = match self.chosen {
            _ if strongest < SILENCE => false,
            None => self.loudest[channels] < AVERAGE_LOSS * strongest,
            Some(chosen) => strongest > TAKES_OVER * self.loudest[chosen],
        };
        if change {
            self.chosen = Some(best);
            self.wanted.fill(0.0);
            self.wanted[best] = 1.0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const RATE_HZ: u32 = 48_000;

    fn sine(n: usize) -> f32 {
        0.5 * (n as f32 * 0.05).sin()
    }

    /// The mix's power over the third second, with gains per channel.
    fn power(gains: &[f32]) -> f32 {
        let mut mixer = Mixer::new(gains.len(), RATE_HZ);
        let rate = RATE_HZ as usize;
        let mut sum = 0.0;
        for n in 0..3 * rate {
            let mixed = mixer.mix(gains.iter().map(|gain| gain * sine(n)));
            if n >= 2 * rate {
                sum += mixed * mixed;
            }
        }
        sum / rate as f32
    }

    #[test]
    fn a_banjo_in_one_socket_or_in_all_or_upside_down_keeps_its_level() {
        let one = power(&[1.0]);
        for gains in [
            &[1.0, 1.0][..],
            &[1.0, 0.0],
            &[0.0, 1.0],
            &[1.0, -1.0],
            &[0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0],
        ] {
            let ratio = power(gains) / one;
            assert!((ratio - 1.0).abs() < 0.01, "{gains:?}: {ratio}");
        }
    }

    #[test]
    fn hum_in_an_empty_socket_does_not_win_while_the_player_rests() {
        let mut mixer = Mixer::new(2, RATE_HZ);
        let second = RATE_HZ as usize;
        let frame = |n: usize, banjo: f32| [0.01 * sine(n), banjo * sine(n)];
        for n in 0..second {
            mixer.mix(frame(n, 1.0).into_iter());
        }
        for n in 0..5 * second {
            mixer.mix(frame(n, 0.0).into_iter());
        }
        assert_eq!(mixer.chosen, Some(1));
        let first = mixer.mix([0.9, 0.25].into_iter());
        assert!((first - 0.25).abs() < 1e-6);
    }

    #[test]
    fn a_change_is_no_step() {
        let mut mixer = Mixer::new(2, RATE_HZ);
        let mut last = mixer.mix([0.0, 0.5].into_iter());
        let mut largest = 0.0f32;
        for _ in 0..RATE_HZ {
            let mixed = mixer.mix([0.0, 0.5].into_iter());
            largest = largest.max((mixed - last).abs());
            last = mixed;
        }
        assert!(
            largest < 0.001 && (last - 0.5).abs() < 1e-6,
            "{largest} {last}"
        );
    }

    proptest! {
        #[test]
        fn no_mix_is_louder_than_its_loudest_channel(
            frames in proptest::collection::vec(proptest::collection::vec(-1.0f32..=1.0, 3), 1..200),
            odd in prop_oneof![Just(f32::NAN), Just(f32::INFINITY), Just(0.3f32)],
        ) {
            // A rate at which moments end often.
            let mut mixer = Mixer::new(3, 100);
            mixer.mix([odd, 0.0, 0.0].into_iter());
            for frame in frames {
                let loudest = frame.iter().fold(0.0f32, |a, x| a.max(x.abs()));
                let mixed = mixer.mix(frame.into_iter());
                prop_assert!(mixed.abs() <= loudest + 1e-6, "{mixed} {loudest}");
            }
        }
    }
}
