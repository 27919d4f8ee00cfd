//! What goes wrong for one leaves the others theirs, and nothing half-made.

use std::fs;
use std::process::Command;
use std::time::{Duration, Instant};

use fifthpeg_tests::{Process, host, join, program, run};

use crate::common::{CLASS, NAMES, hall, names, read, text};

const SHORT: [&str; 6] = ["--calls", "1", "--gap", "3", "--write", "midi,text"];

#[test]
fn one_who_cannot_have_any_keeps_nobody_from_theirs() {
    let hall = hall("homework-one");
    // Pia came, and searched for nothing.
    let (mut teacher, address) = host(&["--book", text(&hall.book), "--class", CLASS]);
    let mut pia = join("Pia", &address, &[]);
    teacher.type_line("end");
    teacher.finish();
    pia.finish();
    // Something of Ivo's own has the name.
    fs::create_dir_all(hall.of("Ivo")).expect("a folder");
    fs::write(hall.of("Ivo").join("tune.txt"), "la la").expect("written");

    let outcome = hall.homework(&SHORT);
    assert_eq!(outcome.code, Some(2), "{outcome:?}");
    let last = outcome.errors.lines().last().unwrap_or_default();
    assert!(
        last.contains("made for 7 of 8 students, and not for Ivo:"),
        "{last}"
    );
    let refused = outcome
        .output
        .lines()
        .find(|l| l.starts_with("nothing for "));
    assert!(
        refused
            .is_some_and(|t| t.starts_with("nothing for Ivo: ") && t.contains("is there already")),
        "{}",
        outcome.output
    );
    let everyone = names(&hall.to);
    assert_eq!(everyone.len(), NAMES.len() + 1);
    assert_eq!(names(&hall.of("Ivo")), ["tune.txt"]);

    // Not even when asked to: it is no homework.
    let before = read(&hall.of("Mia").join("Mia.txt"));
    fs::write(hall.of("Mia").join("my own.txt"), "mine").expect("written");
    let outcome = hall.homework(&[&SHORT[..], &["--replace", "--seed", "9"]].concat());
    assert_eq!(outcome.code, Some(2), "{outcome:?}");
    assert!(
        outcome.output.contains("is no homework folder"),
        "{}",
        outcome.output
    );
    assert_eq!(read(&hall.of("Ivo").join("tune.txt")), "la la");
    // The others' are made anew, and what is not of it stays.
    assert_ne!(read(&hall.of("Mia").join("Mia.txt")), before);
    assert_eq!(read(&hall.of("Mia").join("my own.txt")), "mine");
    assert_eq!(names(&hall.to), everyone);
}

/// A plain track of what the class plays, and no failure.
#[test]
fn who_never_answered_has_homework_too() {
    let hall = hall("homework-silent");
    let (mut teacher, address) = host(&["--book", text(&hall.book), "--class", CLASS]);
    let mut pia = join("Pia", &address, &[]);
    teacher.type_line("end");
    teacher.finish();
    pia.finish();
    let outcome = hall.homework(&SHORT);
    assert_eq!(outcome.code, Some(0), "{outcome:?}");
    let said = &outcome.output;
    assert!(
        said.contains("little is known of Pia: no call was answered"),
        "{said}"
    );
    let last: Vec<&str> = said.lines().rev().take(2).collect();
    assert!(
        last[0].starts_with("done: ") && last[1].starts_with("little is known yet of "),
        "{said}"
    );
    assert!(last[1].contains("Pia"), "{said}");
    let start = read(&hall.of("Pia").join("start.txt"));
    assert!(
        start.contains("it is not known yet what Pia can"),
        "{start}"
    );
    let sheet = read(&hall.of("Pia").join("Pia.txt"));
    assert!(
        sheet.contains("fifthpeg track Pia") && !sheet.contains("--notes"),
        "{sheet}"
    );
}

#[test]
fn a_full_disk_leaves_nothing_half_made() {
    let hall = hall("homework-full");
    // A limit on the size of files stands for a full disk: pages fit, sound does
    // not.
    let limited = Command::new("bash")
        .args(["-c", "trap '' XFSZ; ulimit -f 300; exec \"$0\" \"$@\""])
        .arg(program::program())
        .args(hall.arguments(&["--calls", "3", "--write", "wav,html"]))
        .output()
        .expect("a shell");
    let told = String::from_utf8_lossy(&limited.stdout);
    assert_eq!(limited.status.code(), Some(1), "{limited:?}");
    for student in NAMES {
        let sentence = format!(
            "nothing for {student}: {}/{student}.wav could not be written (files may not grow so large here)",
            hall.of(student).display()
        );
        assert!(told.contains(&sentence), "{told}");
    }
    assert!(!hall.to.exists(), "{:?}", names(&hall.to));
}

#[test]
fn ctrl_c_leaves_whole_folders_or_none() {
    let hall = hall("homework-stopped");
    fs::create_dir(&hall.to).expect("a folder");
    let options = ["--minutes", "60", "--write", "flac,text"];
    let mut process = Process::start(
        "homework",
        Command::new(program::program()).args(hall.arguments(&options)),
    );
    process.wait_for("homework for 7 students");
    let began = Instant::now();
    while !names(&hall.to).iter().any(|name| name.ends_with(".part")) {
        assert!(
            began.elapsed() < Duration::from_secs(60),
            "nothing is written"
        );
        std::thread::sleep(Duration::from_millis(10));
    }
    process.signal("INT");
    let (code, lines, errors) = process.finish();
    assert_eq!(code, Some(1), "{errors}");
    assert!(
        errors.contains("stopped: ") && errors.contains("--replace"),
        "{errors}"
    );
    let whole: Vec<&String> = lines
        .iter()
        .filter(|line| line.starts_with("made "))
        .collect();
    let left = names(&hall.to);
    assert_eq!(left.len(), whole.len(), "{left:?} {whole:?}");
    assert!(
        left.len() < NAMES.len() && left.iter().all(|name| !name.starts_with('.')),
        "{left:?}"
    );
}

#[test]
fn slips_get_one_sentence() {
    let hall = hall("homework-slips");
    let told = |options: &[&str]| {
        let outcome = hall.homework(options);
        let last = outcome.errors.lines().last().unwrap_or_default().to_owned();
        (outcome.code, last)
    };
    for (options, wanted) in [
        (&["--write", "html"][..], "leaves nothing to hear"),
        (&["--reach", "octav"], "is no reach"),
        (&["--gap", "1"], "is no gap to search in"),
        (&["--notes", "A4"], "--notes"),
    ] {
        let (code, told) = told(options);
        assert_eq!(code, Some(2), "{options:?}: {told}");
        assert!(
            told.starts_with("error: ") && told.contains(wanted),
            "{options:?}: {told}"
        );
    }
    assert!(!hall.to.exists());
    let book = text(&hall.book);
    let nowhere = hall.folder.join("no/where");
    for (arguments, wanted) in [
        (vec!["homework", "--book", book], "--to"),
        (
            vec!["homework", "--book", book, "--to", text(&nowhere)],
            "make it first",
        ),
        (
            vec!["homework", "--book", "/no/such.book", "--to", "there"],
            "there is no lesson book",
        ),
        (
            vec![
                "homework", "--book", book, "--class", "Friday", "--to", "there",
            ],
            "no class \"Friday\"",
        ),
        (
            vec!["track", "--student", "Mi", "--book", book],
            "nobody in",
        ),
        (
            vec!["track", "--student", "Mia", "--notes", "A4"],
            "cannot go with",
        ),
        (vec!["track", "--class", CLASS], "--student"),
        (vec!["track", "--notes", "A4=0,B4"], "no weight after its ="),
    ] {
        let outcome = run(&arguments);
        assert_eq!(outcome.code, Some(2), "{arguments:?}: {outcome:?}");
        assert!(
            outcome.errors.contains(wanted),
            "{arguments:?}: {}",
            outcome.errors
        );
    }
}
