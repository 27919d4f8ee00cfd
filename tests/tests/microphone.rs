//! What is played into the sound system is heard by a microphone as what it was
//! and when it was: through ALSA and a PulseAudio sink without a loudspeaker,
//! whose monitor is the microphone. And what becomes of microphones that are
//! denied, absent, unplugged, muted, or of an odd format.
//!
//! Needs the Debian packages pulseaudio, pulseaudio-utils and
//! libasound2-plugins. Without them it says `SKIPPED`, or fails if
//! `FIFTHPEG_REQUIRE_ALL=1`.

use fifthpeg_tests::{Hall, Process};
use std::fs::Permissions;
use std::os::unix::fs::PermissionsExt;
use std::path::Path;
use std::process::{Command, Output, Stdio};

/// A listener in the hall, as its own process.
fn notes(hall: &Hall, input: &str) -> Process {
    let mut command = hall.command(env!("CARGO_BIN_EXE_hear"));
    Process::start("microphone", command.args(["notes", input]))
}

/// Plays tones; when each starts, in seconds of the system's clock, and how far
/// that may be out.
fn play(hall: &Hall, tones: &[&str]) -> Vec<(f64, f64)> {
    let out = hall
        .command(env!("CARGO_BIN_EXE_play-tones"))
        .arg("device")
        .args(tones)
        .output()
        .expect("play-tones runs");
    let complaints = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(out.status.success(), "{complaints}");
    String::from_utf8_lossy(&out.stdout)
        .lines()
        .skip(1)
        .map(|line| {
            let (at, uncertainty) = line.split_once(' ').expect("two figures");
            (number(at), number(uncertainty))
        })
        .collect()
}

fn number(text: &str) -> f64 {
    text.parse().expect("a number")
}

/// A pluck as it was told: MIDI number, second of the system's clock, and
/// uncertainty.
fn plucks(lines: &[String]) -> Vec<(u8, f64, f64)> {
    lines
        .iter()
        .filter_map(|line| line.strip_prefix("pluck "))
        .map(|rest| {
            let fields: Vec<&str> = rest.split(' ').collect();
            let [_, midi, at, uncertainty] = fields[..] else {
                panic!("a pluck is four figures: {rest}");
            };
            (
                midi.parse().expect("a MIDI number"),
                number(at),
                number(uncertainty),
            )
        })
        .collect()
}

/// D3, A4 and C6 are played and heard. Bounds: each is told as its note, and its
/// onset within what the listener and the output say together, plus 30 ms: a
/// monitor gets sound when the sink takes it, a little before the sink plays it.
/// A machine busy with other tests may starve the sound system and tear a hole
/// into the sound, so the best of three counts.
#[test]
fn notes_are_heard_as_what_they_were_and_when() {
    let Some(hall) = Hall::start("hears") else {
        return;
    };
    let mut failures = Vec::new();
    for _ in 0..3 {
        match play_and_hear(&hall) {
            Ok(report) => {
                println!("{report}");
                return;
            }
            Err(failure) => failures.push(failure),
        }
    }
    panic!("three times out of bounds:\n{}", failures.join("\n"));
}

fn play_and_hear(hall: &Hall) -> Result<String, String> {
    let mut microphone = notes(hall, "microphone");
    microphone.wait_for("started ");
    // MIDI 50, 69 and 84 in equal temperament at A4 = 440 Hz (ISO 16:1975).
    let tones = ["146.832@4000", "440@6000", "1046.502@8000"];
    let played = play(hall, &tones);
    microphone.type_line("stop");
    let (code, lines, errors) = microphone.finish();
    assert_eq!(
        (code, errors.as_str()),
        (Some(0), ""),
        "nothing may spoil a screen"
    );
    let heard = plucks(&lines);
    // A hole torn into a ringing note can end in one pluck more.
    let count = tones.len()..=tones.len() + 1;
    let (mut report, mut good) = (Vec::new(), count.contains(&heard.len()));
    for (midi, (at_s, unsure_s)) in [50, 69, 84].into_iter().zip(played) {
        let found = heard
            .iter()
            .min_by(|a, b| (a.1 - at_s).abs().total_cmp(&(b.1 - at_s).abs()));
        let Some((told, heard_s, heard_unsure_s)) = found else {
            good = false;
            continue;
        };
        let late_s = heard_s - at_s;
        good &= *told == midi && late_s.abs() < unsure_s + heard_unsure_s + 0.03;
        report.push(format!(
            "{midi} heard as {told}, {:+.1} ms from the time told; uncertain {:.1} ms and {:.1} ms",
            late_s * 1000.0,
            heard_unsure_s * 1000.0,
            unsure_s * 1000.0
        ));
    }
    let report = format!("{}\n{} plucks heard", report.join("\n"), heard.len());
    if good { Ok(report) } else { Err(report) }
}

/// An unplugged microphone is told, comes back by itself, and hears again.
#[test]
fn an_unplugged_microphone_comes_back_by_itself() {
    let Some(hall) = Hall::start("unplugged") else {
        return;
    };
    let mut microphone = notes(&hall, "microphone");
    microphone.wait_for("started ");
    microphone.wait_for("level ");
    let module = null_sink(&hall);
    hall.pactl(&["unload-module", &module]);
    let trouble = microphone.wait_for("trouble ");
    assert!(trouble.contains("the microphone stopped"), "{trouble}");
    assert!(trouble.contains("plug it in again"), "{trouble}");
    hall.pactl(&["load-module", "module-null-sink", "sink_name=hall"]);
    microphone.wait_for("back");
    microphone.wait_for("started ");
    play(&hall, &["440@500"]);
    let heard = microphone.wait_for("pluck ");
    assert!(heard.starts_with("pluck 0 69 "), "{heard}");
    microphone.type_line("stop");
    let (code, lines, errors) = microphone.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
}

fn null_sink(hall: &Hall) -> String {
    let modules = hall.pactl(&["list", "short", "modules"]);
    let line = modules.lines().find(|line| line.contains("null-sink"));
    let line = line.expect("the hall has a sink");
    line.split_whitespace().next().expect("a number").to_owned()
}

/// Sources of odd formats are heard as well: 8000 Hz in 8 bits and one channel,
/// and six channels at 96 kHz.
#[test]
fn odd_formats_are_heard() {
    let Some(hall) = Hall::start("formats") else {
        return;
    };
    for format in [
        ["rate=8000", "format=u8", "channels=1"],
        ["rate=96000", "format=s32le", "channels=6"],
    ] {
        let module = null_sink(&hall);
        hall.pactl(&["unload-module", &module]);
        let mut load = vec!["load-module", "module-null-sink", "sink_name=hall"];
        load.extend(format);
        hall.pactl(&load);
        let mut microphone = notes(&hall, "microphone");
        microphone.wait_for("started ");
        play(&hall, &["440@1000"]);
        let heard = microphone.wait_for("pluck ");
        assert!(heard.starts_with("pluck 0 69 "), "{format:?}: {heard}");
        microphone.type_line("stop");
        assert_eq!(microphone.finish().0, Some(0));
    }
}

/// A muted microphone opens and brings silence; measuring the room says so.
#[test]
fn a_muted_microphone_is_told_by_the_room() {
    let Some(hall) = Hall::start("muted") else {
        return;
    };
    hall.pactl(&["set-source-mute", "hall.monitor", "1"]);
    let mut microphone = notes(&hall, "microphone");
    microphone.wait_for("started ");
    microphone.type_line("calibrate");
    microphone.wait_for("calibrating 0.5");
    let room = microphone.wait_for("room ");
    assert!(room.contains("not muted"), "{room}");
    microphone.type_line("stop");
    assert_eq!(microphone.finish().0, Some(0));
}

/// What `hear` says of an input that does not open, in one line that is ours.
fn refused(command: &mut Command) -> String {
    let out: Output = command.stdin(Stdio::null()).output().expect("hear runs");
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(1), "{said}");
    assert!(!said.contains("panicked"), "{said}");
    // The client library of PulseAudio says on standard error that it may not
    // read a cookie; nothing else may.
    let lines: Vec<&str> = said
        .lines()
        .filter(|line| !line.starts_with("Failed to load cookie"))
        .collect();
    assert_eq!(lines.len(), 1, "{said}");
    lines[0].to_owned()
}

#[test]
fn absent_unknown_and_silent_microphones_say_what_to_do() {
    let Some(hall) = Hall::start("absent") else {
        return;
    };
    let hear = env!("CARGO_BIN_EXE_hear");
    let said = refused(hall.command(hear).args(["notes", "microphone:lute"]));
    assert!(
        said.starts_with("no microphone is called 'lute': "),
        "{said}"
    );
    assert!(said.contains("default"), "{said}");
    // The sound system runs and has nothing to listen to.
    hall.pactl(&["unload-module", &null_sink(&hall)]);
    let said = refused(hall.command(hear).args(["notes", "microphone"]));
    assert!(said.contains("see that it is plugged in"), "{said}");
    // No sound system at all, only what ALSA itself has: on a machine with no
    // sound card that is nothing.
    if !std::path::Path::new("/dev/snd").exists() {
        let mut bare = hall.command(hear);
        bare.env("ALSA_CONFIG_PATH", "/usr/share/alsa/alsa.conf")
            .env("PULSE_SERVER", "unix:/dev/null/nowhere");
        let said = refused(bare.args(["notes", "microphone"]));
        assert!(said.starts_with("no microphone was found: "), "{said}");
    }
}

/// A sound server that lets this user not in.
#[test]
fn a_denied_microphone_says_what_to_do() {
    let Some(hall) = Hall::start("denied") else {
        return;
    };
    // A second door, which opens for those with the server's cookie or its user.
    // It stands where everybody may go, and so does the program that knocks.
    let place = std::env::temp_dir().join(format!("fifthpeg-door-{}", std::process::id()));
    std::fs::create_dir_all(&place).expect("a directory");
    let mode = |path: &Path, mode| {
        std::fs::set_permissions(path, Permissions::from_mode(mode)).expect("our own file");
    };
    mode(&place, 0o755);
    let door = place.join("door");
    let socket = format!("socket={}", door.display());
    hall.pactl(&["load-module", "module-native-protocol-unix", &socket]);
    let config = place.join("asound.conf");
    let hear = place.join("hear");
    let open = std::fs::read_to_string(hall.dir().join("asound.conf")).expect("the hall's own");
    let usual = hall.dir().join("native").display().to_string();
    std::fs::write(&config, open.replace(&usual, &door.display().to_string())).expect("a file");
    std::fs::copy(env!("CARGO_BIN_EXE_hear"), &hear).expect("a copy");
    mode(&config, 0o644);
    let root = Command::new("id").arg("-u").output().expect("id runs");
    let mut denied = if root.stdout == b"0\n" {
        // The server trusts its own user, so somebody else has to ask.
        let mut other = hall.command("setpriv");
        other.args(["--reuid=65534", "--clear-groups"]).arg(&hear);
        other
    } else {
        mode(&door, 0o000);
        hall.command(&hear)
    };
    denied
        .env("ALSA_CONFIG_PATH", &config)
        .env("PULSE_SERVER", format!("unix:{}", door.display()));
    let said = refused(denied.args(["notes", "microphone"]));
    let _ = std::fs::remove_dir_all(&place);
    assert!(said.starts_with("this program may not listen"), "{said}");
    assert!(said.contains("privacy settings"), "{said}");
}

/// The loop from an output to an input is measured: on this path only the
/// monitor's head start is left of it.
#[test]
fn the_loop_test_finds_the_way_from_output_to_input() {
    let Some(hall) = Hall::start("loop") else {
        return;
    };
    let mut failures = Vec::new();
    for _ in 0..3 {
        let out = hall
            .command(env!("CARGO_BIN_EXE_hear"))
            .args(["loop", "device", "microphone"])
            .output()
            .expect("hear runs");
        let said = String::from_utf8_lossy(&out.stdout).into_owned();
        let figures: Vec<f64> = said.split_whitespace().map(number).collect();
        match figures[..] {
            [delay_ms, uncertainty_ms, clearness_db] => {
                println!("{said}");
                if delay_ms.abs() < uncertainty_ms + 30.0 && clearness_db > 20.0 {
                    return;
                }
                failures.push(said);
            }
            _ => failures.push(String::from_utf8_lossy(&out.stderr).into_owned()),
        }
    }
    panic!("three times out of bounds:\n{}", failures.join("\n"));
}

#[test]
fn a_loop_test_that_hears_nothing_says_so() {
    let Some(hall) = Hall::start("noloop") else {
        return;
    };
    hall.pactl(&["set-source-mute", "hall.monitor", "1"]);
    let hear = env!("CARGO_BIN_EXE_hear");
    let said = refused(hall.command(hear).args(["loop", "device", "microphone"]));
    assert!(said.contains("did not hear the test sound"), "{said}");
    for none in [["loop", "none", "microphone"], ["loop", "device", "none"]] {
        let said = refused(hall.command(hear).args(none));
        assert!(said.contains("other than 'none'"), "{said}");
    }
}

/// Headphones pulled and put in again: the output is lost, and plays again.
#[test]
fn an_output_that_was_unplugged_plays_again() {
    let Some(hall) = Hall::start("replug") else {
        return;
    };
    let mut player = Process::start(
        "player",
        hall.command(env!("CARGO_BIN_EXE_play-tones"))
            .args(["patient", "device"])
            .args((1..40).map(|n| format!("440@{}", n * 500))),
    );
    player.wait_for("played ");
    let module = null_sink(&hall);
    hall.pactl(&["unload-module", &module]);
    let lost = player.wait_for("the sound device stopped");
    assert!(lost.contains("tried again by itself"), "{lost}");
    hall.pactl(&["load-module", "module-null-sink", "sink_name=hall"]);
    player.wait_for("played ");
    player.kill();
}
