//! `fifthpeg track`: the same again byte for byte, whole files or none, and
//! plain words when it cannot be done.

use std::path::{Path, PathBuf};
use std::process::Command;

use fifthpeg_tests::{Process, program, run, temporary};

const ENDINGS: [&str; 5] = ["flac", "html", "mid", "txt", "wav"];

fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into()
        })
        .collect();
    names.sort();
    names
}

fn text(path: &Path) -> String {
    path.to_str().expect("a plain path").to_owned()
}

/// Runs it where a track is made.
fn made(name: &Path, options: &[&str]) -> String {
    let outcome = run(&[&["track", &text(name)], options].concat());
    assert_eq!(outcome.code, Some(0), "{outcome:?}");
    outcome.output
}

/// Runs it where none can be; exit code and sentence.
fn refused(name: &Path, options: &[&str]) -> (i32, String) {
    let outcome = run(&[&["track", &text(name)], options].concat());
    let last = outcome.errors.lines().last().unwrap_or_default().to_owned();
    (outcome.code.expect("an exit code"), last)
}

fn bytes(name: &Path) -> Vec<Vec<u8>> {
    ENDINGS
        .iter()
        .map(|ending| std::fs::read(name.with_extension(ending)).expect(ending))
        .collect()
}

#[test]
fn the_sheets_own_command_makes_the_same_bytes_again() {
    let (here, there) = (temporary("track-here"), temporary("track-there"));
    let said = made(
        &here.join("mia"),
        &[
            "--calls",
            "4",
            "--gap",
            "3",
            "--capo",
            "2",
            "--reach",
            "strings=1,2 frets=2-7",
            "--a4",
            "442",
            "--flats",
            "--answer",
            "climb",
        ],
    );
    assert!(said.starts_with("caution "), "{said}");
    assert_eq!(
        said.lines()
            .filter(|line| line.starts_with("wrote "))
            .count(),
        5
    );
    assert_eq!(names(&here), ENDINGS.map(|ending| format!("mia.{ending}")));
    let sheet = std::fs::read_to_string(here.join("mia.txt")).expect("a sheet");
    assert!(
        sheet.contains("turn headphones and amplifiers down"),
        "{sheet}"
    );
    assert!(sheet.is_ascii() && sheet.lines().rev().skip(1).all(|line| line.len() <= 80));
    let command = sheet.lines().last().expect("a command");
    // As somebody would type it, in another folder.
    let status = Command::new("sh")
        .args(["-c", &command.replacen("fifthpeg", "\"$FIFTHPEG\"", 1)])
        .env("FIFTHPEG", program::program())
        .current_dir(&there)
        .output()
        .expect("a shell");
    assert!(status.status.success(), "{command}: {status:?}");
    assert!(
        bytes(&here.join("mia")) == bytes(&there.join("mia")),
        "{command}"
    );

    // Another seed is another track.
    made(
        &there.join("ivo"),
        &[
            "--calls", "4", "--gap", "3", "--seed", "1", "--write", "midi",
        ],
    );
    made(
        &there.join("ruth"),
        &[
            "--calls", "4", "--gap", "3", "--seed", "2", "--write", "midi",
        ],
    );
    let midi = |name: &str| std::fs::read(there.join(name)).expect(name);
    assert_ne!(midi("ivo.mid"), midi("ruth.mid"));
}

#[test]
fn no_file_is_written_over_unless_asked() {
    let folder = temporary("track-over");
    let name = folder.join("mia");
    std::fs::write(folder.join("mia.mid"), "a tune of Mia's own").expect("written");
    let usual = ["--calls", "1", "--gap", "3"];
    let (code, told) = refused(&name, &usual);
    assert_eq!(code, 2);
    assert!(
        told.contains("mia.mid is there already") && told.contains("--replace"),
        "{told}"
    );
    assert_eq!(names(&folder), ["mia.mid"]);
    made(
        &name,
        &[&usual[..], &["--replace", "--write", "midi,text"]].concat(),
    );
    assert_eq!(names(&folder), ["mia.mid", "mia.txt"]);
    assert!(
        std::fs::read(folder.join("mia.mid"))
            .expect("a file")
            .starts_with(b"MThd")
    );
}

#[test]
fn what_cannot_be_written_leaves_nothing_behind() {
    let folder = temporary("track-trouble");
    let (code, told) = refused(&folder.join("nowhere/mia"), &[]);
    assert_eq!(code, 2);
    assert!(
        told.contains("there is no folder") && told.contains("make it first"),
        "{told}"
    );

    // A limit on the size of files stands for a full disk: the sheets fit, the
    // sound does not.
    let limited = Command::new("bash")
        .args([
            "-c",
            "trap '' XFSZ; ulimit -f 300; exec \"$0\" track \"$1\" --calls 3",
        ])
        .arg(program::program())
        .arg(text(&folder.join("mia")))
        .output()
        .expect("a shell");
    let told = String::from_utf8_lossy(&limited.stderr);
    assert_eq!(limited.status.code(), Some(1), "{told}");
    assert!(
        told.contains("mia.wav could not be written (files may not grow so large here)"),
        "{told}"
    );
    assert!(names(&folder).is_empty(), "{:?}", names(&folder));
}

#[test]
fn ctrl_c_leaves_nothing_behind() {
    let folder = temporary("track-stopped");
    let mut process = Process::start(
        "track",
        Command::new(program::program())
            .arg("track")
            .arg(folder.join("mia"))
            .args(["--minutes", "180", "--write", "flac,text"]),
    );
    process.wait_for("track ");
    while names(&folder).len() < 2 {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
    process.signal("INT");
    let (code, _, errors) = process.finish();
    assert_eq!(code, Some(1), "{errors}");
    assert!(errors.contains("stopped: no file was kept"), "{errors}");
    assert!(names(&folder).is_empty(), "{:?}", names(&folder));
}

#[test]
fn slips_get_one_sentence() {
    let name: PathBuf = temporary("track-slips").join("mia");
    for (options, wanted) in [
        (
            &["--gap", "2"][..],
            "--gap: \"2\" is no gap to search in: give 3 to 60 seconds, such as 8",
        ),
        (
            &["--calls", "0"],
            "--calls: \"0\" is no number of calls: give a whole number from 1 to 500",
        ),
        (&["--notes", "H4,A4"], "--notes: \"H4\" is no note"),
        (
            &["--notes", "A4"],
            "a track of one note leaves nothing to search for",
        ),
        (
            &["--notes", "A4,F#5", "--reach", "octave"],
            "--notes: \"A4\" is not in reach",
        ),
        (&["--reach", "octav"], "--reach: \"octav\" is no reach"),
        (&["--write", "ogg"], "--write: \"ogg\" is no kind of file"),
        (
            &["--answer", "chord"],
            "--answer: \"chord\" is no answer pattern: choose open-string, climb or none",
        ),
        (&["--minutes", "3", "--calls", "2"], "leave one of them out"),
        (&["another"], "\"another\""),
    ] {
        let (code, told) = refused(&name, options);
        assert_eq!(code, 2, "{options:?}: {told}");
        assert!(
            told.starts_with("error: ") && told.contains(wanted),
            "{options:?}: {told}"
        );
    }
    assert!(names(name.parent().expect("a folder")).is_empty());
}
