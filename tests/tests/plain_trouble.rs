//! What goes wrong around a lesson: no sound card, lost processes, signals,
//! and lessons that are looked for.

use std::net::TcpListener;
use std::process::Command;
use std::time::{Duration, Instant};

use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::{
    PLACES, Process, host, host_with, join, join_with, program, run, skip, temporary,
};

/// An environment in which no sound system can be reached.
const NO_SOUND: &[(&str, &str)] = &[
    ("ALSA_CONFIG_PATH", "/dev/null"),
    ("PULSE_SERVER", "unix:/nowhere"),
    ("PIPEWIRE_REMOTE", "/nowhere"),
    ("XDG_RUNTIME_DIR", "/nowhere"),
];

#[test]
fn without_a_sound_card_the_lesson_goes_on_and_says_so() {
    let (mut host, address) = host_with(&["--output", "device", "--reach", "open"], NO_SOUND);
    let said = host.wait_for("sound ");
    assert!(said.contains("without sound"), "{said}");
    let mut command = Command::new(program());
    command
        .args(["join", &address, "--as", "Mia", "--plain"])
        .args(["--passphrase", PASSPHRASE])
        .envs(NO_SOUND.iter().copied());
    let mut mia = Process::start("Mia", &mut command);
    let said = mia.wait_for("sound ");
    assert!(said.contains("without sound"), "{said}");
    mia.wait_for("joined Mia");
    host.type_line("call 5/0");
    mia.wait_for("call 1 sounding");
    mia.type_line("try 1/0");
    mia.type_line("hear");
    mia.type_line("answer 5/0");
    mia.wait_for("mark 5/0 right");
    host.wait_for("answer Mia 5/0 right");
}

/// A file that is no library stands in the library's place (`LD_LIBRARY_PATH`, ld.so(8)).
#[test]
#[cfg(target_os = "linux")]
fn where_the_sound_library_is_missing_the_program_starts_and_says_so() {
    let folder = temporary("no-library");
    std::fs::create_dir_all(&folder).expect("a folder");
    std::fs::write(folder.join("libasound.so.2"), "").expect("a file");
    let without = [("LD_LIBRARY_PATH", folder.to_str().expect("UTF-8"))];
    let (mut host, address) = host_with(&["--output", "device", "--reach", "open"], &without);
    let said = host.wait_for("sound ");
    assert!(said.contains("no sound library"), "{said}");
    // Who has a file for the sound needs no library.
    let wav = folder.join("mia.wav");
    let mut command = Command::new(program());
    command
        .args(["join", &address, "--as", "Mia", "--plain"])
        .args(["--passphrase", PASSPHRASE, "--output"])
        .arg(format!("wav:{}", wav.display()))
        .envs(without);
    let mut mia = Process::start("Mia", &mut command);
    mia.wait_for("joined Mia");
    host.type_line("call 5/0");
    mia.wait_for("call 1 sounding");
    mia.type_line("answer 5/0");
    mia.wait_for("mark 5/0 right");
    let checked = Command::new(program())
        .args(["check", "--microphone", "none"])
        .envs(without)
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&checked.stdout).into_owned();
    assert_eq!(checked.status.code(), Some(1), "{said}");
    let sound = said.lines().next().expect("a line");
    assert!(
        sound.starts_with("sound") && sound.contains("fails") && sound.contains("libasound.so.2"),
        "{said}"
    );
    drop((mia, host));
    std::fs::remove_dir_all(&folder).expect("taken away");
}

#[test]
fn the_caution_comes_before_the_first_tone() {
    let (mut host, address) = host(&[]);
    let mia = join("Mia", &address, &[]);
    host.type_line("call");
    host.wait_for("call 1");
    for lines in [host.lines(), mia.lines()] {
        assert!(lines[0].starts_with("caution "), "{lines:#?}");
        assert!(lines[0].contains("headphones"), "{lines:#?}");
    }
    assert!(host.lines()[1].contains("first names or nicknames"));
}

#[test]
fn a_student_who_is_killed_and_started_again_has_the_old_place() {
    let folder = temporary("places");
    let places = [(PLACES, folder.to_str().expect("UTF-8"))];
    let kept = || {
        let files = std::fs::read_dir(folder.join("fifthpeg"));
        let place = |file: &std::io::Result<std::fs::DirEntry>| {
            let name = file.as_ref().expect("a file").file_name();
            name.to_string_lossy().ends_with(".place")
        };
        files.map_or(0, |files| files.filter(place).count())
    };
    let (mut host, address) = host(&["--reach", "open"]);
    let mut mia = join_with("Mia", &address, &[], &places);
    let mut ole = join("Ole", &address, &[]);
    host.type_line("call 5/0");
    mia.wait_for("call 1 sounding");
    mia.type_line("answer 5/0");
    mia.wait_for("mark 5/0 right");
    mia.kill();
    host.wait_for("away Mia");
    // Nobody else notices.
    ole.wait_for("call 1 sounding");
    ole.type_line("answer 3/0");
    ole.wait_for("mark 3/0 missed: the right note, an octave low");

    let mut again = join_with("Mia", &address, &[], &places);
    assert_eq!(again.lines_of("joined"), ["joined Mia"]);
    host.wait_for("back Mia");
    again.wait_for("call 1 sounding");
    // Another one of the name, while she is here, does not take her place.
    let mut other = join_with("Mia", &address, &[], &places);
    assert_eq!(other.lines_of("joined"), ["joined Mia 2"]);
    other.type_line("leave");
    assert_eq!(other.finish().0, Some(0));
    assert_eq!(kept(), 1);

    host.type_line("close");
    again.wait_for("closed call 1");
    host.type_line("end");
    let (code, lines, _) = host.finish();
    assert_eq!(code, Some(0));
    // What she found before is in the result, and she is there once.
    let results: Vec<Vec<&str>> = lines
        .iter()
        .filter(|line| line.starts_with("result Mia ") && !line.starts_with("result Mia 2"))
        .map(|line| line.split_whitespace().collect())
        .collect();
    assert_eq!(results.len(), 1, "{lines:#?}");
    assert_eq!(results[0][3], "1", "{results:?}");
    // With the lesson over, no place is kept.
    assert_eq!(again.finish().0, Some(0));
    assert_eq!(kept(), 0);
}

#[test]
fn who_leaves_and_comes_back_has_the_same_place() {
    let folder = temporary("leaves");
    let places = [(PLACES, folder.to_str().expect("UTF-8"))];
    let (mut host, address) = host(&["--reach", "open"]);
    let mut mia = join_with("Mia", &address, &[], &places);
    host.type_line("call 5/0");
    mia.wait_for("call 1 sounding");
    mia.type_line("answer 5/0");
    mia.wait_for("mark 5/0 right");
    host.type_line("close");
    mia.wait_for("closed call 1");
    for name in ["Mia", "mia", "Mia"] {
        mia.type_line("leave");
        assert_eq!(mia.finish().0, Some(0));
        mia = join_with(name, &address, &[], &places);
        assert_eq!(mia.lines_of("joined"), ["joined Mia"]);
        host.wait_for("back Mia");
    }
    host.type_line("end");
    let (_, lines, _) = host.finish();
    let results: Vec<&String> = lines
        .iter()
        .filter(|l| l.starts_with("result Mia"))
        .collect();
    assert_eq!(results.len(), 1, "{lines:#?}");
    assert_eq!(mia.finish().0, Some(0));
    let left = std::fs::read_dir(folder.join("fifthpeg")).expect("a folder");
    let left: Vec<_> = left.flatten().map(|file| file.file_name()).collect();
    let is_place = |name: &std::ffi::OsString| name.to_string_lossy().ends_with(".place");
    assert!(!left.iter().any(is_place), "{left:?}");
}

#[test]
fn a_place_in_a_lesson_that_is_gone_is_forgotten() {
    let folder = temporary("gone");
    let places = [(PLACES, folder.to_str().expect("UTF-8"))];
    let (mut first, address) = host(&[]);
    let mut mia = join_with("Mia", &address, &[], &places);
    mia.kill();
    first.kill();
    // A new lesson at the same address.
    let port = address.rsplit(':').next().expect("a port").to_owned();
    let (mut second, address) = host(&["--port", &port]);
    let mut again = join_with("Mia", &address, &["--new-key"], &places);
    second.wait_for("joined Mia");
    assert_eq!(again.lines_of("joined"), ["joined Mia"]);
    again.type_line("leave");
    let (code, lines, errors) = again.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
}

#[test]
fn a_host_that_is_gone_is_waited_for_and_can_be_left() {
    let (mut host, address) = host(&[]);
    let mut mia = join("Mia", &address, &[]);
    host.kill();
    let line = mia.wait_for("link ");
    let line = if line.contains("trying again") {
        line
    } else {
        mia.wait_for("link ")
    };
    assert!(line.contains("trying again"), "{line}");
    mia.type_line("leave");
    let (code, lines, _) = mia.finish();
    assert_eq!(code, Some(0), "{lines:#?}");
}

#[test]
fn a_host_asked_to_stop_ends_the_lesson_politely() {
    for signal in ["TERM", "INT", "HUP"] {
        let (mut host, address) = host(&[]);
        let mut mia = join("Mia", &address, &[]);
        host.wait_for("joined Mia");
        host.signal(signal);
        let (code, lines, errors) = host.finish();
        assert_eq!((code, errors.as_str()), (Some(0), ""), "SIG{signal}");
        assert!(
            lines.iter().any(|line| line.starts_with("result Mia ")),
            "{lines:#?}"
        );
        mia.wait_for("ended the lesson is over");
        assert_eq!(mia.finish().0, Some(0));
    }
}

#[test]
fn a_student_asked_to_stop_leaves() {
    let (mut host, address) = host(&[]);
    let mut mia = join("Mia", &address, &[]);
    mia.signal("TERM");
    host.wait_for("left Mia");
    assert_eq!(mia.finish().0, Some(0));
}

#[test]
fn a_student_whose_lesson_is_not_there_says_so() {
    // A port that nobody listens on: taken and given back.
    let address = TcpListener::bind("127.0.0.1:0")
        .and_then(|listener| listener.local_addr())
        .expect("a free port");
    let folder = temporary("not-there");
    let script = folder.join("leave.script");
    std::fs::write(&script, "leave\n").expect("a script");
    let outcome = run(&[
        "join",
        &address.to_string(),
        "--as",
        "Mia",
        "--output",
        "none",
        "--script",
        script.to_str().expect("UTF-8"),
    ]);
    assert_eq!(outcome.code, Some(1), "{outcome:?}");
    assert!(
        outcome
            .errors
            .contains(&format!("no lesson answers at {address}")),
        "{outcome:?}"
    );
    let all = outcome.output.clone() + &outcome.errors;
    assert!(!all.contains("connection was lost"), "{outcome:?}");
    assert!(!outcome.errors.contains("trying again"), "{outcome:?}");
    assert_eq!(outcome.errors.lines().count(), 1, "{outcome:?}");
}

#[test]
fn a_students_sound_goes_into_a_file() {
    let folder = temporary("sound");
    let wav = folder.join("mia.wav");
    let (mut host, address) = host(&["--reach", "open"]);
    let output = format!("wav:{}", wav.display());
    let mut mia = join("Mia", &address, &["--output", &output]);
    host.type_line("call 5/0");
    mia.wait_for("call 1");
    mia.type_line("pause 0.6");
    mia.wait_for("waited pause");
    mia.type_line("leave");
    assert_eq!(mia.finish().0, Some(0));
    let mut reader = hound::WavReader::open(&wav).expect("a WAV file");
    let loudest = reader
        .samples::<i16>()
        .map(|sample| sample.expect("a sample").unsigned_abs())
        .max();
    assert!(loudest.is_some_and(|peak| peak > 300), "{loudest:?}");
}

#[test]
fn running_lessons_are_listed_and_the_only_one_is_joined() {
    let mut command = Command::new(program());
    let name = format!("Hall {}", std::process::id());
    command.args(["host", "--plain", "--output", "none", "--name", &name]);
    command.args(["--passphrase", PASSPHRASE]);
    let mut host = Process::start("host", &mut command);
    host.wait_for("lesson ");
    host.wait_for("voice ");
    let outside = host
        .lines_of("address")
        .iter()
        .any(|line| !line.contains("127.0.0.1") && !line.contains("[::1]"));
    let announced = host
        .lines_of("hint")
        .iter()
        .any(|line| line.contains("by itself"));
    if !announced || !outside {
        skip("this machine has no network to announce a lesson on");
        return;
    }
    let outcome = run(&["join", "--list", "--look", "3"]);
    assert_eq!(outcome.code, Some(0), "{outcome:?}");
    assert!(
        outcome.output.contains(&format!("lesson {name} at ")),
        "{outcome:?}"
    );
    let mut command = Command::new(program());
    command.args(["join", &name, "--as", "Mia", "--plain", "--output", "none"]);
    command.args(["--passphrase", PASSPHRASE]);
    let mut mia = Process::start("Mia", &mut command);
    mia.wait_for(&format!("lesson {name}"));
    host.wait_for("joined Mia");
    drop(host);
    std::thread::sleep(Duration::from_millis(50));
}

#[test]
fn who_joins_while_the_lesson_is_still_being_announced_is_told_of() {
    let port = TcpListener::bind("127.0.0.1:0")
        .and_then(|free| free.local_addr())
        .expect("a free port")
        .port();
    let script = temporary("early").join("script");
    std::fs::write(&script, "wait students 1 for 20\nwho\nend\n").expect("a script");
    let address = format!("127.0.0.1:{port}");
    let mut command = Command::new(program());
    command
        .args([
            "host",
            "--name",
            "Early birds",
            "--output",
            "none",
            "--plain",
        ])
        .args(["--passphrase", PASSPHRASE])
        .args(["--port", &port.to_string(), "--script"])
        .arg(&script);
    let mut host = Process::start("host", &mut command);
    // The host listens before it has said so.
    let patience = Instant::now() + Duration::from_secs(20);
    while std::net::TcpStream::connect(&address).is_err() {
        assert!(Instant::now() < patience, "nobody listens");
        std::thread::sleep(Duration::from_millis(5));
    }
    let _mia = join("Mia", &address, &[]);
    let (code, lines, errors) = host.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
    for line in ["joined Mia", "waited students 1"] {
        assert!(lines.iter().any(|l| l == line), "{line}: {lines:#?}");
    }
}
