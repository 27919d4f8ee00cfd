//! Holes in a sound, as a machine leaves that is too busy to fetch it in time: a few
//! thousandths of a second of nothing at all, after which it goes on. A beep that is cut
//! so seems to die away as a string does, and a string seems to be plucked again.
//!
//! A hole is mended as lost packets of a telephone call are: what came last is repeated
//! from where it is most like the end, joined on gradually, and fades if nothing follows
//! (ITU-T G.711 Appendix I, 1999, of which this is a simpler form). Nothing else is
//! exactly nought for so long, right after sound, but what a gate has shut: that is left
//! to fade for as long.

use crate::ring::Ring;

/// So long a row of noughts is a hole, in seconds: the mended sound is later by that.
const LEAST_S: f64 = 0.000_5;
/// What comes before it is louder than so many steps of 16 bits, or of the sound: a soft
/// one that was rounded has noughts of its own.
const LOUD_STEPS: f32 = 6.0;
const STEP: f32 = 1.0 / 32_768.0;
/// and has gone on for so long, in seconds: between pulses is no hole.
const SINCE_S: f64 = 0.005;
/// Lengths that may be repeated, and over which they are compared, in seconds.
const SHORTEST_S: f64 = 0.004;
const LONGEST_S: f64 = 0.016;
const COMPARED_S: f64 = 0.006;
/// What is put in is as loud as what came before for so long, and gone after so long, in
/// seconds.
const WHOLE_S: f64 = 0.02;
const GONE_S: f64 = 0.04;
/// An attack is found up to this far from the edge that made it, in seconds.
const NEAR_S: f64 = 0.004;
/// In so long the sound takes over again, in seconds.
const JOINED_S: f64 = 0.002;

/// Mends holes in a stream of samples.
#[derive(Debug)]
pub(crate) struct Gaps {
    rate_hz: f64,
    /// What came in, and what went out.
    heard: Ring,
    told: Ring,
    /// Noughts in a row.
    noughts: usize,
    /// Samples since as many were noughts as there are in a hole.
    since: usize,
    /// How long the last hole was, if that was one.
    length: usize,
    /// How far back what is put in is taken from, while there is a hole.
    lag: usize,
    put_in: usize,
    /// By how much the end was off what it is most like.
    step: f32,
    /// Samples of the sound that were joined on.
    joined: usize,
}

impl Gaps {
    pub fn new(rate_hz: f64) -> Gaps {
        let longest = ((LONGEST_S + COMPARED_S) * rate_hz) as usize + 2;
        Gaps {
            rate_hz,
            heard: Ring::new(longest),
            told: Ring::new(longest),
            noughts: 0,
            since: 0,
            length: 0,
            lag: 0,
            put_in: 0,
            step: 0.0,
            joined: 0,
        }
    }

    fn samples(&self, seconds: f64) -> usize {
        (seconds * self.rate_hz) as usize
    }

    /// By how many samples the mended sound is later.
    pub fn delay(&self) -> usize {
        self.samples(LEAST_S)
    }

    /// Takes in a sample, and gives the one that is told. `step` is that of a sound
    /// that was rounded, or nought.
    pub fn mend(&mut self, sample: f32, step: f32) -> f32 {
        self.heard.push(sample);
        self.noughts = if sample == 0.0 { self.noughts + 1 } else { 0 };
        if self.noughts == self.delay() + 1 {
            self.begin(step);
        }
        if self.noughts > self.delay() {
            self.since = 0;
            self.length = if self.length > 0 { self.noughts } else { 0 };
        }
        let late = self.heard.end() as i64 - 1 - self.delay() as i64;
        let late = self.heard.at(late);
        self.since += 1;
        let told = if self.lag > 0 {
            self.put_in(late)
        } else {
            late
        };
        self.told.push(told);
        told
    }

    /// Noughts begin, in a row as long as a hole's.
    fn begin(&mut self, step: f32) {
        let is_hole = self.lag == 0 && self.is_hole(step);
        self.length = if is_hole { self.noughts } else { 0 };
        if is_hole {
            self.lag = self.likest();
            (self.put_in, self.joined) = (0, 0);
            let last = self.told.end() as i64 - 1;
            self.step = self.told.at(last) - self.told.at(last - self.lag as i64);
        }
    }

    /// Whether there was a hole so many samples ago, or nearly. What was longer than is
    /// mended was silence.
    pub fn was_there(&self, ago: f64) -> bool {
        let (near, since) = (NEAR_S * self.rate_hz, self.since as f64);
        let is_hole = (1..self.samples(GONE_S)).contains(&self.length);
        is_hole && ago > since - near && ago < since + self.length as f64 + near
    }

    /// Whether noughts that begin now are a hole.
    fn is_hole(&self, step: f32) -> bool {
        let span = self.samples(SINCE_S);
        let end = self.told.end() as i64;
        let loudest = (end - span as i64..end)
            .map(|at| self.told.at(at).abs())
            .fold(0.0, f32::max);
        self.since >= span && loudest > LOUD_STEPS * step.max(STEP)
    }

    /// How far back the sound is most like what came last.
    fn likest(&self) -> usize {
        let end = self.told.end() as i64;
        let compared = self.samples(COMPARED_S) as i64;
        let likeness = |lag: usize| {
            let (mut both, mut power) = (0.0f32, 1e-12f32);
            for at in end - compared..end {
                let back = self.told.at(at - lag as i64);
                both += self.told.at(at) * back;
                power += back * back;
            }
            both / power.sqrt()
        };
        let mut best = (self.samples(SHORTEST_S), f32::MIN);
        for lag in best.0..=self.samples(LONGEST_S) {
            let like = likeness(lag);
            if like > best.1 {
                best = (lag, like);
            }
        }
        best.0
    }

    fn put_in(&mut self, late: f32) -> f32 {
        let seconds = self.put_in as f64 / self.rate_hz;
        let share = ((GONE_S - seconds) / (GONE_S - WHOLE_S)).clamp(0.0, 1.0) as f32;
        let fresh = (1.0 - seconds / JOINED_S).max(0.0) as f32;
        let back = self.told.at(self.told.end() as i64 - self.lag as i64) + fresh * self.step;
        self.put_in += 1;
        if late != 0.0 || self.joined > 0 {
            self.joined += 1;
        }
        let own = (self.joined as f64 / (JOINED_S * self.rate_hz)).min(1.0) as f32;
        if own >= 1.0 || share <= 0.0 {
            self.lag = 0;
        }
        own * late + (1.0 - own) * share * back
    }

    /// Samples were lost.
    pub fn forget(&mut self) {
        self.heard.skip_to(self.heard.end());
        self.told.skip_to(self.told.end());
        (self.noughts, self.since, self.length, self.lag) = (0, 0, 0, 0);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE_HZ: f64 = 48_000.0;

    /// Two strings that ring, in 16 bits.
    fn ringing(i: usize) -> f32 {
        let t = i as f32 / RATE_HZ as f32;
        let wave = |hz: f32| (std::f32::consts::TAU * hz * t).sin();
        let sound = (-3.0 * t).exp() * (0.2 * wave(293.66) + 0.1 * wave(740.0));
        ((sound / STEP).round() * STEP).max(-1.0)
    }

    /// What becomes of two seconds of a sound, brought back in time.
    fn mended(sound: impl Fn(usize) -> f32) -> Vec<f32> {
        let mut gaps = Gaps::new(RATE_HZ);
        let all: Vec<f32> = (0..96_000).map(|i| gaps.mend(sound(i), 0.0)).collect();
        all[gaps.delay()..].to_vec()
    }

    fn power(sound: &[f32]) -> f32 {
        sound.iter().map(|x| x * x).sum::<f32>() / sound.len() as f32
    }

    #[test]
    fn a_hole_is_hardly_heard_and_the_rest_is_as_it_was() {
        let whole: Vec<f32> = (0..96_000).map(ringing).collect();
        for milliseconds in [1, 5, 15] {
            let hole = 24_000..24_000 + milliseconds * 48;
            let out = mended(|i| if hole.contains(&i) { 0.0 } else { ringing(i) });
            let after = hole.end + 96;
            assert!(out[..hole.start] == whole[..hole.start]);
            assert!(out[after..] == whole[after..out.len()]);
            // As loud in each thousandth of a second (half a period), within 3 dB.
            for at in (hole.start - 48..after).step_by(48) {
                let around = at - 48..at + 96;
                let ratio = power(&out[around.clone()]) / power(&whole[around]);
                assert!((0.5..2.0).contains(&ratio), "{milliseconds} ms: {ratio}");
            }
            // No step is larger than the sound's own.
            let jump = |sound: &[f32]| {
                let part = &sound[hole.start - 960..after + 960];
                let steps = part.windows(2).map(|pair| (pair[1] - pair[0]).abs());
                steps.fold(0.0, f32::max)
            };
            assert!(jump(&out) < 1.5 * jump(&whole), "{milliseconds} ms");
        }
    }

    #[test]
    fn what_ends_fades_at_once_and_stays_silent() {
        let out = mended(|i| if i < 24_000 { ringing(i) } else { 0.0 });
        assert!(power(&out[24_000..24_480]) > 0.5 * power(&out[23_520..24_000]));
        assert!(out[24_000 + 1_968..].iter().all(|&x| x == 0.0));
    }

    #[test]
    fn noughts_that_are_a_sounds_own_are_left_alone() {
        // Pulses in silence; what is soft and was rounded; silence, then a beginning.
        let pulses = |i: usize| f32::from(u8::from(i % 480 < 3)) * 0.5;
        let soft = |i: usize| (3.0 * (i as f32 * 0.002).sin()).round() * STEP;
        let begins = |i: usize| if i < 24_000 { 0.0 } else { ringing(i) };
        for (name, sound) in [
            ("pulses", &pulses as &dyn Fn(usize) -> f32),
            ("soft", &soft),
            ("begins", &begins),
        ] {
            let out = mended(sound);
            assert!((0..out.len()).all(|i| out[i] == sound(i)), "{name}");
        }
    }
}
