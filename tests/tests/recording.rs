//! What comes out of the sound system is what was meant: tones are played
//! through ALSA into a PulseAudio sink without a loudspeaker, its monitor is
//! recorded by PulseAudio's own recorder, and pitch and onset are measured.
//!
//! Needs the Debian packages pulseaudio, pulseaudio-utils and
//! libasound2-plugins. Without them it says `SKIPPED`, or fails if
//! `FIFTHPEG_REQUIRE_ALL=1`.

use fifthpeg_measure::{cents, equal_temperament_hz, pitch};
use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::{Hall, Process, host, program};
use std::io::{BufRead, BufReader, Read};
use std::process::{Child, Stdio};
use std::thread::JoinHandle;
use std::time::{Duration, Instant, SystemTime};

const RATE: f64 = 48_000.0;

/// The recorder, reading all the while.
struct Recorder {
    parec: Child,
    reader: JoinHandle<Recording>,
}

/// Samples, and the second of the system's clock at which the first was made: no
/// later than this, since sound cannot be read before it is played.
struct Recording {
    samples: Vec<f64>,
    began_s: f64,
}

impl Recorder {
    fn start(hall: &Hall) -> Recorder {
        let mut parec = hall
            .command("parec")
            .args([
                "--device=hall.monitor",
                "--format=float32le",
                "--rate=48000",
            ])
            .args(["--channels=1", "--latency-msec=5"])
            .stdout(Stdio::piped())
            .spawn()
            .expect("parec runs");
        let mut pipe = parec.stdout.take().expect("a pipe");
        let (running, runs) = std::sync::mpsc::channel();
        let reader = std::thread::spawn(move || {
            let (mut bytes, mut block) = (Vec::new(), [0u8; 65_536]);
            let mut began_s = f64::MAX;
            while let Ok(count @ 1..) = pipe.read(&mut block) {
                bytes.extend_from_slice(&block[..count]);
                began_s = began_s.min(now_s() - bytes.len() as f64 / 4.0 / RATE);
                let _ = running.send(());
            }
            let samples = bytes
                .chunks_exact(4)
                .map(|x| f64::from(f32::from_le_bytes([x[0], x[1], x[2], x[3]])))
                .collect();
            Recording { samples, began_s }
        });
        runs.recv_timeout(Duration::from_secs(10))
            .expect("parec records");
        Recorder { parec, reader }
    }

    fn stop(mut self) -> Recording {
        self.parec.kill().expect("parec ends");
        self.parec.wait().expect("parec has ended");
        self.reader.join().expect("the reader ends")
    }
}

fn now_s() -> f64 {
    let since = SystemTime::now().duration_since(SystemTime::UNIX_EPOCH);
    since.expect("a clock after 1970").as_secs_f64()
}

/// Plays D3, A4 and C6 two seconds apart and records them. Bounds: each pitch
/// within 1 cent, and each onset within what the output gave as its uncertainty,
/// plus 30 ms for the recorder, which gets sound when the sink takes it, a little
/// before the sink plays it. A machine busy with other tests may starve the
/// sound system and tear a hole into the sound, so the best of three counts.
#[test]
fn tones_are_heard_at_their_pitch_and_their_time() {
    let Some(hall) = Hall::start("recording") else {
        return;
    };
    let mut failures = Vec::new();
    for _ in 0..3 {
        match play_and_measure(&hall) {
            Ok(report) => {
                println!("{report}");
                return;
            }
            Err(failure) => failures.push(failure),
        }
    }
    panic!("three times out of bounds:\n{}", failures.join("\n"));
}

fn play_and_measure(hall: &Hall) -> Result<String, String> {
    let notes = [50, 69, 84].map(equal_temperament_hz);
    let recorder = Recorder::start(hall);
    let out = hall
        .command(env!("CARGO_BIN_EXE_play-tones"))
        .arg("device")
        .args(
            (0..)
                .zip(notes)
                .map(|(n, hz)| format!("{hz}@{}", 500 + 2000 * n)),
        )
        .output()
        .expect("play-tones runs");
    let recording = recorder.stop();
    let complaints = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(out.status.success(), "{complaints}");
    assert_eq!(complaints, "", "nothing may spoil a screen");
    let said = String::from_utf8_lossy(&out.stdout).into_owned();
    let started: Vec<(f64, f64)> = said
        .lines()
        .skip(1)
        .map(|line| {
            let (at, uncertainty) = line.split_once(' ').expect("two figures");
            let seconds = |text: &str| text.parse::<f64>().expect("seconds");
            (seconds(at), seconds(uncertainty))
        })
        .collect();
    assert_eq!(started.len(), notes.len());
    assert!(recording.samples.iter().all(|x| x.abs() < 0.9), "clipped");

    let (mut report, mut good) = (Vec::new(), true);
    for (wanted_hz, (at_s, uncertainty_s)) in notes.into_iter().zip(started) {
        let from = ((at_s - recording.began_s - 0.5) * RATE).max(0.0) as usize;
        let part = &recording.samples[from..(from + 100_000).min(recording.samples.len())];
        let onset_s = pitch::onset_s(part, RATE, 0.05).expect("a tone");
        let onset = (onset_s * RATE) as usize;
        if part.len() < onset + 60_000 {
            return Err(format!("{wanted_hz:.2} Hz: the recording breaks off"));
        }
        let hz = pitch::by_phase_hz(&part[onset..onset + 60_000], RATE, wanted_hz);
        let error = cents(wanted_hz, hz);
        let late_s = recording.began_s + from as f64 / RATE + onset_s - at_s;
        good &= error.abs() < 1.0 && late_s.abs() < uncertainty_s + 0.03;
        report.push(format!(
            "{wanted_hz:.2} Hz: {error:+.3} cents; heard {:+.1} ms from the time told, which was \
             {:.1} ms uncertain",
            late_s * 1000.0,
            uncertainty_s * 1000.0
        ));
    }
    let report = report.join("\n");
    if good { Ok(report) } else { Err(report) }
}

/// The real program: a student's terminal plays a call into the sound system,
/// and what is recorded is the called pitch within 1 cent.
#[test]
fn a_call_is_heard_from_a_students_terminal() {
    let Some(hall) = Hall::start("lesson") else {
        return;
    };
    let (mut host, address) = host(&["--reach", "twelve", "--name", "Village hall"]);
    let mut mia = Process::start(
        "Mia",
        hall.command(program())
            .args(["join", &address, "--as", "Mia", "--plain"])
            .args(["--passphrase", PASSPHRASE])
            .args(["--output", "device"]),
    );
    mia.wait_for("joined ");
    host.type_line("wait students 1");
    host.wait_for("waited students 1");
    let recorder = Recorder::start(&hall);
    host.type_line("call 2/1");
    mia.wait_for("call 1 sounding");
    std::thread::sleep(Duration::from_millis(2500));
    let recording = recorder.stop();
    host.type_line("end");
    let (code, lines, errors) = mia.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");

    // Second string of a banjo in open G, first fret: middle C.
    let wanted_hz = equal_temperament_hz(60);
    let samples = &recording.samples;
    let onset = (pitch::onset_s(samples, RATE, 0.05).expect("a tone") * RATE) as usize;
    assert!(samples.len() > onset + 60_000, "the recording breaks off");
    let hz = pitch::by_phase_hz(&samples[onset..onset + 60_000], RATE, wanted_hz);
    let error = cents(wanted_hz, hz);
    assert!(error.abs() < 1.0, "{hz} Hz, {error} cents");
}

/// A sound system that goes away is an error with a way out: no panic, no hang.
#[test]
fn a_sound_system_that_dies_is_reported() {
    let Some(hall) = Hall::start("dying") else {
        return;
    };
    let mut player = hall
        .command(env!("CARGO_BIN_EXE_play-tones"))
        .args(["device", "440@500", "440@5000"])
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("play-tones runs");
    let mut lines = BufReader::new(player.stdout.take().expect("a pipe")).lines();
    for _ in 0..2 {
        lines.next().expect("opened, and one tone").expect("text");
    }
    drop(hall);
    let died = Instant::now();
    while player.try_wait().expect("a child").is_none() {
        if died.elapsed() > Duration::from_secs(30) {
            player.kill().expect("the player ends");
            panic!("the player hangs when its sound system has died");
        }
        std::thread::sleep(Duration::from_millis(50));
    }
    let out = player.wait_with_output().expect("the player has ended");
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(1), "{said}");
    let told: Vec<&str> = said
        .lines()
        .filter(|line| line.starts_with("the sound device stopped"))
        .collect();
    assert_eq!(told.len(), 1, "{said}");
    assert!(!said.contains("panicked"), "{said}");
}
