use std::f64::consts::{PI, TAU};

use super::*;

/// Uniform noise (xorshift: Marsaglia, J. Stat. Softw. 8:14, 2003).
struct Noise(u64);

impl Noise {
    fn next(&mut self) -> f64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        (self.0 >> 11) as f64 / (1u64 << 52) as f64 - 1.0
    }
}

/// A string that is plucked after some silence.
#[derive(Clone, Copy)]
struct Plucked {
    /// Where its first partial lies.
    hz: f64,
    stiffness: f64,
    falls_60_db_in_s: f64,
    /// Where it is plucked, as a part of its length.
    place: f64,
    level: f64,
    /// The microphone takes what lies below badly, 12 dB an octave.
    deaf_below_hz: f64,
}

impl Plucked {
    fn at(hz: f64) -> Plucked {
        Plucked {
            hz,
            stiffness: 1e-4,
            // Low strings ring longer (common practice, no source).
            falls_60_db_in_s: (600.0 / hz).clamp(1.0, 6.0),
            place: 0.17,
            level: 0.2,
            deaf_below_hz: 0.0,
        }
    }

    fn sound(&self, seconds: f64, rate_hz: u32, noise_db: f64) -> Vec<f32> {
        let rate = f64::from(rate_hz);
        let ideal = self.hz / (1.0 + self.stiffness).sqrt();
        let lead = rate_hz as usize / 10;
        let mut noise = Noise(0x9E37_79B9);
        let hiss = self.level * 10f64.powf(noise_db / 20.0) * 3f64.sqrt();
        let partials: Vec<(f64, f64, f64)> = (1..=24)
            .map(f64::from)
            .map(|n| {
                let hz = n * ideal * (1.0 + self.stiffness * n * n).sqrt();
                let taken = (hz / self.deaf_below_hz.max(1e-3)).powi(2).min(1.0);
                let size = (PI * n * self.place).sin().abs() / n * taken;
                (hz, size, 6.91 / self.falls_60_db_in_s * (1.0 + 0.1 * n))
            })
            .filter(|(hz, _, _)| *hz < 0.45 * rate)
            .collect();
        (0..lead + (seconds * rate) as usize)
            .map(|i| {
                let hiss = hiss * noise.next();
                let Some(i) = i.checked_sub(lead) else {
                    return hiss as f32;
                };
                let t = i as f64 / rate;
                let sum: f64 = partials
                    .iter()
                    .map(|(hz, size, dies)| size * (-dies * t).exp() * (TAU * hz * t + hz).sin())
                    .sum();
                (self.level * sum * (t / 0.002).min(1.0) + hiss) as f32
            })
            .collect()
    }
}

/// All readings, each once, with the milliseconds since the pluck.
fn readings(sound: &[f32], rate_hz: u32) -> Vec<(f64, Reading)> {
    let mut tuner = Tuner::new(rate_hz, Reference::default()).expect("a tuner");
    let mut out: Vec<(f64, Reading)> = Vec::new();
    for block in sound.chunks(64) {
        tuner.hear(block);
        if let Some(reading) = tuner.reading()
            && out.last().is_none_or(|(_, last)| last.at != reading.at)
        {
            out.push((
                reading.at as f64 * 1000.0 / f64::from(rate_hz) - 100.0,
                reading,
            ));
        }
    }
    out
}

fn cents(from: f64, to: f64) -> f64 {
    1200.0 * (to / from).log2()
}

/// Every semitone from E1 to C7, and a little off it.
fn strings() -> impl Iterator<Item = f64> {
    (28u8..=96).map(|midi| {
        let pitch = Pitch::new(midi).expect("a pitch");
        let off = f64::from(midi % 7) * 9.0 - 27.0;
        pitch.frequency_hz(Reference::default()) * (off / 1200.0).exp2()
    })
}

#[test]
fn one_string_is_read_within_a_cent_from_e1_to_c7() {
    for rate_hz in [44_100, 48_000, 96_000] {
        for hz in strings() {
            for stiffness in [0.0, 1e-4, 6e-4] {
                let string = Plucked {
                    stiffness,
                    ..Plucked::at(hz)
                };
                let read = readings(&string.sound(0.6, rate_hz, -50.0), rate_hz);
                let what = format!("{hz:.2} Hz, stiffness {stiffness}, {rate_hz} Hz");
                let first = read.first().unwrap_or_else(|| panic!("{what}: nothing"));
                assert!(first.0 < 200.0, "{what}: first after {} ms", first.0);
                assert!(read.len() >= 10, "{what}: {} readings", read.len());
                for (ms, reading) in read {
                    let off = cents(hz, reading.frequency_hz);
                    assert!(off.abs() < 1.0, "{what}, after {ms} ms: {off}");
                }
            }
        }
    }
}

#[test]
fn a_microphone_that_hardly_takes_the_low_in_reads_the_same() {
    for hz in [41.2, 55.0, 61.7, 73.4, 82.4, 98.0, 110.0] {
        let string = Plucked {
            deaf_below_hz: 250.0,
            ..Plucked::at(hz)
        };
        let read = readings(&string.sound(0.6, 48_000, -50.0), 48_000);
        assert!(read.len() >= 10, "{hz}: {read:?}");
        for (ms, reading) in read {
            let off = cents(hz, reading.frequency_hz);
            assert!(off.abs() < 1.5, "{hz} Hz after {ms} ms: {off}");
        }
    }
}

#[test]
fn a_noisy_room_costs_little() {
    for hz in [82.4, 146.8, 196.0, 293.7, 587.3] {
        let string = Plucked::at(hz);
        for (ms, reading) in readings(&string.sound(0.5, 48_000, -20.0), 48_000) {
            let off = cents(hz, reading.frequency_hz);
            assert!(off.abs() < 2.0, "{hz} Hz after {ms} ms: {off}");
        }
    }
}

#[test]
fn the_note_and_how_far_off_it_is_follow_from_the_reference() {
    let sound = Plucked::at(292.0).sound(0.4, 48_000, -50.0);
    let a415 = Reference::new(415.0).expect("a reference");
    let mut tuner = Tuner::new(48_000, a415).expect("a tuner");
    tuner.hear(&sound);
    let reading = tuner.reading().expect("a reading");
    // 1200·log2(292/415) = -608.6, so D sharp (-600) less 8.6.
    assert_eq!(reading.pitch.midi(), 63);
    assert!((reading.cents + 8.6).abs() < 1.0, "{reading:?}");
}

fn both(one: Plucked, other: Plucked) -> Vec<f32> {
    let one = one.sound(0.4, 48_000, -50.0);
    let other = other.sound(0.4, 48_000, -50.0);
    one.iter().zip(&other).map(|(a, b)| a + b).collect()
}

#[test]
fn two_strings_at_once_are_refused() {
    for low in [98.0, 146.8, 196.0, 246.9, 293.7] {
        for semitones in [1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 13, 14, 16] {
            for level in [0.2, 0.12] {
                let high = low * (f64::from(semitones) / 12.0).exp2();
                let other = Plucked {
                    level,
                    ..Plucked::at(high)
                };
                let read = readings(&both(Plucked::at(low), other), 48_000);
                assert_eq!(read, [], "{low} Hz and {semitones} semitones more");
            }
        }
    }
    let mut tuner = Tuner::new(48_000, Reference::default()).expect("a tuner");
    tuner.hear(&both(Plucked::at(196.0), Plucked::at(246.9)));
    assert_eq!(tuner.doubt(), Some(EarDoubt::SeveralNotes));
}

#[test]
fn an_open_chord_is_refused() {
    let chord = both(Plucked::at(196.0), Plucked::at(246.94));
    let top = Plucked::at(293.66).sound(0.4, 48_000, -50.0);
    let chord: Vec<f32> = chord.iter().zip(&top).map(|(a, b)| a + b).collect();
    assert_eq!(readings(&chord, 48_000), []);
}

#[test]
fn noise_and_silence_read_nothing() {
    let mut noise = Noise(77);
    let hiss: Vec<f32> = (0..480_000).map(|_| (0.2 * noise.next()) as f32).collect();
    assert_eq!(readings(&hiss, 48_000), []);
    assert_eq!(readings(&vec![0.0; 100_000], 48_000), []);
}

#[test]
fn a_new_pluck_is_read_anew_and_lost_samples_wait_for_one() {
    let mut sound = Plucked::at(196.0).sound(0.6, 48_000, -50.0);
    sound.extend(&Plucked::at(293.7).sound(0.6, 48_000, -50.0)[4_800..]);
    let read = readings(&sound, 48_000);
    let near = |hz: f64| {
        let is = |(_, reading): &&(f64, Reading)| cents(hz, reading.frequency_hz).abs() < 2.0;
        read.iter().filter(is).count()
    };
    assert!(near(196.0) >= 10 && near(293.7) >= 10, "{read:?}");
    assert!(near(196.0) + near(293.7) + 1 >= read.len(), "{read:?}");

    let mut tuner = Tuner::new(48_000, Reference::default()).expect("a tuner");
    tuner.hear(&sound[..20_000]);
    assert!(tuner.reading().is_some());
    tuner.skip(500);
    assert_eq!(tuner.reading(), None);
    assert_eq!(tuner.position(), 20_500);
}

#[test]
fn listening_allocates_nothing() {
    let sound = Plucked::at(196.0).sound(1.0, 48_000, -50.0);
    let mut tuner = Tuner::new(48_000, Reference::default()).expect("a tuner");
    let used = allocation_counter::measure(|| {
        tuner.hear(&sound);
        tuner.hear(&[f32::NAN; 64]);
        tuner.skip(9);
        tuner.hear(&sound);
    });
    assert_eq!(used.count_total, 0);
    assert!(tuner.reading().is_some());
}
