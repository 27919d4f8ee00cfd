//! Everyone who sounds a call starts at one instant: four terminals, each a
//! process with a sink of its own, are recorded together on one sample clock, and
//! the recordings are laid on each other by cross-correlation.
//!
//! `FIFTHPEG_SKEW_CALLS` sets how many calls are measured (8, in the best of
//! three attempts); `scripts/skew N` does, and prints the figures of one attempt.
//! The calls are spread over lessons of twenty, so that outputs are freshly opened
//! again and again, and the first call comes as soon as everyone is there.
//!
//! Needs the Debian packages pulseaudio, pulseaudio-utils and
//! libasound2-plugins. Without them it says `SKIPPED`, or fails if
//! `FIFTHPEG_REQUIRE_ALL=1`.

#![cfg(unix)]

#[path = "skew/likeness.rs"]
mod likeness;
#[path = "skew/row.rs"]
mod row;
#[path = "skew/spread.rs"]
mod spread;

use fifthpeg_tests::{Process, host};
use row::{NAMES, RATE_HZ, Recorder, Row};
use spread::{Call, Spread};
use std::path::Path;
use std::time::Duration;

/// Calls in one lesson.
const IN_ONE_LESSON: usize = 20;
/// Calls of the short form.
const FEW: usize = 8;
/// Louder than this is a tone, of full scale; softer than the other is none.
const LOUD: f32 = 0.01;
const QUIET: f32 = 0.0005;
/// What is compared: from so long before the first onset to so long after it.
const BEFORE_S: f64 = 0.3;
const AFTER_S: f64 = 0.9;
/// How long after a call its tone is waited for.
const HEARD_WITHIN: Duration = Duration::from_secs(15);

fn frames(seconds: f64) -> u64 {
    (seconds * RATE_HZ) as u64
}

/// Makes a call and gives what was recorded of it; `None` if nobody sounded it.
fn call(host: &mut Process, recorder: &Recorder) -> Option<Call> {
    let from = recorder.position();
    host.type_line("call random");
    host.wait_for("call ");
    let loud = |frame: &row::Frame| frame.iter().any(|x| x.abs() > LOUD);
    let heard = recorder
        .wait_for(from, HEARD_WITHIN, loud)
        .and_then(|onset| {
            let end = onset + frames(AFTER_S);
            recorder.wait_until(end, HEARD_WITHIN).then(|| {
                let begin = onset.saturating_sub(frames(BEFORE_S)).max(from);
                Call::of(&recorder.part(begin, end))
            })
        });
    host.type_line("close");
    host.wait_for("closed");
    // Until the tone has died away everywhere.
    loop {
        let from = recorder.position();
        recorder.wait_until(from + frames(0.2), HEARD_WITHIN);
        let sounds = |channel: &Vec<f64>| channel.iter().any(|x| x.abs() > f64::from(QUIET));
        if !recorder.part(from, from + frames(0.2)).iter().any(sounds) {
            return heard;
        }
    }
}

/// Holds lessons until there are so many calls.
fn measure(row: &Row, calls: usize, progress: bool) -> Spread {
    let recorder = row.record();
    let mut spread = Spread::default();
    while spread.calls() < calls {
        let (mut host, address) = host(&["--reach", "twelve", "--name", "Village hall"]);
        let mut students: Vec<Process> = NAMES
            .iter()
            .map(|name| row.student(name, &address, None))
            .collect();
        for student in &mut students {
            student.wait_for("joined ");
        }
        for n in 0..IN_ONE_LESSON.min(calls - spread.calls()) {
            let call = call(&mut host, &recorder);
            spread.take(n, call, row.starved());
        }
        host.type_line("end");
        for student in &mut students {
            let (code, lines, errors) = student.finish();
            assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
        }
        if progress {
            eprintln!("{} of {calls} calls", spread.calls());
        }
    }
    spread
}

/// Bounds: the median within 1 ms, the worst within 5 ms, and nobody missing. Two
/// terminals under 1 ms apart fuse, and echoes of clicks are heard past about 5 ms:
/// Litovsky, Colburn, Yost and Guzman, "The precedence effect", JASA 106:1633
/// (1999). A machine busy with other tests may starve the sound system and tear a
/// hole into the sound, so the short form asks for less, and the best of three counts.
#[test]
fn everyone_starts_a_call_at_one_instant() {
    let Some(row) = Row::start("skew") else {
        return;
    };
    if let Some(calls) = std::env::var_os("FIFTHPEG_SKEW_CALLS") {
        let calls = calls.to_str().and_then(|n| n.parse().ok());
        let calls = calls.expect("FIFTHPEG_SKEW_CALLS is a number of calls");
        let (before, processors) = (spread::load(), spread::processors());
        let spread = measure(&row, calls, true);
        println!("{}", spread.report());
        println!("{}", spread::machine(&before));
        println!("{}", spread::meanwhile(processors));
        assert!(spread.is_within_goals(), "the goals are not reached");
        return;
    }
    let mut failures = Vec::new();
    for _ in 0..3 {
        let spread = measure(&row, FEW, false);
        println!("{}", spread.report());
        if spread.is_good_when_busy() {
            return;
        }
        failures.push(spread.report());
    }
    panic!("three times out of bounds:\n{}", failures.join("\n"));
}

/// How far Mia's onset lies behind the mean of the others', in milliseconds, with
/// the settings of a folder.
fn mia_behind_ms(row: &Row, settings: &Path) -> f64 {
    let recorder = row.record();
    let (mut host, address) = host(&["--reach", "twelve", "--name", "Village hall"]);
    let mut students: Vec<Process> = NAMES
        .iter()
        .map(|name| row.student(name, &address, (*name == "Mia").then_some(settings)))
        .collect();
    for student in &mut students {
        student.wait_for("joined ");
    }
    let behind_ms = call(&mut host, &recorder).map_or(f64::NAN, |call| {
        let others = call.onsets_ms[1..].iter().sum::<f64>() / (NAMES.len() - 1) as f64;
        call.onsets_ms[0] - others
    });
    host.type_line("end");
    for student in &mut students {
        student.finish();
    }
    behind_ms
}

/// A trim that `listen` keeps moves the recorded onset by just that much, and none
/// does once it is forgotten. Bounds: 5 ms, as for everyone together; the best of
/// three, for the same reason.
#[test]
fn a_trim_that_is_kept_moves_the_onset_by_as_much() {
    let Some(row) = Row::start("trim") else {
        return;
    };
    let settings = row.dir().join("settings");
    let listen = |line: &str, said: &str| {
        let mut listen = row.listen("Mia", &settings);
        listen.type_line(line);
        listen.type_line("end");
        let (code, lines, errors) = listen.finish();
        assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
        assert!(lines.iter().any(|line| line.contains(said)), "{lines:#?}");
    };
    let close_to = |wanted_ms: f64| {
        let behind_ms: Vec<f64> = (0..3)
            .map(|_| mia_behind_ms(&row, &settings))
            .scan(false, |found, ms| {
                let go_on = !*found;
                *found |= (ms - wanted_ms).abs() < 5.0;
                go_on.then_some(ms)
            })
            .collect();
        let best = behind_ms.iter().any(|ms| (ms - wanted_ms).abs() < 5.0);
        assert!(best, "{wanted_ms} ms wanted: {behind_ms:?}");
    };
    listen("trim 60", "the output sounds 60 ms later");
    // And the next run knows it.
    listen("trim", "trim 60 ms");
    close_to(-60.0);
    listen("trim -40", "the output sounds 40 ms earlier");
    close_to(40.0);
    listen("trim off", "the output has no trim");
    close_to(0.0);
}

/// The measure itself: made-up channels whose lags are known, among them one of
/// half a sample.
#[test]
fn lags_that_are_known_are_measured() {
    let tone = |n: f64| {
        let t = n / RATE_HZ;
        if t < 0.0 {
            return 0.0;
        }
        let rise = (t / 0.002).min(1.0);
        rise * (-6.0 * t).exp() * (std::f64::consts::TAU * 440.0 * t).sin()
    };
    let channel = |late: f64| -> Vec<f64> {
        (0..48_000)
            .map(|n| tone(f64::from(n) - 14_400.0 - late))
            .collect()
    };
    let first = channel(0.0);
    for late in [0.0, 1.0, -37.0, 240.5, 4800.0] {
        let (lag, alike) = likeness::lag(&first, &channel(late));
        assert!((lag - late).abs() < 0.1, "{late}: {lag}");
        assert!(alike > 0.97, "{late}: {alike}");
    }
    let all: Vec<Vec<f64>> = [0.0, 24.0, -24.0, 48.0].map(channel).to_vec();
    let call = Call::of(&all);
    assert!((call.spread_ms - 1.5).abs() < 0.01, "{}", call.spread_ms);
    assert_eq!((call.missing, call.torn), (0, 0));
    let silent = vec![0.0; 48_000];
    let call = Call::of(&[first, silent, channel(3.0), channel(5.0)]);
    assert_eq!(call.missing, 1);
}
