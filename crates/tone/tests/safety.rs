//! Whatever is asked for, a tone is safe to play.

use fifthpeg_tone::{
    FREQUENCIES_HZ, Level, SAMPLE_RATES_HZ, TONE_CEILING, ToneError, ToneSpec, Voice, render,
};
use fifthpeg_vocab::Choice;
use proptest::prelude::*;

/// Every voice.
fn voices() -> Vec<Voice> {
    Voice::ALL.iter().map(|row| row.value).collect()
}

fn any_tone() -> impl Strategy<Value = ToneSpec> {
    (
        FREQUENCIES_HZ,
        proptest::sample::select(voices()),
        any::<u32>(),
        0u32..=100,
    )
        .prop_map(|(frequency_hz, voice, pluck_seed, percent)| ToneSpec {
            frequency_hz,
            voice,
            pluck_seed,
            level: Level::from_percent(percent).unwrap(),
        })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    /// Finite, under the level's ceiling, and from nothing to nothing: the first
    /// and last samples are more than 50 dB below the ceiling.
    #[test]
    fn any_tone_is_bounded_and_has_no_click(tone in any_tone(), rate_hz in SAMPLE_RATES_HZ) {
        let samples = render(&tone, rate_hz).unwrap();
        let ceiling = tone.level.ceiling();
        prop_assert!(ceiling <= TONE_CEILING);
        prop_assert!(samples.iter().all(|x| x.is_finite() && x.abs() <= ceiling));
        let edge = ceiling * 0.003;
        prop_assert!(samples[0].abs() <= edge, "starts at {}", samples[0]);
        let last = samples[samples.len() - 1];
        prop_assert!(last.abs() <= edge, "ends at {last}");
        let seconds = samples.len() as f64 / f64::from(rate_hz);
        prop_assert!(seconds < 3.0);
        // It is heard, too, unless the level is nothing.
        let peak = samples.iter().fold(0.0f32, |peak, x| peak.max(x.abs()));
        prop_assert!(ceiling == 0.0 || peak > 0.1 * ceiling);
    }

    /// No constant part, which would strain a loudspeaker and click.
    #[test]
    fn any_tone_swings_about_zero(tone in any_tone()) {
        let mean = mean(&tone);
        prop_assert!(mean.abs() <= MOST_MEAN * f64::from(tone.level.ceiling()), "{mean}");
    }
}

/// The most a tone's mean is off zero, of the level's ceiling.
const MOST_MEAN: f64 = 0.002;

fn mean(tone: &ToneSpec) -> f64 {
    let samples = render(tone, 48_000).unwrap();
    samples.iter().map(|x| f64::from(*x)).sum::<f64>() / samples.len() as f64
}

/// The lowest tones have the fewest swings to make up for the first one.
#[test]
fn the_lowest_tones_swing_about_zero() {
    for voice in voices() {
        for frequency_hz in (0..=40).map(|n| FREQUENCIES_HZ.start() + f64::from(n) * 0.5) {
            let tone = ToneSpec {
                frequency_hz,
                voice,
                pluck_seed: (frequency_hz * 10.0) as u32,
                level: Level::from_percent(100).unwrap(),
            };
            let mean = mean(&tone);
            assert!(
                mean.abs() <= MOST_MEAN,
                "{voice:?} at {frequency_hz} Hz: {mean}"
            );
        }
    }
}

#[test]
fn the_same_seed_gives_the_same_samples_and_another_gives_others() {
    let tone = |pluck_seed| ToneSpec {
        frequency_hz: 293.66,
        voice: Voice::Banjo,
        pluck_seed,
        level: Level::default(),
    };
    let first = render(&tone(1), 48_000).unwrap();
    assert_eq!(first, render(&tone(1), 48_000).unwrap());
    assert_ne!(first, render(&tone(2), 48_000).unwrap());
}

#[test]
fn a_tone_is_as_long_as_its_voice_says() {
    for voice in voices() {
        let tone = ToneSpec {
            frequency_hz: 196.0,
            voice,
            pluck_seed: 1,
            level: Level::default(),
        };
        let samples = render(&tone, 48_000).unwrap().len() as f64;
        let said = fifthpeg_tone::tone_length(voice).as_secs_f64();
        assert!((samples / 48_000.0 - said).abs() < 0.001, "{voice:?}");
    }
}

#[test]
fn what_cannot_be_rendered_is_refused_in_one_sentence() {
    let tone = |frequency_hz| ToneSpec {
        frequency_hz,
        voice: Voice::Plain,
        pluck_seed: 0,
        level: Level::default(),
    };
    for frequency_hz in [0.0, -440.0, 23.9, 4501.0, f64::NAN, f64::INFINITY] {
        let error = render(&tone(frequency_hz), 48_000).unwrap_err();
        assert!(matches!(error, ToneError::Frequency { .. }));
        assert!(
            error.to_string().contains("between 24.0 and 4500 Hz"),
            "{error}"
        );
    }
    for rate_hz in [0, 8000, 31_999, 192_001, u32::MAX] {
        let error = render(&tone(440.0), rate_hz).unwrap_err();
        assert_eq!(
            error,
            ToneError::SampleRate {
                sample_rate_hz: rate_hz
            }
        );
    }
}
