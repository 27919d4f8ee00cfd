//! The tone sounds as it should: its octave is plain, it is short where it must
//! be, and no note is much louder than another.

use fifthpeg_measure::{cents, equal_temperament_hz, octave, spectrum, wide};
use fifthpeg_tone::{Level, ToneSpec, Voice, render};
use fifthpeg_vocab::Choice;

/// Every voice.
fn voices() -> Vec<Voice> {
    Voice::ALL.iter().map(|row| row.value).collect()
}

const RATE_HZ: u32 = 48_000;
const RATE: f64 = 48_000.0;
const D2: u8 = 38;
const C7: u8 = 96;
const SEEDS: [u32; 3] = [0, 77, u32::MAX];

fn note(midi: u8, voice: Voice, pluck_seed: u32) -> Vec<f64> {
    let spec = ToneSpec {
        frequency_hz: equal_temperament_hz(midi),
        voice,
        pluck_seed,
        level: Level::from_percent(100).unwrap(),
    };
    wide(&render(&spec, RATE_HZ).unwrap())
}

/// Calls `check` with every note, voice and seed.
fn every_note(check: impl Fn(u8, Voice, &[f64])) {
    for voice in voices() {
        for midi in D2..=C7 {
            for seed in SEEDS {
                check(midi, voice, &note(midi, voice, seed));
            }
        }
    }
}

/// The rule against hearing the wrong octave, for every note of every voice:
/// the fundamental is within 6 dB of the strongest partial, and the spectrum
/// balances no higher than 900 Hz above the second partial. Our own rule, no
/// source. (A sampled General MIDI banjo has its fundamental more than 10 dB
/// down on every note.)
#[test]
fn the_fundamental_is_strong_and_the_tone_is_not_too_bright() {
    every_note(|midi, voice, samples| {
        let power = spectrum::power(samples, RATE, 0.25);
        let fundamental_hz = equal_temperament_hz(midi);
        let partials = spectrum::partials_db(&power, fundamental_hz);
        let strongest = partials.iter().copied().fold(f64::MIN, f64::max);
        let below = strongest - partials[0];
        assert!(
            below <= 6.0,
            "{voice:?}, MIDI {midi}: fundamental {below} dB down"
        );
        let centroid = spectrum::centroid_hz(&power);
        assert!(
            centroid < 2.0 * fundamental_hz + 900.0,
            "{voice:?}, MIDI {midi}: balances at {centroid} Hz"
        );
    });
}

/// Two estimators, each free to go an octave or more astray, never do.
#[test]
fn no_estimator_hears_the_wrong_octave() {
    every_note(|midi, voice, samples| {
        let true_hz = equal_temperament_hz(midi);
        for (name, hz) in [
            ("self-likeness", octave::by_self_likeness_hz(samples, RATE)),
            ("harmonic sum", octave::by_harmonic_sum_hz(samples, RATE)),
        ] {
            let error = cents(true_hz, hz);
            assert!(
                error.abs() < 50.0,
                "{name}: {voice:?}, MIDI {midi}: {error} cents"
            );
        }
    });
}

/// The estimators can be wrong: a tone whose odd partials are all but gone is
/// heard an octave high by both.
#[test]
fn a_tone_without_its_fundamental_fools_both_estimators() {
    let samples: Vec<f64> = (0..24_000)
        .map(|n| {
            let turn = std::f64::consts::TAU * 220.0 * f64::from(n) / RATE;
            0.01 * turn.sin() + (2.0 * turn).sin() + 0.5 * (4.0 * turn).sin()
        })
        .collect();
    for hz in [
        octave::by_self_likeness_hz(&samples, RATE),
        octave::by_harmonic_sum_hz(&samples, RATE),
    ] {
        assert!((cents(220.0, hz) - 1200.0).abs() < 50.0, "{hz} Hz");
    }
}

/// Loudness by ITU-R BS.1770-4 over one 400 ms block: all notes and voices lie
/// within 5 dB, the notes of one voice within 4 dB.
#[test]
fn all_notes_are_about_equally_loud() {
    let mut all: Vec<f64> = Vec::new();
    for voice in voices() {
        let levels: Vec<f64> = (D2..=C7)
            .map(|midi| {
                let power = spectrum::flat_power(&note(midi, voice, u32::from(midi)), RATE, 0.4);
                spectrum::weighted_db(&power, spectrum::k_weight_db)
            })
            .collect();
        assert!(spread(&levels) < 4.0, "{voice:?}: {levels:?}");
        all.extend(levels);
    }
    assert!(spread(&all) < 5.0, "{} dB", spread(&all));
}

fn spread(levels: &[f64]) -> f64 {
    levels.iter().copied().fold(f64::MIN, f64::max)
        - levels.iter().copied().fold(f64::MAX, f64::min)
}

/// The weightings against figures printed with them: A-weighting is -16.1 dB at
/// nominal 125 Hz, 0 at 1 kHz, +1.0 at nominal 4 kHz (IEC 61672-1, table 3); K-weighting
/// reads -3.01 for a full-scale 997 Hz sine whose mean square is -3.01 dB, once
/// 0.691 dB is taken off (BS.1770-4, annex 1).
#[test]
fn the_weightings_agree_with_their_tables() {
    for (hz, db) in [(125.89, -16.1), (1000.0, 0.0), (3981.07, 1.0)] {
        assert!((spectrum::a_weight_db(hz) - db).abs() < 0.06, "{hz} Hz");
    }
    assert!((spectrum::k_weight_db(997.0) - 0.691).abs() < 0.01);
}

/// A banjo's notes fall 20 dB within 400 ms on its own range (D3 to C6), faster
/// the higher, in as little as 200 ms at the top; a guitar's ring longer.
#[test]
fn the_banjo_is_short_and_the_guitar_is_not() {
    let fall = |midi, voice| spectrum::fall_s(&note(midi, voice, 9), RATE, 20.0);
    for midi in 50..=84 {
        let banjo_s = fall(midi, Voice::Banjo);
        assert!((0.15..=0.4).contains(&banjo_s), "MIDI {midi}: {banjo_s} s");
        let guitar_s = fall(midi, Voice::Guitar);
        assert!(guitar_s > 1.8 * banjo_s, "MIDI {midi}: {guitar_s} s");
    }
    assert!(fall(96, Voice::Banjo) <= 0.2);
}

/// The body: between 500 and 800 Hz the banjo is stronger against its own
/// second octave than the guitar is (formant after Woodhouse et al., 2021).
#[test]
fn the_banjo_has_its_formant() {
    // D3's partials sit every 147 Hz: average where the formant is, and below.
    let lift = |voice| {
        let power = spectrum::power(&note(50, voice, 3), RATE, 0.25);
        let band = |low: f64, high: f64| -> f64 {
            let inside = power.iter().filter(|(hz, _)| (low..high).contains(hz));
            10.0 * inside.map(|(_, power)| power).sum::<f64>().log10()
        };
        band(500.0, 800.0) - band(100.0, 250.0)
    };
    let (banjo, guitar) = (lift(Voice::Banjo), lift(Voice::Guitar));
    assert!(banjo > guitar + 6.0, "banjo {banjo} dB, guitar {guitar} dB");
}

/// Terminals whose devices run at different rates sound the same tone.
#[test]
fn the_tone_is_the_same_at_every_rate() {
    for voice in voices() {
        let levels = |rate_hz: u32| {
            let spec = ToneSpec {
                frequency_hz: 196.0,
                voice,
                pluck_seed: 42,
                level: Level::default(),
            };
            let samples = wide(&render(&spec, rate_hz).unwrap());
            let power = spectrum::power(&samples, f64::from(rate_hz), 0.25);
            spectrum::partials_db(&power, 196.0)
        };
        let (low, high) = (levels(44_100), levels(96_000));
        for (number, (a, b)) in low.iter().zip(&high).take(12).enumerate() {
            assert!(
                (a - b).abs() < 1.5,
                "{voice:?}, partial {}: {a} and {b} dB",
                number + 1
            );
        }
    }
}
