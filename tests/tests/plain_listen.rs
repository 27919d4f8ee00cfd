//! `fifthpeg listen` in plain mode, the real program hearing a file as though
//! it were a microphone.

use std::path::{Path, PathBuf};
use std::process::Command;

use fifthpeg_sound::{Level, ToneSpec, Voice, render};
use fifthpeg_tests::{Process, program, run, temporary};

const RATE_HZ: u32 = 48_000;

/// D3 and G3 at A4 = 440 Hz (ISO 16:1975).
const D3_HZ: f64 = 146.832;
const G3_HZ: f64 = 195.998;

fn off(hz: f64, cents: f64) -> f64 {
    hz * (cents / 1200.0).exp2()
}

/// A file in which strings are plucked, each after so many seconds of a quiet
/// room.
fn record(folder: &Path, plucks: &[(f64, f64)]) -> PathBuf {
    let path = folder.join("bench.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 32,
        sample_format: hound::SampleFormat::Float,
    };
    let mut file = hound::WavWriter::create(&path, spec).expect("a file");
    let mut state = 1u64;
    let mut write = |x: f32| {
        // The hiss of a room, 70 dB below full scale (xorshift: Marsaglia, J.
        // Stat. Softw. 8:14, 2003).
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        let hiss = (state >> 40) as f32 / (1u64 << 23) as f32 - 1.0;
        file.write_sample(x + 5e-4 * hiss).expect("written");
    };
    for (after_s, frequency_hz) in plucks {
        (0..(after_s * f64::from(RATE_HZ)) as usize).for_each(|_| write(0.0));
        let tone = ToneSpec {
            frequency_hz: *frequency_hz,
            voice: Voice::Banjo,
            pluck_seed: 3,
            level: Level::default(),
        };
        let samples = render(&tone, RATE_HZ).expect("a tone");
        samples.into_iter().for_each(&mut write);
    }
    file.finalize().expect("a whole file");
    path
}

fn listen(arguments: &[&str]) -> Process {
    let mut command = Command::new(program());
    command
        .args(["listen", "--plain", "--output", "none"])
        .args(arguments);
    Process::start("listen", &mut command)
}

fn listen_to(file: &Path) -> Process {
    listen(&["--microphone", &format!("wav:{}", file.display())])
}

#[test]
fn strings_are_tuned_by_words() {
    let folder = temporary("listen-strings");
    let file = record(
        &folder,
        &[
            (4.0, off(D3_HZ, -12.0)),
            (0.5, off(D3_HZ, 0.8)),
            (0.5, off(G3_HZ, 24.0)),
        ],
    );
    let mut bench = listen_to(&file);
    bench.type_line("meter on");
    bench.type_line("quiet");
    bench.wait_for("caution turn headphones and amplifiers down");
    bench.wait_for("string 4 D3, chosen: not heard yet");
    bench.wait_for("hint the meter is on");
    bench.wait_for("caution turn a peg slowly");
    bench.wait_for("microphone measuring the room");
    bench.wait_for("microphone room: quiet enough");
    // A string that is low, the same in tune, and then the next one.
    bench.wait_for("string 4: 12 cents low: turn it up a little");
    bench.wait_for("string 4: in tune");
    bench.wait_for("string 3 G3, chosen: not heard yet");
    bench.wait_for("string 3: 24 cents high: let it down a little");
    bench.type_line("string");
    bench.wait_for("string 1 D4: not heard yet");
    bench.wait_for("string 4 D3: in tune");
    bench.type_line("end");
    bench.wait_for("ended");
    let (code, lines, errors) = bench.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
    let plucked: Vec<_> = lines.iter().filter(|l| l.starts_with("plucked")).collect();
    assert_eq!(
        plucked,
        ["plucked D3 heard", "plucked D3 heard", "plucked G3 heard"]
    );
}

#[test]
fn by_ear_nothing_is_told_until_it_is_asked_for() {
    let folder = temporary("listen-ear");
    let file = record(&folder, &[(1.0, off(D3_HZ, 270.0))]);
    let mut bench = listen_to(&file);
    bench.wait_for("hint hear the tone, sing it");
    bench.wait_for("hint string 4 is read: type check");
    let told = bench.lines();
    assert!(!told.iter().any(|l| l.contains("semitones")), "{told:#?}");
    bench.type_line("check");
    bench.wait_for("string 4: 2.7 semitones high: let it down");
    bench.wait_for("caution this string is more than two semitones above its pitch");
    bench.type_line("string 3");
    bench.type_line("check");
    bench.wait_for("error: string 3 was not heard yet");
    bench.end_input();
    assert_eq!(bench.finish().0, Some(0));
}

#[test]
fn it_goes_on_without_a_microphone_and_with_one_that_is_not_there() {
    let mut bench = listen(&["--microphone", "none", "--neck", "ukulele", "--a4", "442"]);
    bench.wait_for("microphone no microphone is listened to");
    bench.type_line("sound");
    bench.wait_for("hint hear the tone");
    for line in ["quiet", "delay"] {
        bench.type_line(line);
        bench.wait_for("error: nothing listens");
    }
    bench.type_line("string 9");
    bench.wait_for("error: there is no string 9: give 1 to 4");
    bench.type_line("end");
    assert_eq!(bench.finish().0, Some(0));

    let mut bench = listen(&["--microphone", "wav:/nowhere/at-all.wav"]);
    bench.wait_for("microphone trouble: ");
    bench.type_line("sound");
    bench.wait_for("hint hear the tone");
    bench.end_input();
    assert_eq!(bench.finish().0, Some(0));
}

#[test]
fn the_delay_needs_an_output_that_sounds() {
    let folder = temporary("listen-delay");
    let file = record(&folder, &[(1.0, D3_HZ)]);
    let mut bench = listen_to(&file);
    bench.type_line("delay");
    bench.wait_for("delay a sweep sounds now");
    bench.wait_for("error: ");
    // It listens again afterwards, from the file's beginning.
    bench.wait_for("microphone listening");
    bench.wait_for("plucked D3 heard");
    bench.type_line("end");
    assert_eq!(bench.finish().0, Some(0));
}

#[test]
fn what_makes_no_sense_is_refused() {
    for (arguments, words) in [
        (&["listen", "--microphone", "lute"][..], "--microphone: "),
        (&["listen", "--a4", "12"], "no frequency for A4"),
        (&["listen", "--neck", "harpsichord"], "no ready neck"),
        (&["listen", "now"], "\"now\" stands alone"),
    ] {
        let outcome = run(arguments);
        assert_eq!(outcome.code, Some(2), "{arguments:?}: {outcome:?}");
        assert!(outcome.errors.contains(words), "{outcome:?}");
    }
    assert_eq!(run(&["listen", "--list"]).code, Some(0));
}
