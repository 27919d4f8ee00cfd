//! Bad input of every kind gets one clear sentence, ends with the right code
//! where it ends, and loses nothing.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::time::Duration;

use fifthpeg_tests::{host, join, run, temporary};

/// Exit code 2, nothing on standard output, one sentence that holds `says`.
fn refused(arguments: &[&str], says: &str) {
    let outcome = run(arguments);
    assert_eq!(outcome.code, Some(2), "{arguments:?}: {outcome:?}");
    assert_eq!(outcome.output, "", "{arguments:?}: {outcome:?}");
    let errors = outcome.errors.trim_end();
    assert!(
        errors.starts_with("error: ") && errors.lines().count() == 1,
        "{arguments:?}: {outcome:?}"
    );
    assert!(errors.contains(says), "{arguments:?}: {outcome:?}");
}

/// Without a terminal to ask at, all of the help, and what to do.
#[test]
fn no_words_and_no_terminal() {
    let outcome = run(&[]);
    assert_eq!((outcome.code, outcome.output.as_str()), (Some(2), ""));
    let errors = outcome.errors.trim_end();
    assert!(errors.contains("Usage: fifthpeg"), "{errors}");
    let last = errors.lines().last().unwrap_or_default();
    assert!(
        last.starts_with("error: say what to do: host, join, solo, neck"),
        "{errors}"
    );
}

#[test]
fn arguments() {
    for (arguments, says) in [
        (
            &["track", "mia", "--level", "0"][..],
            "at level 0 nothing would be heard",
        ),
        (&["sing"][..], "host, join, solo, neck"),
        (&["host", "--sing"], "there is no --sing"),
        (&["host", "--nam", "x"], "perhaps --name was meant"),
        (&["host", "--name"], "needs a value"),
        (&["host", "--name", ""], "cannot be a name"),
        (&["host", "--name", "a\u{1b}[2J"], "cannot be a name"),
        (&["host", "--name", "a", "--name", "b"], "--name"),
        (
            &["host", "--marking", "loud"],
            "choose same-pitch, exact-place or any-octave",
        ),
        (
            &["host", "--sounding", "loud"],
            "choose every-terminal, host-speakers or on-asking",
        ),
        (
            &["host", "--telling", "all"],
            "choose verdict, hint or interval",
        ),
        (
            &["host", "--voice", "oboe"],
            "choose banjo, guitar or plain",
        ),
        (&["host", "--a4", "880"], "hertz from 390 to 470"),
        (&["host", "--a4", "NaN"], "hertz from 390 to 470"),
        (&["host", "--level", "101"], "from 0 to 100"),
        (&["host", "--level", "loud"], "from 0 to 100"),
        (&["host", "--port", "70000"], "from 0 to 65535"),
        (&["host", "--seed", "-1"], "--seed"),
        (&["host", "--bind", "here"], "no address of this machine"),
        (&["host", "--max-students", "0"], "from 1 to 1000"),
        (&["host", "--friends"], "--as"),
        (
            &[
                "host",
                "--friends",
                "--as",
                "Mia",
                "--sounding",
                "host-speakers",
                "--output",
                "none",
            ],
            "needs --output device",
        ),
        (&["host", "--as", "Mia"], "--friends"),
        (&["host", "--output", "lute"], "--output"),
        (&["host", "--output", "wav:"], "--output"),
        (&["host", "--neck", "lute"], "there is no ready neck"),
        (
            &["host", "--neck", "banjo-open-h"],
            "perhaps banjo-open-g was meant",
        ),
        (
            &["host", "--neck", "guitar", "--neck-file", "x.toml"],
            "cannot go with",
        ),
        (&["host", "--capo", "two"], "no capo"),
        (&["host", "--capo", "0"], "--capo"),
        (&["host", "--capo", "30"], "--capo"),
        (
            &["host", "--neck", "guitar", "--capo", "2,7"],
            "no short string",
        ),
        (&["join"], "--as"),
        (&["join", "--as", ""], "cannot be a name"),
        (
            &["join", "192.168.1.20:0", "--as", "Mia"],
            "address and port",
        ),
        (&["join", "hall:99999", "--as", "Mia"], "address and port"),
        (&["join", "", "--as", "Mia"], "no lesson"),
        (&["join", "--list", "--look", "0"], "from 1 to 60"),
        (&["neck", "lute"], "there is no ready neck"),
        (
            &["neck", "banjo-open-g", "guitar"],
            "one neck at a time is drawn",
        ),
        (&["join", "Thursday", "class", "--as", "Mia"], "in quotes"),
        (&["host", "--name", "Thursday", "class"], "in quotes"),
        (&["neck", "--places", "H4"], "--places"),
        (&["neck", "--places", "C9"], "lies nowhere on this neck"),
        (
            &["neck", "--places", "C4", "--reach", "open"],
            "cannot go with",
        ),
    ] {
        refused(arguments, says);
    }
}

#[test]
fn reaches() {
    for spec in [
        "nowhere",
        "strings=9",
        "strings=",
        "frets=5-0",
        "frets=a-b",
        "pitches=D4-D3",
        "notes=H:major",
        "notes=G:sad",
        "strings=1 frets=0-0",
        "strings=5 frets=1-5",
    ] {
        refused(&["host", "--reach", spec], "--reach: ");
        refused(&["neck", "--reach", spec], "--reach: ");
    }
}

#[test]
fn neck_files() {
    let folder = temporary("necks");
    let file = |name: &str, text: &[u8]| {
        let path = folder.join(name);
        std::fs::write(&path, text).expect("the file is written");
        path.to_str().expect("UTF-8").to_owned()
    };
    let good = run(&["neck", "banjo-open-g", "--toml"]);
    assert_eq!(good.code, Some(0));
    let good_path = file("good.toml", good.output.as_bytes());
    assert_eq!(run(&["neck", "--neck-file", &good_path]).code, Some(0));
    let lines = good.output.lines().count();

    let extra = format!("{}\nstrnigs = 3\n", good.output);
    refused(&["neck", "--neck-file", &file("empty.toml", b"")], "line 1");
    refused(
        &[
            "neck",
            "--neck-file",
            &file("text.toml", b"name = \"a\"\nhello\n"),
        ],
        "line 2",
    );
    let first_line_bad = good.output.replacen("name", "nmae", 1);
    refused(
        &[
            "neck",
            "--neck-file",
            &file("typo.toml", first_line_bad.as_bytes()),
        ],
        "example",
    );
    let outcome = run(&["neck", "--neck-file", &file("extra.toml", extra.as_bytes())]);
    assert_eq!(outcome.code, Some(2), "{outcome:?}");
    assert!(
        outcome.errors.contains("line "),
        "{outcome:?} of {lines} lines"
    );
    refused(
        &["host", "--neck-file", &file("bytes.toml", b"\xff\xfe\x00")],
        "not UTF-8",
    );
    refused(
        &[
            "host",
            "--neck-file",
            &file("big.toml", &vec![b'#'; 300_000]),
        ],
        "larger than",
    );
    refused(
        &["host", "--neck-file", "nowhere.toml"],
        "there is no such file",
    );
    let folder = folder.to_str().expect("UTF-8");
    refused(&["host", "--neck-file", folder], "cannot be read");
}

#[test]
fn what_cannot_be_done_ends_with_code_1() {
    let outcome = run(&[
        "host",
        "--no-announce",
        "--output",
        "wav:/nowhere/at/all.wav",
    ]);
    assert_eq!(outcome.code, Some(1), "{outcome:?}");
    assert!(
        outcome.errors.contains("choose another place"),
        "{outcome:?}"
    );
    let (_host, address) = host(&[]);
    let port = address.rsplit(':').next().expect("a port");
    let outcome = run(&[
        "host",
        "--no-announce",
        "--output",
        "none",
        "--bind",
        "127.0.0.1",
        "--port",
        port,
    ]);
    assert_eq!(outcome.code, Some(1), "{outcome:?}");
    assert!(outcome.errors.contains("cannot listen on"), "{outcome:?}");
    assert_eq!(outcome.errors.lines().count(), 1, "{outcome:?}");
}

#[test]
fn lines_that_make_no_sense_leave_the_lesson_as_it_was() {
    let (mut host, address) = host(&["--reach", "open"]);
    let mut mia = join("Mia", &address, &[]);
    host.type_line("call 1/0");
    mia.wait_for("call 1");
    for line in [
        "sing",
        "call 2/0",
        "call H9",
        "reach nowhere",
        "reach strings=1 frets=0-0",
        "marking",
        "marking loud",
        "remove Ole",
        "wait rain",
        "pause for ever",
        "call 99/99",
        "\u{7f}",
    ] {
        host.type_line(line);
    }
    host.type_bytes(b"\xff\xfe broken\n");
    host.type_bytes(&[b'x'; 20_000]);
    host.type_bytes(b"\n");
    for line in [
        "answer",
        "answer 9/9",
        "answer 5/3",
        "answer H",
        "try up",
        "pick 1/0",
        "reveal",
    ] {
        mia.type_line(line);
    }
    mia.type_line("answer 1/0");
    mia.wait_for("mark 1/0 right");
    host.wait_for("answer Mia 1/0 right");
    host.type_line("who");
    host.wait_for("who Mia: here");
    // All but "marking" alone, which asks.
    assert_eq!(host.lines_of("error").len(), 13, "{:#?}", host.lines());
    assert_eq!(mia.lines_of("error").len(), 7, "{:#?}", mia.lines());
}

#[test]
fn peers_that_talk_garbage_are_shown_out_and_the_lesson_goes_on() {
    let (mut host, address) = host(&["--reach", "open"]);
    let mut mia = join("Mia", &address, &[]);
    let upgrade = "GET / HTTP/1.1\r\nHost: x\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n\
                   Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\nSec-WebSocket-Version: 13\r\n\r\n";
    // A masked binary frame of 16 bytes that is no greeting, and one that
    // claims to be as long as frames can be.
    let frame = [&[0x82_u8, 0x90, 0, 0, 0, 0][..], &[0xff; 16]].concat();
    let huge = [
        &[
            0x82_u8, 0xff, 0x7f, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff,
        ][..],
        &[0; 4],
    ]
    .concat();
    let garbage: Vec<Vec<u8>> = vec![
        vec![],
        b"hello\r\n\r\n".to_vec(),
        // One that asks for the page gets the page, which is more than a word.
        vec![0; 100_000],
        vec![0xff; 100_000],
        [upgrade.as_bytes(), &frame].concat(),
        [upgrade.as_bytes(), &huge].concat(),
    ];
    for bytes in &garbage {
        let mut peer = TcpStream::connect(&address).expect("the host listens");
        peer.set_read_timeout(Some(Duration::from_secs(20)))
            .expect("a timeout");
        peer.set_write_timeout(Some(Duration::from_secs(20)))
            .expect("a timeout");
        // The host may hang up before everything is written.
        let _ = peer.write_all(bytes);
        let _ = peer.shutdown(std::net::Shutdown::Write);
        let mut answer = Vec::new();
        let _ = peer.take(1 << 20).read_to_end(&mut answer);
        assert!(
            answer.len() < 10_000,
            "the host has little to say to a stranger"
        );
    }
    host.type_line("call 5/0");
    mia.wait_for("call 1 sounding");
    mia.type_line("answer 5/0");
    mia.wait_for("mark 5/0 right");
    host.type_line("end");
    let (code, _, errors) = host.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""));
    assert_eq!(host.lines_of("joined"), ["joined Mia"]);
}
