//! A class lesson with the real program in plain mode, over loopback.

use fifthpeg_tests::{host, join, temporary};

#[test]
fn a_class_hears_answers_and_sees_the_reveal() {
    let (mut host, address) = host(&["--reach", "twelve", "--name", "Village hall"]);
    // Mia's terminal sounds into a file, the others nowhere.
    let wav = format!("wav:{}", temporary("class").join("mia.wav").display());
    let mut mia = join("Mia", &address, &["--output", &wav]);
    let mut ivo = join("Ivo", &address, &[]);
    let mut ruth = join("Ruth", &address, &[]);
    host.type_line("wait students 3");
    host.wait_for("waited students 3");

    host.type_line("call 2/1");
    for student in [&mut mia, &mut ivo, &mut ruth] {
        student.wait_for("call 1 sounding");
        // Nobody answers before the tone has begun, and so has no time.
        student.type_line("pause 0.6");
        student.wait_for("waited pause");
    }
    // The very place; the same pitch elsewhere; a neighbour and then an octave.
    mia.type_line("answer 2/1");
    assert_eq!(mia.wait_for("mark "), "mark 2/1 right");
    ivo.type_line("answer 3/5");
    assert_eq!(ivo.wait_for("mark "), "mark 3/5 right");
    ruth.type_line("try 2/3");
    ruth.wait_for("tried 2/3");
    ruth.type_line("answer 2/2");
    assert_eq!(
        ruth.wait_for("mark "),
        "mark 2/2 missed: right next to it: one fret lower"
    );
    ruth.type_line("hear");
    ruth.type_line("answer C5");
    assert_eq!(
        ruth.wait_for("mark "),
        "mark C5 missed: the right note, an octave high"
    );

    // The host sees every answer with the time from the tone and how sure it is,
    // where the terminal sounded it.
    let line = host.wait_for("answer Mia 2/1 right, ");
    let time = line.trim_start_matches("answer Mia 2/1 right, ");
    let (seconds, uncertainty) = time.split_once(" s +/- ").expect("a time");
    let seconds: f64 = seconds.parse().expect("seconds");
    let uncertainty: f64 = uncertainty.trim_end_matches(" s").parse().expect("seconds");
    assert!((0.0..30.0).contains(&seconds), "{line}");
    assert!((0.01..5.0).contains(&uncertainty), "{line}");
    assert_eq!(host.wait_for("answer Ivo "), "answer Ivo 3/5 right");
    host.wait_for("tried Ruth 2/3");
    host.wait_for("heard Ruth 1");
    host.wait_for("answer Ruth C5 missed: high by an octave");
    host.type_line("wait found 2");
    host.wait_for("waited found 2");
    host.type_line("target");
    assert_eq!(host.wait_for("target"), "target C4 at 2/1");

    host.type_line("reveal");
    for who in [&mut host, &mut mia, &mut ivo, &mut ruth] {
        assert_eq!(who.wait_for("reveal "), "reveal C4: 2/1 3/5 4/10");
    }
    host.type_line("close");
    assert_eq!(host.wait_for("closed "), "closed call 1: 2 of 3 found it");
    assert_eq!(mia.wait_for("closed "), "closed call 1: found");
    assert_eq!(ruth.wait_for("closed "), "closed call 1: not found");
    ruth.type_line("tally");
    let tally = ruth.wait_for("tally ");
    assert!(tally.starts_with("tally found 0 of 1 "), "{tally}");

    host.type_line("end");
    let (code, lines, errors) = host.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""));
    let row = |name: &str| {
        let start = format!("result {name} ");
        let row = lines.iter().find(|line| line.starts_with(&start));
        row.unwrap_or_else(|| panic!("no result for {name} in {lines:#?}"))
            .split_whitespace()
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    // name, calls, found, first, played, sung, again, tries, median
    assert_eq!(row("Mia")[1..9], ["Mia", "1", "1", "1", "0", "0", "0", "0"]);
    assert_eq!(
        row("Ruth")[1..],
        ["Ruth", "1", "0", "0", "0", "0", "1", "1", "-"]
    );
    assert!(row("Mia")[9].parse::<f64>().is_ok());
    for mut student in [mia, ivo, ruth] {
        assert_eq!(student.finish().0, Some(0));
    }
}

#[test]
fn the_note_is_on_no_students_lines_before_the_reveal() {
    let (mut host, address) = host(&["--reach", "twelve", "--telling", "hint"]);
    let mut mia = join("Mia", &address, &[]);
    host.type_line("call F#4");
    mia.wait_for("call 1");
    mia.type_line("answer 1/0");
    mia.wait_for("mark 1/0 missed: ");
    mia.type_line("where");
    mia.wait_for("where ");
    mia.wait_for("where the host's clock is known within ");
    let before = mia.lines().join("\n");
    assert!(
        !before.contains("F#") && !before.contains("1/4"),
        "{before}"
    );
    host.type_line("reveal");
    assert_eq!(mia.wait_for("reveal "), "reveal F#4: 1/4 2/7 3/11 4/16");
}

#[test]
fn rules_change_in_mid_lesson_and_everyone_is_told() {
    let (mut host, address) = host(&[]);
    let mut mia = join("Mia", &address, &[]);
    for (line, told) in [
        ("reach open", "reach open"),
        ("reach strings=1,2 frets=0-5", "reach strings=1,2 frets=0-5"),
        ("marking any-octave", "marking any-octave"),
        ("telling interval", "telling interval"),
        ("voice guitar", "voice guitar"),
        ("sounding on-asking", "sounding on-asking"),
    ] {
        host.type_line(line);
        host.wait_for(told);
        mia.wait_for(told);
    }
    // On asking: the call waits, and the first hearing is free.
    host.type_line("call 1/2");
    mia.wait_for("call 1 waiting");
    mia.type_line("hear");
    mia.type_line("answer E");
    assert_eq!(mia.wait_for("mark "), "mark E right");
    host.type_line("close");
    mia.wait_for("closed ");
    // Exact marking wants the very place.
    host.type_line("marking exact-place");
    mia.wait_for("marking exact-place");
    host.type_line("call 1/0");
    mia.wait_for("call 2");
    mia.type_line("answer D4");
    assert!(mia.wait_for("error").contains("exact place"));
    mia.type_line("answer 2/3");
    assert_eq!(
        mia.wait_for("mark "),
        "mark 2/3 missed: the right note, but at another place"
    );
    mia.type_line("answer 1/0");
    assert_eq!(mia.wait_for("mark "), "mark 1/0 right");
}

#[test]
fn everything_goes_by_place_for_who_knows_no_names() {
    let (mut host, address) = host(&["--reach", "octave"]);
    let mut ruth = join("Ruth", &address, &[]);
    host.type_line("call");
    ruth.wait_for("call 1");
    // Search every place of the low octave until it is found.
    let places = (2..=5).flat_map(|string| (0..=5).map(move |fret| format!("{string}/{fret}")));
    for place in places.chain((0..=5).map(|fret| format!("1/{fret}"))) {
        ruth.type_line(&format!("answer {place}"));
        let line = loop {
            // A place behind the short string's peg is refused; go on.
            let line = ruth.wait_for("");
            if line.starts_with("mark ") || line.starts_with("error") {
                break line;
            }
        };
        if line.ends_with(" right") {
            host.wait_for(&format!("answer Ruth {place} right"));
            return;
        }
    }
    panic!("the note was at no place of its own reach");
}

#[test]
fn who_and_remove_and_help() {
    let (mut host, address) = host(&[]);
    let mut mia = join("Mia", &address, &[]);
    let mut second = join("Mia", &address, &[]);
    assert!(second.lines().contains(&"joined Mia 2".to_owned()));
    host.type_line("wait students 2");
    host.wait_for("waited");
    host.type_line("who");
    assert!(host.wait_for("who Mia:").contains("here"));
    assert!(host.wait_for("who Mia 2:").contains("here"));
    host.type_line("remove Mia 2");
    host.wait_for("left Mia 2");
    second.finish();
    host.type_line("remove Nobody");
    assert!(host.wait_for("error").contains("nobody here is called"));
    mia.type_line("help");
    mia.wait_for("help hear");
    mia.wait_for("help leave");
    mia.wait_for("help help [all]");
    assert!(
        !mia.lines()
            .iter()
            .any(|line| line.starts_with("help quiet"))
    );
    mia.type_line("help all");
    mia.wait_for("help quiet");
    mia.type_line("neck");
    mia.wait_for("neck string 5: G4 open");
    mia.type_line("leave");
    host.wait_for("left Mia");
    assert_eq!(mia.finish().0, Some(0));
}
