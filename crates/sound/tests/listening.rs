//! The listener and the inputs that need no sound card.

use fifthpeg_core::{HeardNote, Pitch, Reference};
use fifthpeg_measure::equal_temperament_hz;
use fifthpeg_sound::{
    InputChoice, Level, ListenFor, ListenSettings, Listened, Listener, ToneSpec, Voice, open_input,
    render,
};
use hound::{SampleFormat, WavSpec, WavWriter};
use std::path::{Path, PathBuf};
use std::sync::mpsc::{self, Receiver};
use std::time::{Duration, Instant};

const RATE_HZ: u32 = 48_000;

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join(name)
}

fn choice(path: &Path) -> InputChoice {
    format!("wav:{}", path.display()).parse().unwrap()
}

/// Tones of a banjo at sample positions, over a faint hiss.
fn written(name: &str, spec: WavSpec, tones: &[(u8, usize)], seconds: usize) -> PathBuf {
    let mut seed = 1u32;
    let mut samples: Vec<f32> = (0..seconds * spec.sample_rate as usize)
        .map(|_| {
            seed = seed.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
            (seed >> 8) as f32 / 16_777_216.0 * 2e-4 - 1e-4
        })
        .collect();
    for (midi, at) in tones {
        let tone = ToneSpec {
            frequency_hz: equal_temperament_hz(*midi),
            voice: Voice::Banjo,
            pluck_seed: 3,
            level: Level::default(),
        };
        for (out, x) in samples[*at..]
            .iter_mut()
            .zip(render(&tone, spec.sample_rate).unwrap())
        {
            *out += x;
        }
    }
    let path = file(name);
    let mut writer = WavWriter::create(&path, spec).unwrap();
    for x in samples {
        for channel in 0..spec.channels {
            // In one socket of several only.
            let x = if channel == spec.channels - 1 { x } else { 0.0 };
            match spec.sample_format {
                SampleFormat::Float => writer.write_sample(x).unwrap(),
                SampleFormat::Int => {
                    let scale = 2f32.powi(i32::from(spec.bits_per_sample) - 1) - 1.0;
                    writer.write_sample((x * scale).round() as i32).unwrap();
                }
            }
        }
    }
    writer.finalize().unwrap();
    path
}

fn plain(sample_rate: u32, channels: u16, bits_per_sample: u16) -> WavSpec {
    WavSpec {
        channels,
        sample_rate,
        bits_per_sample,
        sample_format: if bits_per_sample == 32 {
            SampleFormat::Float
        } else {
            SampleFormat::Int
        },
    }
}

fn banjo() -> ListenSettings {
    ListenSettings {
        lowest: Pitch::new(50).unwrap(),
        highest: Pitch::new(84).unwrap(),
        reference: Reference::default(),
        what: ListenFor::Plucks,
    }
}

fn start(choice: &InputChoice, settings: ListenSettings) -> (Listener, Receiver<Listened>) {
    let (to, heard) = mpsc::channel();
    let input = open_input(choice).unwrap();
    let listener = Listener::start(input, settings, move |listened| {
        let _ = to.send(listened);
    });
    (listener.unwrap(), heard)
}

/// The next pluck's MIDI number, instant and uncertainty, within five seconds.
fn pluck(heard: &Receiver<Listened>) -> (u8, Instant, Duration) {
    let until = Instant::now() + Duration::from_secs(5);
    while let Ok(listened) = heard.recv_timeout(until.saturating_duration_since(Instant::now())) {
        if let Listened::Note(HeardNote::Pluck {
            pitch,
            at,
            uncertainty,
            ..
        }) = listened
        {
            return (pitch.midi(), at, uncertainty);
        }
    }
    panic!("no pluck was heard");
}

/// In several formats, from one socket out of several: the note, and the onset
/// within what the listener says (the file begins between two instants known).
#[test]
fn plucks_in_a_file_are_heard_at_their_sample() {
    for (name, spec) in [
        ("mono.wav", plain(48_000, 1, 16)),
        ("stereo.wav", plain(44_100, 2, 24)),
        ("float.wav", plain(96_000, 1, 32)),
    ] {
        let at = spec.sample_rate as usize * 6 / 5;
        let path = written(name, spec, &[(62, at), (71, 2 * at)], 4);
        let before = Instant::now();
        let (_listener, heard) = start(&choice(&path), banjo());
        let slack = before.elapsed();
        for (n, wanted) in [(1, 62), (2, 71)] {
            let (midi, told, uncertainty) = pluck(&heard);
            assert_eq!(midi, wanted, "{name}");
            let truly = before + n * Duration::from_millis(1200);
            let early = truly.saturating_duration_since(told);
            let late = told.saturating_duration_since(truly + slack);
            assert!(
                early <= uncertainty && late <= uncertainty,
                "{name}: {early:?} early or {late:?} late, {uncertainty:?} uncertain"
            );
            assert!(uncertainty < Duration::from_millis(30), "{uncertainty:?}");
        }
    }
}

/// A sink that dawdles delays the telling, not the moment told.
#[test]
fn a_slow_sink_breaks_no_timing() {
    let path = written(
        "slow.wav",
        plain(RATE_HZ, 1, 16),
        &[(62, 48_000), (69, 81_600)],
        4,
    );
    let (to, heard) = mpsc::channel();
    let before = Instant::now();
    let input = open_input(&choice(&path)).unwrap();
    let slack = before.elapsed();
    let _listener = Listener::start(input, banjo(), move |listened| {
        std::thread::sleep(Duration::from_millis(120));
        let _ = to.send(listened);
    })
    .unwrap();
    for (ms, wanted) in [(1000, 62), (1700, 69)] {
        let (midi, told, uncertainty) = pluck(&heard);
        assert_eq!(midi, wanted);
        let truly = before + Duration::from_millis(ms);
        let off = told.max(truly) - told.min(truly);
        assert!(off <= uncertainty + slack, "{off:?}");
    }
}

#[test]
fn a_listener_ends_promptly_tells_levels_and_takes_other_settings() {
    let path = written("levels.wav", plain(RATE_HZ, 1, 16), &[(62, 48_000)], 2);
    let (listener, heard) = start(&choice(&path), banjo());
    let mut settings = banjo();
    settings.highest = Pitch::new(40).unwrap();
    listener.set(settings);
    std::thread::sleep(Duration::from_millis(800));
    let ending = Instant::now();
    listener.stop();
    assert!(
        ending.elapsed() < Duration::from_secs(2),
        "{:?}",
        ending.elapsed()
    );
    let told: Vec<Listened> = heard.try_iter().collect();
    assert!(matches!(
        told[0],
        Listened::Started {
            rate_hz: RATE_HZ,
            ..
        }
    ));
    // The lowest note is above the highest: refused, and it listens on.
    let trouble = told
        .iter()
        .any(|told| matches!(told, Listened::Trouble { sentence } if sentence.contains("lowest")));
    assert!(trouble, "{told:?}");
    let levels = told
        .iter()
        .filter(|told| matches!(told, Listened::Level { .. }))
        .count();
    assert!((2..=9).contains(&levels), "{levels}");
}

#[test]
fn the_room_is_measured_with_progress() {
    let path = written("room.wav", plain(RATE_HZ, 1, 16), &[], 5);
    let (listener, heard) = start(&choice(&path), banjo());
    listener.calibrate();
    let (mut last, mut steps) = (-1.0, 0);
    loop {
        match heard.recv_timeout(Duration::from_secs(10)).unwrap() {
            Listened::Calibrating { done } => {
                assert!(done >= last && done <= 1.0);
                last = done;
                steps += 1;
            }
            Listened::Room { room } => {
                assert_eq!(room.trouble(), None);
                // Even noise of ±1e-4: its mean square is a third of that squared.
                assert!((room.noise_db - -84.8).abs() < 1.0, "{}", room.noise_db);
                break;
            }
            _ => {}
        }
    }
    assert!(steps >= 5, "{steps}");
}

#[test]
fn files_that_are_no_sound_and_no_input_at_all_are_told() {
    let text = file("notes.wav");
    std::fs::write(&text, "G D G B D").unwrap();
    let slow = written("slow-rate.wav", plain(32_000, 1, 16), &[], 1);
    let mut reader = std::fs::read(&slow).unwrap();
    // The sample rate stands at byte 24 of a WAV file, little-endian (Multimedia
    // Programming Interface and Data Specifications 1.0, 1991).
    reader[24..28].copy_from_slice(&8_000u32.to_le_bytes());
    std::fs::write(&slow, reader).unwrap();
    for path in [text, slow, file("nowhere.wav")] {
        let Err(error) = open_input(&choice(&path)) else {
            panic!("{} was opened", path.display());
        };
        let said = error.to_string();
        assert!(said.contains("could not be listened to"), "{said}");
        assert!(said.contains("choose a WAV file"), "{said}");
    }
    let (listener, heard) = start(&InputChoice::none(), banjo());
    std::thread::sleep(Duration::from_millis(100));
    listener.stop();
    let told: Vec<Listened> = heard.try_iter().collect();
    assert!(matches!(&told[..], [Listened::Started { .. }]), "{told:?}");
}
