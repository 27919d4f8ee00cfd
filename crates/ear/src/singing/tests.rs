use std::f64::consts::{PI, TAU};

use super::*;

/// Formants of vowels, in hertz, of men's voices: Peterson and Barney, "Control
/// methods used in a study of the vowels", JASA 24:175, 1952, table II (from
/// memory).
const VOWELS: [[f64; 3]; 4] = [
    [730.0, 1090.0, 2440.0],
    [270.0, 2290.0, 3010.0],
    [300.0, 870.0, 2240.0],
    [530.0, 1840.0, 2480.0],
];

/// A voice: a glottal pulse (Rosenberg, JASA 49:583, 1971, the shape with a
/// cosine that rises and one that falls) through three resonances.
#[derive(Clone, Copy)]
struct Voice {
    hz: f64,
    vowel: [f64; 3],
    vibrato_hz: f64,
    vibrato_cents: f64,
    /// Change of each period at random, one standard deviation in cents.
    jitter_cents: f64,
    /// Breath, as a part of the voice's own level, in dB.
    breath_db: f64,
    glide_cents_per_s: f64,
    seconds: f64,
    level: f64,
}

impl Voice {
    fn of(hz: f64) -> Voice {
        Voice {
            hz,
            vowel: VOWELS[0],
            vibrato_hz: 5.5,
            vibrato_cents: 0.0,
            jitter_cents: 8.0,
            breath_db: -40.0,
            glide_cents_per_s: 0.0,
            seconds: 0.8,
            level: 0.2,
        }
    }

    fn sing(&self, rate_hz: u32, seed: u64) -> Vec<f32> {
        let rate = f64::from(rate_hz);
        let mut noise = Noise(seed.wrapping_mul(2).wrapping_add(1));
        let (mut phase, mut jitter, mut last) = (0.0f64, 0.0, 0.0);
        let mut tract: Vec<Resonance> = self
            .vowel
            .iter()
            .zip([80.0, 110.0, 160.0])
            .map(|(hz, width)| Resonance::new(*hz, width, rate))
            .collect();
        let count = (self.seconds * rate) as usize;
        let mut out: Vec<f64> = (0..count)
            .map(|i| {
                let t = i as f64 / rate;
                let vibrato = self.vibrato_cents * (TAU * self.vibrato_hz * t).sin();
                let cents = vibrato + jitter + self.glide_cents_per_s * t;
                phase += self.hz * (cents / 1200.0).exp2() / rate;
                if phase >= 1.0 {
                    phase -= 1.0;
                    jitter = self.jitter_cents * noise.normal();
                }
                let flow = match phase {
                    p if p < 0.4 => 0.5 * (1.0 - (PI * p / 0.4).cos()),
                    p if p < 0.56 => (0.5 * PI * (p - 0.4) / 0.16).cos(),
                    _ => 0.0,
                };
                let pressed = flow - last;
                last = flow;
                tract.iter_mut().fold(pressed, |x, part| part.push(x))
            })
            .collect();
        let power = out.iter().map(|x| x * x).sum::<f64>() / count as f64;
        let size = self.level / power.sqrt();
        let breath = self.level * 10f64.powf(self.breath_db / 20.0);
        // A voice sets in and ends within about 50 ms.
        let edge = 0.05 * rate;
        for (i, x) in out.iter_mut().enumerate() {
            let near = i.min(count - 1 - i) as f64;
            let swell = (near / edge).min(1.0);
            *x = *x * size * swell + breath * noise.normal();
        }
        out.iter().map(|x| *x as f32).collect()
    }
}

struct Resonance {
    a: [f64; 2],
    past: [f64; 2],
}

impl Resonance {
    fn new(hz: f64, width_hz: f64, rate: f64) -> Resonance {
        let r = (-PI * width_hz / rate).exp();
        Resonance {
            a: [2.0 * r * (TAU * hz / rate).cos(), -r * r],
            past: [0.0; 2],
        }
    }

    fn push(&mut self, x: f64) -> f64 {
        let gain = 1.0 - self.a[0] - self.a[1];
        let y = gain * x + self.a[0] * self.past[0] + self.a[1] * self.past[1];
        self.past = [y, self.past[0]];
        y
    }
}

/// Xorshift (Marsaglia, J. Stat. Softw. 8:14, 2003).
pub(crate) struct Noise(pub u64);

impl Noise {
    fn uniform(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }

    /// The sum of twelve uniform ones, which is near enough.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
    }
}

fn heard(sound: &[f32], rate_hz: u32) -> Vec<Sung> {
    let mut singer = Singer::new(rate_hz).expect("a singer");
    let mut out = Vec::new();
    for block in sound.chunks(480) {
        singer.hear(block);
        out.extend(std::iter::from_fn(|| singer.poll()));
    }
    singer.hear(&vec![0.0; rate_hz as usize / 4]);
    out.extend(std::iter::from_fn(|| singer.poll()));
    out
}

fn cents_off(sung: &Sung, hz: f64) -> f64 {
    1200.0 * (sung.frequency_hz / hz).log2()
}

#[track_caller]
fn one(voice: &Voice, rate_hz: u32, seed: u64) -> Sung {
    let notes = heard(&voice.sing(rate_hz, seed), rate_hz);
    assert_eq!(notes.len(), 1, "{} Hz: {notes:?}", voice.hz);
    notes[0]
}

#[test]
fn every_vowel_at_every_height_is_heard_within_five_cents() {
    let mut worst: f64 = 0.0;
    for (seed, vowel) in VOWELS.iter().enumerate() {
        for hz in [70.0, 98.3, 146.8, 220.0, 311.1, 440.0, 622.3, 880.0, 1100.0] {
            for rate_hz in [44_100, 48_000, 96_000] {
                let voice = Voice {
                    vowel: *vowel,
                    ..Voice::of(hz)
                };
                let off = cents_off(&one(&voice, rate_hz, seed as u64 + 1), hz);
                worst = worst.max(off.abs());
                assert!(off.abs() < 5.0, "{hz} Hz {vowel:?}: {off}");
            }
        }
    }
    assert!(worst > 0.0);
}

#[test]
fn a_vibrato_is_averaged_out() {
    for hz in [82.4, 130.8, 196.0, 293.7, 440.0, 659.3, 987.8] {
        for (vibrato_hz, vibrato_cents) in [(5.0, 50.0), (5.5, 100.0), (6.3, 100.0), (7.0, 100.0)] {
            for seconds in [0.55, 0.7, 0.83, 1.4] {
                let voice = Voice {
                    vibrato_hz,
                    vibrato_cents,
                    seconds,
                    ..Voice::of(hz)
                };
                let sung = one(&voice, 48_000, 3);
                let off = cents_off(&sung, hz);
                let what = format!("{hz} Hz, {vibrato_hz} Hz by {vibrato_cents}, {seconds} s");
                assert!(off.abs() < 5.0, "{what}: {off}");
                // A sine strays by its height over the root of two.
                let spread = vibrato_cents / 2f64.sqrt();
                let part = sung.spread_cents / spread;
                assert!((0.8..1.25).contains(&part), "{what}: {sung:?}");
            }
        }
    }
}

#[test]
fn breath_and_a_noisy_room_do_not_move_it() {
    for breath_db in [-20.0, -10.0, -6.0] {
        for hz in [110.0, 220.0, 440.0, 880.0] {
            for seed in 1..=5 {
                let voice = Voice {
                    breath_db,
                    vibrato_cents: 60.0,
                    seconds: 1.0,
                    ..Voice::of(hz)
                };
                let off = cents_off(&one(&voice, 48_000, seed), hz);
                assert!(off.abs() < 5.0, "{hz} Hz, breath {breath_db} dB: {off}");
            }
        }
    }
}

/// Laptop microphones and telephones cut what lies low.
#[test]
fn a_fundamental_that_the_microphone_cut_is_not_missed() {
    for hz in [82.4, 110.0, 146.8, 185.0] {
        for vowel in VOWELS {
            let voice = Voice {
                vowel,
                vibrato_cents: 50.0,
                ..Voice::of(hz)
            };
            let mut sound = voice.sing(48_000, 1);
            // Two notches at the fundamental, and all below it cut.
            for _ in 0..3 {
                high_pass(&mut sound, 1.5 * hz, 48_000.0);
            }
            let notes = heard(&sound, 48_000);
            assert_eq!(notes.len(), 1, "{hz} Hz {vowel:?}: {notes:?}");
            let off = cents_off(&notes[0], hz);
            assert!(off.abs() < 5.0, "{hz} Hz {vowel:?}: {off}");
        }
    }
}

/// A Butterworth high-pass of second order.
fn high_pass(sound: &mut [f32], cut_hz: f64, rate_hz: f64) {
    let (sin, cos) = (TAU * cut_hz / rate_hz).sin_cos();
    let alpha = sin * 0.5f64.sqrt();
    let a0 = 1.0 + alpha;
    let b = (1.0 + cos) / 2.0 / a0;
    let mut filter = Biquad {
        b: [b, -2.0 * b, b],
        a: [-2.0 * cos / a0, (1.0 - alpha) / a0],
        state: [0.0; 2],
    };
    for x in sound {
        *x = filter.push(f64::from(*x)) as f32;
    }
}

#[test]
fn notes_in_a_row_are_told_apart_and_placed() {
    let mut sound = Vec::new();
    let tune = [196.0, 220.0, 246.9, 196.0, 392.0];
    for hz in tune {
        let voice = Voice {
            vibrato_cents: 40.0,
            seconds: 0.9,
            ..Voice::of(hz)
        };
        sound.extend(voice.sing(48_000, 5));
    }
    let notes = heard(&sound, 48_000);
    assert_eq!(notes.len(), tune.len(), "{notes:?}");
    for (index, (note, hz)) in notes.iter().zip(tune).enumerate() {
        assert!(cents_off(note, hz).abs() < 5.0, "{note:?}");
        let begin = index as f64 * 0.9 * 48_000.0;
        let (from, until) = (note.from as f64 - begin, note.until as f64 - begin);
        assert!((0.0..0.25 * 48_000.0).contains(&from), "{note:?}");
        assert!(
            (0.6 * 48_000.0..0.95 * 48_000.0).contains(&until),
            "{note:?}"
        );
    }
}

#[test]
fn a_long_note_is_told_once_and_before_its_end() {
    let voice = Voice {
        seconds: 4.0,
        vibrato_cents: 60.0,
        ..Voice::of(247.0)
    };
    let sound = voice.sing(48_000, 2);
    let mut singer = Singer::new(48_000).expect("a singer");
    singer.hear(&sound[..72_000]);
    let first = singer.poll().expect("told after a second");
    assert!(cents_off(&first, 247.0).abs() < 5.0);
    singer.hear(&sound[72_000..]);
    singer.hear(&[0.0; 12_000]);
    assert_eq!(singer.poll(), None);
}

#[test]
fn what_is_short_or_glides_or_is_noise_is_no_held_note() {
    let short = Voice {
        seconds: 0.3,
        ..Voice::of(220.0)
    };
    assert_eq!(heard(&short.sing(48_000, 1), 48_000), []);
    for glide_cents_per_s in [-900.0, 400.0, 700.0] {
        let glide = Voice {
            glide_cents_per_s,
            seconds: 1.5,
            ..Voice::of(220.0)
        };
        assert_eq!(heard(&glide.sing(48_000, 1), 48_000), []);
    }
    let mut noise = Noise(9);
    let hiss: Vec<f32> = (0..48_000 * 20)
        .map(|_| 0.1 * noise.normal() as f32)
        .collect();
    assert_eq!(heard(&hiss, 48_000), []);
}

/// A stiff string that is let go: partials that decay, the higher the faster
/// (Fletcher and Rossing, "The Physics of Musical Instruments", 2.18 and 12).
fn string(hz: f64, falls_60_db_in_s: f64, seconds: f64, rate_hz: f64) -> Vec<f32> {
    let stiffness = 2e-4;
    (0..(seconds * rate_hz) as usize)
        .map(|i| {
            let t = i as f64 / rate_hz;
            let partial = |n: f64| {
                let at = n * hz * (1.0f64 + stiffness * n * n).sqrt();
                let dies = 6.91 / falls_60_db_in_s * (1.0 + 0.15 * n);
                let here = (PI * n * 0.22).sin() / n;
                here * (-dies * t).exp() * (TAU * at * t).sin()
            };
            let sum: f64 = (1..=10).map(f64::from).map(partial).sum();
            (0.3 * sum * (t / 0.002).min(1.0)) as f32
        })
        .collect()
}

#[test]
fn a_plucked_string_is_not_singing() {
    for hz in [82.4, 98.0, 146.8, 196.0, 293.7, 392.0, 587.3] {
        for falls_60_db_in_s in [1.0, 2.5, 6.0, 12.0] {
            let sound = string(hz, falls_60_db_in_s, 2.5, 48_000.0);
            let notes = heard(&sound, 48_000);
            assert_eq!(notes, [], "{hz} Hz, {falls_60_db_in_s} s");
        }
        let mut roll = Vec::new();
        for _ in 0..8 {
            roll.extend(string(hz, 2.0, 0.25, 48_000.0));
        }
        assert_eq!(heard(&roll, 48_000), [], "a roll on {hz} Hz");
    }
}

#[test]
fn the_live_pitch_is_there_while_somebody_sings() {
    let voice = Voice {
        seconds: 1.0,
        vibrato_cents: 50.0,
        ..Voice::of(330.0)
    };
    let mut singer = Singer::new(44_100).expect("a singer");
    assert_eq!(singer.current(), None);
    singer.hear(&voice.sing(44_100, 1)[..30_000]);
    let hz = singer.current().expect("sings");
    assert!((1200.0 * (hz / 330.0).log2()).abs() < 30.0, "{hz}");
    singer.hear(&[0.0; 10_000]);
    assert_eq!(singer.current(), None);
}

#[test]
fn lost_samples_end_the_note_and_move_the_positions_on() {
    let voice = Voice {
        seconds: 0.8,
        ..Voice::of(262.0)
    };
    let sound = voice.sing(48_000, 1);
    let mut singer = Singer::new(48_000).expect("a singer");
    singer.hear(&sound[..33_600]);
    singer.skip(1_000_000);
    assert_eq!(singer.position(), 1_033_600);
    assert!(singer.poll().is_some_and(|note| note.until < 33_600));
    singer.hear(&sound);
    singer.hear(&[0.0; 12_000]);
    assert!(singer.poll().is_some_and(|note| note.from > 1_033_600));
    assert_eq!(singer.poll(), None);
}

#[test]
fn the_blocks_do_not_matter() {
    let voice = Voice {
        vibrato_cents: 80.0,
        ..Voice::of(175.0)
    };
    let sound = voice.sing(48_000, 4);
    let whole = heard(&sound, 48_000);
    let mut singer = Singer::new(48_000).expect("a singer");
    for sample in sound.chunks(1) {
        singer.hear(sample);
    }
    singer.hear(&[0.0; 12_000]);
    assert_eq!(
        std::iter::from_fn(|| singer.poll()).collect::<Vec<_>>(),
        whole
    );
}

#[test]
fn listening_allocates_nothing() {
    let voice = Voice {
        vibrato_cents: 80.0,
        ..Voice::of(175.0)
    };
    let sound = voice.sing(48_000, 4);
    let mut singer = Singer::new(48_000).expect("a singer");
    let used = allocation_counter::measure(|| {
        singer.hear(&sound);
        singer.hear(&[f32::NAN; 100]);
        singer.skip(100);
        singer.hear(&sound);
        while singer.poll().is_some() {}
    });
    assert_eq!(used.count_total, 0);
}

#[test]
fn a_rate_that_no_microphone_has_is_refused() {
    assert!(Singer::new(8_000).is_err() && Singer::new(1_000_000).is_err());
}
