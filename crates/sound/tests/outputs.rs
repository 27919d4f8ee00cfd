//! The outputs that need no sound card.

use fifthpeg_measure::{cents, pitch, wide};
use fifthpeg_sound::{Level, OutputChoice, SoundError, ToneSpec, Voice, open, open_or_silent};
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

const RATE: f64 = 48_000.0;

fn tone(frequency_hz: f64) -> ToneSpec {
    ToneSpec {
        frequency_hz,
        voice: Voice::Banjo,
        pluck_seed: 1,
        level: Level::from_percent(100).unwrap(),
    }
}

/// A path of this test's own.
fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name)
}

fn wav(path: &Path) -> OutputChoice {
    format!("wav:{}", path.display()).parse().unwrap()
}

fn samples_of(path: &Path) -> Vec<f64> {
    let mut reader = hound::WavReader::open(path).unwrap();
    assert_eq!(reader.spec().sample_rate, 48_000);
    assert_eq!(reader.spec().channels, 1);
    let samples: Result<Vec<f32>, _> = reader
        .samples::<i16>()
        .map(|x| x.map(|x| f32::from(x) / 32_767.0))
        .collect();
    wide(&samples.unwrap())
}

#[test]
fn a_wav_file_holds_each_tone_at_its_instant_and_silence_between() {
    let path = file("timeline.wav");
    let before = Instant::now();
    let mut output = open(&wav(&path)).unwrap();
    let after = Instant::now();
    let first = before + Duration::from_millis(300);
    let second = before + Duration::from_millis(2300);
    assert!(output.play(&tone(440.0), first).unwrap().at >= first - Duration::from_micros(20));
    let started = output.play(&tone(220.0), second).unwrap();
    let off = started.at.max(second) - started.at.min(second);
    assert!(
        off <= started.uncertainty + Duration::from_micros(1),
        "{off:?}"
    );
    output.finish().unwrap();

    let samples = samples_of(&path);
    // The file begins between `before` and `after`.
    let slack_s = (after - before).as_secs_f64() + 0.001;
    let onset_s = pitch::onset_s(&samples, RATE, 0.02).unwrap();
    assert!((0.3 - slack_s..0.302).contains(&onset_s), "{onset_s} s");
    // The 1.4 s of the first have ended; silence until the second.
    let quiet = &samples[(1.75 * RATE) as usize..(2.25 * RATE) as usize];
    assert!(quiet.iter().all(|x| *x == 0.0));
    let later = &samples[(2.25 * RATE) as usize..];
    let gap_s = 2.25 + pitch::onset_s(later, RATE, 0.02).unwrap() - onset_s;
    assert!((gap_s - 2.0).abs() < 0.001, "{gap_s} s apart");
    let at = (onset_s * RATE) as usize;
    let hz = pitch::by_phase_hz(&samples[at..at + 62_000], RATE, 440.0);
    assert!(cents(440.0, hz).abs() < 0.1, "{hz} Hz");
}

#[test]
fn a_wav_file_plays_even_if_the_program_is_killed() {
    let path = file("killed.wav");
    let mut output = open(&wav(&path)).unwrap();
    output.play(&tone(440.0), Instant::now()).unwrap();
    std::thread::sleep(Duration::from_millis(1500));
    // Never finished, never dropped: what is on disk now is what a kill leaves.
    let copy = file("killed-copy.wav");
    std::fs::copy(&path, &copy).unwrap();
    std::mem::forget(output);
    let samples = samples_of(&copy);
    let seconds = samples.len() as f64 / RATE;
    assert!((0.5..1.6).contains(&seconds), "{seconds} s");
    assert!(samples.iter().any(|x| x.abs() > 0.1));
}

#[test]
fn a_tone_for_the_past_or_for_now_sounds_now() {
    let path = file("now.wav");
    let mut output = open(&wav(&path)).unwrap();
    std::thread::sleep(Duration::from_millis(700));
    let now = Instant::now();
    let past = now - Duration::from_millis(500);
    for at in [past, now] {
        let started = output.play(&tone(440.0), at).unwrap();
        assert!(started.at + Duration::from_micros(20) >= now);
        assert!(
            started.at < now + Duration::from_millis(400),
            "{:?}",
            started.at - now
        );
    }
    drop(output);
    let onset_s = pitch::onset_s(&samples_of(&path), RATE, 0.02).unwrap();
    assert!((0.69..1.1).contains(&onset_s), "{onset_s} s");
}

#[test]
fn a_file_that_cannot_be_made_is_an_error_with_its_name() {
    let path = file("no such folder/x.wav");
    let Err(error) = open(&wav(&path)) else {
        panic!("made a file in a folder that is not there");
    };
    assert!(error.to_string().contains("no such folder"), "{error}");
}

#[test]
fn a_recording_may_be_written_over_and_notes_may_not() {
    let recording = file("again.wav");
    for _ in 0..2 {
        open(&wav(&recording)).unwrap().finish().unwrap();
    }
    let notes = file("notes.txt");
    std::fs::write(&notes, "D3 is the open fourth string").unwrap();
    let Err(error) = open(&wav(&notes)) else {
        panic!("wrote over a text");
    };
    assert!(error.to_string().contains("notes.txt"), "{error}");
    assert!(std::fs::read_to_string(&notes).unwrap().starts_with("D3"));
}

#[test]
fn a_tone_for_next_week_is_refused() {
    let next_week = Instant::now() + Duration::from_secs(7 * 24 * 3600);
    for choice in ["none".parse().unwrap(), wav(&file("far.wav"))] {
        let mut output = open(&choice).unwrap();
        let refused = output.play(&tone(440.0), next_week);
        assert_eq!(refused, Err(SoundError::TooFarAhead), "{choice}");
        output.finish().unwrap();
    }
}

/// With a card or without, asking for the device gives something that plays.
#[test]
fn the_device_or_silence_always_opens() {
    let (mut output, said) = open_or_silent(&OutputChoice::default());
    if let Some(said) = &said {
        assert!(said.starts_with("Going on without sound: "), "{said}");
        assert!(said.ends_with('.') && !said.contains('\n'), "{said}");
    }
    let started = output
        .play(
            &ToneSpec {
                level: Level::from_percent(0).unwrap(),
                ..tone(440.0)
            },
            Instant::now(),
        )
        .unwrap();
    assert!(started.uncertainty < Duration::from_secs(1));
    output.finish().unwrap();
}

#[test]
fn a_device_of_no_known_name_is_refused() {
    let choice = "device:the one in the attic".parse().unwrap();
    let Err(error) = open(&choice) else {
        panic!("opened a device that is not there");
    };
    assert!(!error.to_string().contains('\n'), "{error}");
}

#[test]
fn only_silence_says_that_there_is_nothing_to_hear() {
    for (choice, audible) in [
        ("none".parse().unwrap(), false),
        (wav(&file("heard.wav")), true),
    ] {
        let mut output = open(&choice).unwrap();
        let started = output.play(&tone(440.0), Instant::now()).unwrap();
        assert_eq!(started.audible, audible, "{choice}");
        output.finish().unwrap();
    }
}
