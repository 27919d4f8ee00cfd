//! How long sound takes from the output to the microphone: a quiet sweep is
//! played, and found again in what was recorded meanwhile.
//!
//! The sweep rises exponentially (Farina, "Simultaneous measurement of impulse
//! response and distortion with a swept-sine technique", AES 108, 2000), so that
//! each octave gets as much time as another. It is found by a matched filter
//! (Turin, IRE Trans. Inf. Theory 6:311, 1960), of whose result the envelope is
//! taken: a loudspeaker may turn the phase, or the sign, and the envelope does
//! not mind.

use std::f64::consts::{PI, TAU};

use realfft::num_complex::Complex;
use realfft::{ComplexToReal, RealFftPlanner, RealToComplex};
use std::sync::Arc;

/// Where the sweep begins and ends, in hertz: what small loudspeakers and
/// microphones still take.
const FROM_HZ: f64 = 300.0;
const UNTIL_HZ: f64 = 7_000.0;
/// How long it lasts, and how long it swells and fades, in seconds.
const LENGTH_S: f64 = 0.8;
const EDGE_S: f64 = 0.03;
/// Its largest sample, of full scale: 20 dB below it.
const PEAK: f64 = 0.1;
/// The recording must hold the sweep this clearly, in dB. Noise alone seldom
/// reaches 15 dB.
const CLEAR_DB: f64 = 20.0;
/// The sweep itself arrives before its echoes, which may be louder by so much,
/// in dB.
const ECHO_DB: f64 = 8.0;
/// From where an arrival begins to its top at the most, as a part of the sweep's
/// length: about a millisecond.
const LOBE: f64 = 0.0013;
/// What lies this near an arrival belongs to it, as a part of the sweep's length.
const NEAR: f64 = 0.005;

/// The test of a loop from output to input.
pub struct LoopTest;

/// Where a recording holds the sweep.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LoopDelay {
    /// Samples from the recording's first sample to the sweep's first, between
    /// the samples as well.
    pub samples: f64,
    /// How far the sweep stands out of the rest, in dB: at least 20.
    pub clearness_db: f64,
}

impl LoopTest {
    /// The sweep for a sample rate: mono, no sample above 0.1 of full scale, 0.8 s.
    pub fn signal(sample_rate_hz: u32) -> Vec<f32> {
        let rate = f64::from(sample_rate_hz);
        let until_hz = UNTIL_HZ.min(0.45 * rate);
        let growth = (until_hz / FROM_HZ).ln() / LENGTH_S;
        (0..(LENGTH_S * rate) as usize)
            .map(|i| {
                let t = (i as f64 + 0.5) / rate;
                let phase = TAU * FROM_HZ / growth * ((growth * t).exp() - 1.0);
                let edge = (t.min(LENGTH_S - t) / EDGE_S).clamp(0.0, 1.0);
                let swell = 0.5 - 0.5 * (PI * edge).cos();
                (PEAK * swell * phase.sin()) as f32
            })
            .collect()
    }

    /// Where a recording at the signal's rate holds all of the signal; `None` if
    /// it is not clearly there.
    pub fn find(signal: &[f32], recording: &[f32]) -> Option<LoopDelay> {
        let last = recording.len().checked_sub(signal.len())?;
        if signal.is_empty() {
            return None;
        }
        let envelope = matched(signal, recording);
        let envelope = &envelope[..=last];
        let highest = envelope.iter().copied().fold(0.0, f64::max);
        if highest <= 0.0 || !highest.is_finite() {
            return None;
        }
        let early = highest * 10f64.powf(-ECHO_DB / 20.0);
        let first = envelope.iter().position(|x| *x >= early)?;
        // From there on to the top of that arrival.
        let within = first..=(first + (LOBE * signal.len() as f64) as usize).min(last);
        let top = within.max_by(|a, b| envelope[*a].total_cmp(&envelope[*b]))?;
        let near = (NEAR * signal.len() as f64) as usize;
        let rest = envelope
            .iter()
            .enumerate()
            .filter(|(i, x)| i.abs_diff(top) > near && **x < early);
        let (count, power) = rest.fold((0u32, 0.0), |(n, sum), (_, x)| (n + 1, sum + x * x));
        let ground = (power / f64::from(count.max(1))).sqrt();
        let clearness_db = 20.0 * (envelope[top] / ground.max(highest * 1e-6)).log10();
        (count > 0 && clearness_db >= CLEAR_DB).then(|| LoopDelay {
            samples: top as f64 + between(envelope, top),
            clearness_db,
        })
    }
}

/// How far from a sample the parabola through it and its neighbours has its top.
fn between(values: &[f64], top: usize) -> f64 {
    if top == 0 || top + 1 >= values.len() {
        return 0.0;
    }
    let (before, here, after) = (values[top - 1], values[top], values[top + 1]);
    let bend = before - 2.0 * here + after;
    if bend < 0.0 {
        (0.5 * (before - after) / bend).clamp(-0.5, 0.5)
    } else {
        0.0
    }
}

/// The envelope of the recording after a filter that is matched to the signal;
/// one value for each place where the signal may begin.
fn matched(signal: &[f32], recording: &[f32]) -> Vec<f64> {
    let size = (signal.len() + recording.len()).next_power_of_two();
    let mut planner = RealFftPlanner::<f64>::new();
    let forward = planner.plan_fft_forward(size);
    let back = planner.plan_fft_inverse(size);
    let ours = spectrum(&forward, signal);
    let mut heard = spectrum(&forward, recording);
    for (x, s) in heard.iter_mut().zip(&ours) {
        *x *= s.conj();
    }
    // The same with every partial a quarter turn on; both together make the
    // envelope.
    let mut turned: Vec<Complex<f64>> = heard.iter().map(|x| x * Complex::new(0.0, -1.0)).collect();
    let straight = in_time(&back, &mut heard);
    let aside = in_time(&back, &mut turned);
    straight
        .iter()
        .zip(&aside)
        .map(|(a, b)| a.hypot(*b))
        .collect()
}

fn spectrum(forward: &Arc<dyn RealToComplex<f64>>, sound: &[f32]) -> Vec<Complex<f64>> {
    let mut input = forward.make_input_vec();
    for (slot, x) in input.iter_mut().zip(sound) {
        *slot = if x.is_finite() { f64::from(*x) } else { 0.0 };
    }
    let mut output = forward.make_output_vec();
    // The lengths are those that the transform itself made.
    let done = forward.process(&mut input, &mut output);
    debug_assert!(done.is_ok());
    output
}

fn in_time(back: &Arc<dyn ComplexToReal<f64>>, spectrum: &mut [Complex<f64>]) -> Vec<f64> {
    // The lowest and the highest partial of a real sound have no phase.
    for end in [0, spectrum.len() - 1] {
        spectrum[end].im = 0.0;
    }
    let mut output = back.make_output_vec();
    let done = back.process(spectrum, &mut output);
    debug_assert!(done.is_ok());
    output
}

#[cfg(test)]
mod tests {
    use super::*;

    struct Noise(u64);

    impl Noise {
        /// Uniform, one standard deviation being 1 (xorshift: Marsaglia, J.
        /// Stat. Softw. 8:14, 2003).
        fn next(&mut self) -> f64 {
            self.0 ^= self.0 << 13;
            self.0 ^= self.0 >> 7;
            self.0 ^= self.0 << 17;
            ((self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0) * 3f64.sqrt()
        }
    }

    /// The signal as it arrives: between samples by a windowed sinc.
    fn arriving(signal: &[f32], delay: f64, gain: f64, length: usize) -> Vec<f64> {
        let whole = delay.floor() as isize;
        let part = delay - delay.floor();
        (0..length as isize)
            .map(|i| {
                let sum: f64 = (-32..=32)
                    .filter_map(|k: isize| {
                        let from = usize::try_from(i - whole - k).ok()?;
                        let x = k as f64 - part;
                        let sinc = if x == 0.0 {
                            1.0
                        } else {
                            (PI * x).sin() / (PI * x)
                        };
                        let window = 0.5 + 0.5 * (PI * x / 33.0).cos();
                        Some(f64::from(*signal.get(from)?) * sinc * window)
                    })
                    .sum();
                gain * sum
            })
            .collect()
    }

    fn noisy(sound: &[f64], noise: f64, seed: u64) -> Vec<f32> {
        let mut source = Noise(seed * 2 + 1);
        sound
            .iter()
            .map(|x| (x + noise * source.next()) as f32)
            .collect()
    }

    #[test]
    fn the_signal_is_quiet_and_begins_and_ends_softly() {
        for rate_hz in [32_000, 44_100, 48_000, 96_000] {
            let signal = LoopTest::signal(rate_hz);
            let peak = signal.iter().fold(0.0f32, |peak, x| peak.max(x.abs()));
            assert!((0.09..=0.1).contains(&peak), "{peak}");
            assert!((signal.len() as f64 / f64::from(rate_hz) - 0.8).abs() < 0.001);
            assert!(signal[0].abs() < 1e-4 && signal[signal.len() - 1].abs() < 1e-3);
        }
    }

    #[test]
    fn a_delay_between_samples_is_found() {
        for rate_hz in [44_100, 48_000, 96_000] {
            let signal = LoopTest::signal(rate_hz);
            for delay in [0.0, 100.0, 2_345.25, 9_999.5, 20_000.77] {
                let sound = arriving(&signal, delay, -0.2, 2 * signal.len());
                let found = LoopTest::find(&signal, &noisy(&sound, 1e-4, 5)).expect("found");
                assert!((found.samples - delay).abs() < 0.1, "{delay}: {found:?}");
                assert!(found.clearness_db > 30.0, "{found:?}");
            }
        }
    }

    #[test]
    fn far_below_the_noise_it_is_still_found() {
        let signal = LoopTest::signal(48_000);
        let power: f64 = signal.iter().map(|x| f64::from(*x).powi(2)).sum();
        let level = (power / signal.len() as f64).sqrt();
        for seed in 1..=5 {
            let delay = 3_000.0 + 777.7 * seed as f64;
            let sound = arriving(&signal, delay, 0.01, 100_000);
            // 10 dB more noise than sweep.
            let noise = 0.01 * level * 10f64.powf(0.5);
            let found = LoopTest::find(&signal, &noisy(&sound, noise, seed)).expect("found");
            assert!((found.samples - delay).abs() < 2.0, "{delay}: {found:?}");
        }
    }

    #[test]
    fn the_first_arrival_counts_though_an_echo_is_louder() {
        let signal = LoopTest::signal(48_000);
        let mut sound = arriving(&signal, 1_000.0, 0.1, 90_000);
        for (x, echo) in sound
            .iter_mut()
            .zip(arriving(&signal, 1_400.0, 0.15, 90_000))
        {
            *x += echo;
        }
        let found = LoopTest::find(&signal, &noisy(&sound, 1e-4, 3)).expect("found");
        assert!((found.samples - 1_000.0).abs() < 1.0, "{found:?}");
    }

    #[test]
    fn what_is_not_there_is_not_found() {
        let signal = LoopTest::signal(48_000);
        assert_eq!(LoopTest::find(&signal, &[]), None);
        assert_eq!(LoopTest::find(&signal, &vec![0.0; 90_000]), None);
        for seed in 1..=30 {
            let noise = noisy(&vec![0.0; 90_000], 0.1, seed);
            assert_eq!(LoopTest::find(&signal, &noise), None, "seed {seed}");
        }
        // A tone, and the sweep played backwards.
        let tone: Vec<f32> = (0..90_000)
            .map(|i| 0.3 * (f64::from(i) * 0.08).sin() as f32)
            .collect();
        assert_eq!(LoopTest::find(&signal, &tone), None);
        let mut backwards: Vec<f32> = vec![0.0; 20_000];
        backwards.extend(signal.iter().rev());
        backwards.extend(vec![0.0; 20_000]);
        assert_eq!(LoopTest::find(&signal, &backwards), None);
        // Only half of it.
        let mut half = vec![0.0; 50_000];
        half[..19_000].copy_from_slice(&signal[signal.len() - 19_000..]);
        assert_eq!(LoopTest::find(&signal, &half), None);
    }
}
