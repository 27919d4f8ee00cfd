//! Lessons and students that run from a file.

use std::path::Path;
use std::process::Command;

use fifthpeg_tests::{Process, host, join, program, run, temporary};

fn write(folder: &Path, name: &str, text: &str) -> String {
    let path = folder.join(name);
    std::fs::write(&path, text).expect("the script is written");
    path.to_str().expect("a path in UTF-8").to_owned()
}

#[test]
fn the_demo_lesson_runs_to_a_readable_result() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../scripts/demo");
    let script = |name: &str| demo.join(name).to_str().expect("UTF-8").to_owned();
    let (mut host, address) = host(&["--seed", "5", "--script", &script("host.script")]);
    let students = ["Mia", "Ivo", "Ruth"].map(|name| {
        let file = script(&format!("student-{}.script", name.to_lowercase()));
        join(name, &address, &["--script", &file])
    });
    for mut student in students {
        let mut waited = 0;
        // The host's script lasts longer than one wait of a test.
        let (code, lines) = loop {
            waited += 1;
            match student.finish_within(std::time::Duration::from_secs(60)) {
                Some((code, lines, _)) => break (code, lines),
                None => assert!(waited < 3, "the lesson does not end"),
            }
        };
        assert_eq!(code, Some(0), "{lines:#?}");
        assert_eq!(
            student.lines_of("error"),
            Vec::<String>::new(),
            "{lines:#?}"
        );
        assert_eq!(student.lines_of("reveal").len(), 5, "{lines:#?}");
        let vain: Vec<_> = lines.iter().filter(|l| l.contains("in vain")).collect();
        assert!(vain.is_empty(), "{vain:?} in {lines:#?}");
    }
    let (code, lines, errors) = host.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
    assert_eq!(host.lines_of("error"), Vec::<String>::new());
    let answers = host.lines_of("answer");
    for part in [
        "answer Ivo 3/0 missed: low by an octave",
        "answer Ruth 2/2 missed: a neighbour",
        "answer Mia 2/7 right",
        "answer Ivo 1/4 right",
        "answer Ruth 3/11 right",
    ] {
        assert!(
            answers.iter().any(|a| a.starts_with(part)),
            "{part}: {answers:#?}"
        );
    }
    // Headings and three rows.
    assert_eq!(host.lines_of("result").len(), 4, "{lines:#?}");
}

#[test]
fn a_script_goes_on_with_what_is_typed() {
    let folder = temporary("goes-on");
    let script = write(
        &folder,
        "host.script",
        "# begin\n\nreach open\ncall 5/0 # high\n",
    );
    let (mut host, _) = host(&["--script", &script]);
    host.wait_for("reach open");
    host.wait_for("call 1 sounding");
    host.type_line("close");
    host.wait_for("closed call 1");
    host.end_input();
    let (code, lines, _) = host.finish();
    assert_eq!(code, Some(0));
    assert!(lines.last().is_some_and(|line| line.starts_with("ended ")));
}

#[test]
fn a_mistake_in_a_script_is_found_before_anything_starts() {
    let folder = temporary("mistake");
    for (text, line) in [
        ("reach open\ncall\nsing\n", 3),
        ("# fine\n\nwait found many\n", 3),
        ("call H9\n", 1),
    ] {
        let script = write(&folder, "host.script", text);
        let outcome = run(&[
            "host",
            "--no-announce",
            "--output",
            "none",
            "--script",
            &script,
        ]);
        assert_eq!(outcome.code, Some(2), "{outcome:?}");
        assert_eq!(outcome.output, "");
        let wanted = format!("host.script, line {line}: ");
        assert!(outcome.errors.contains(&wanted), "{outcome:?}");
        assert_eq!(outcome.errors.lines().count(), 1, "{outcome:?}");
    }
    let script = write(&folder, "student.script", "wait call\nreach open\n");
    let outcome = run(&["join", "127.0.0.1:9", "--as", "Mia", "--script", &script]);
    assert_eq!(outcome.code, Some(2));
    assert!(
        outcome.errors.contains("student.script, line 2: "),
        "{outcome:?}"
    );
}

#[test]
fn a_refusal_in_a_script_names_its_line_and_the_lesson_goes_on() {
    let folder = temporary("refusal");
    let script = write(&folder, "host.script", "reveal\ncall 1/0\ncall 2/0\nend\n");
    let mut command = Command::new(program());
    command.args([
        "host",
        "--no-announce",
        "--bind",
        "127.0.0.1",
        "--output",
        "none",
    ]);
    let mut host = Process::start("host", command.args(["--script", &script]));
    let (code, _, _) = host.finish();
    assert_eq!(code, Some(0));
    let errors = host.lines_of("error");
    assert!(errors[0].starts_with("error line 1: "), "{errors:?}");
    assert!(
        errors[1].starts_with("error line 3: a call is still open"),
        "{errors:?}"
    );
    assert_eq!(errors.len(), 2);
}

#[test]
fn a_script_that_is_not_there_is_said_to_be() {
    let outcome = run(&["host", "--script", "nowhere.script"]);
    assert_eq!(outcome.code, Some(2));
    assert!(
        outcome.errors.contains("nowhere.script cannot be read"),
        "{outcome:?}"
    );
}
