//! Plain mode at the door: a passphrase that is refused twice, being taken out,
//! and how long a script waits.

use std::net::TcpListener;
use std::process::Command;

use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::{Process, host, join, program, run};

/// Mia, who is asked for the passphrase.
fn without_words(address: &str) -> Process {
    let mut command = Command::new(program());
    command.args([
        "join", address, "--as", "Mia", "--plain", "--output", "none",
    ]);
    Process::start("Mia", &mut command)
}

#[test]
fn a_passphrase_refused_twice_gives_both_ends_a_key_to_compare() {
    let (mut host, address) = host(&[]);
    let mut mia = without_words(&address);
    mia.wait_for("hint type the words");
    mia.type_line("passphrase acorn river candle lion");
    let once = mia.wait_for("link That is not the passphrase");
    assert!(!once.contains("key"), "{once}");
    mia.type_line("passphrase acorn river candle bear");
    let twice = mia.wait_for("link That is not the passphrase");
    assert!(twice.contains("somebody may stand between"), "{twice}");
    // The host says its own at the start, and again when it is asked.
    host.type_line("network");
    host.wait_for("passphrase ");
    let lock = host.wait_for("lock ");
    let (_, key) = lock.split_once("this host's key is ").expect("a key");
    assert!(
        twice.contains(&format!("the key {key},")),
        "{twice}\n{lock}"
    );
    // Nobody is in between here, and the right words open.
    mia.type_line(&format!("passphrase {PASSPHRASE}"));
    mia.wait_for("joined Mia");
}

#[test]
fn who_is_taken_out_is_told_so_and_stays_in_the_table_as_that() {
    let (mut host, address) = host(&["--reach", "twelve"]);
    let mut mia = join("Mia", &address, &[]);
    let mut ivo = join("Ivo", &address, &[]);
    host.wait_for_both("joined Mia", "joined Ivo");
    host.type_line("call 1/2");
    mia.wait_for("call 1");
    mia.type_line("answer 1/2");
    host.wait_for("answer Mia");
    host.type_line("close");
    host.type_line("remove Mia");
    host.wait_for("left Mia, removed");
    mia.wait_for("link The host has taken you out of this lesson");
    assert_eq!(
        mia.wait_for("ended "),
        "ended the host has taken you out of the lesson"
    );
    assert_eq!(mia.finish().0, Some(0));
    host.type_line("end");
    let mia_s = host.wait_for("result Mia, taken out ");
    // One call, and found: what was done stays done.
    let figures: Vec<_> = mia_s["result Mia, taken out ".len()..]
        .split_whitespace()
        .collect();
    assert_eq!(figures[..2], ["1", "1"], "{mia_s}");
    assert!(
        host.lines_of("result")
            .iter()
            .any(|line| line.starts_with("result Ivo "))
    );
    ivo.wait_for("ended the lesson is over");
}

#[test]
fn a_script_waits_to_be_let_in_as_long_as_it_is_told() {
    // A port that is free now, and is the host's later.
    let port = TcpListener::bind("127.0.0.1:0")
        .expect("a port")
        .local_addr();
    let port = port.expect("an address").port().to_string();
    let address = format!("127.0.0.1:{port}");
    let arguments = |patience| {
        let lesson = [
            "join", &address, "--plain", "--output", "none", "--as", "Mia",
        ];
        let door = ["--passphrase", PASSPHRASE, "--patience", patience];
        [lesson.as_slice(), &door].concat()
    };
    let mut patient = Process::start("Mia", Command::new(program()).args(arguments("600")));
    patient.type_line("tally");
    // One with less patience has given up by then.
    let gave_up = run(&arguments("1"));
    assert_eq!(gave_up.code, Some(1), "{gave_up:?}");
    let (_host, _) = host(&["--port", &port]);
    patient.wait_for("joined Mia");
    patient.wait_for("tally ");
    for bad in ["0", "-1", "x", "3601"] {
        let refused = run(&arguments(bad));
        assert_eq!(refused.code, Some(2), "{refused:?}");
        assert!(refused.errors.contains("number of seconds"), "{refused:?}");
    }
}

#[test]
fn who_comes_in_is_told_little_and_what_is_no_command_is_the_passphrase() {
    let (mut host, address) = host(&[
        "--name",
        "Village hall",
        "--reach",
        "octave",
        "--telling",
        "verdict",
    ]);
    let mut mia = without_words(&address);
    mia.wait_for("hint type the words");
    mia.type_line("acorn river candle");
    mia.wait_for("link That is not the passphrase");
    mia.type_line(&PASSPHRASE.replace('-', " "));
    mia.wait_for("telling verdict");
    host.wait_for("joined Mia");
    // As soon as it is told, it is so.
    host.type_line("who");
    host.wait_for("who Mia: here");
    mia.type_line("rules");
    mia.wait_for("voice banjo");
    mia.type_line("leave");
    let (code, lines, errors) = mia.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
    let came_in = lines
        .iter()
        .skip_while(|line| !line.contains("not the passphrase"));
    let mut came_in: Vec<&str> = came_in
        .skip_while(|line| line.contains("not the passphrase") || line.starts_with("hint"))
        .take(6)
        .map(String::as_str)
        .collect();
    // The connection is told apart from what passes over it.
    came_in.sort_unstable();
    assert_eq!(
        came_in,
        [
            "joined Mia",
            "lesson Village hall",
            "link locked and encrypted",
            "neck five-string banjo, open G (gDGBD)",
            "reach octave",
            "telling verdict",
        ],
        "{lines:#?}"
    );
}
