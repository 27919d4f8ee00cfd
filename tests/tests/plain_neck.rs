//! `fifthpeg neck`: necks, places and reaches in text.

use fifthpeg_tests::run;

fn lines(arguments: &[&str]) -> Vec<String> {
    let outcome = run(&[&["neck"], arguments].concat());
    assert_eq!(outcome.code, Some(0), "{arguments:?}: {outcome:?}");
    assert_eq!(outcome.errors, "", "{arguments:?}");
    outcome.output.lines().map(str::to_owned).collect()
}

/// The lines before the drawing, which an empty line parts from them.
fn said(arguments: &[&str]) -> Vec<String> {
    let lines = lines(arguments);
    let end = lines.iter().position(String::is_empty);
    lines[..end.expect("an empty line")].to_vec()
}

/// Places on the five-string banjo in open G: common practice, no source.
#[test]
fn the_places_of_a_pitch() {
    for (pitch, wanted) in [
        ("C4", "C4   2/1 3/5 4/10"),
        ("F#4", "F#4  1/4 2/7 3/11 4/16"),
        ("f#4", "F#4  1/4 2/7 3/11 4/16"),
        ("A4", "A4   1/7 2/10 3/14 4/19 5/7"),
        ("D5", "D5   1/12 2/15 3/19 5/12"),
        ("D3", "D3   4/0"),
        ("C6", "C6   1/22 5/22"),
    ] {
        assert_eq!(said(&["--ascii", "--places", pitch]), [wanted]);
    }
    let flats = said(&["--ascii", "--flats", "--places", "F#4"]);
    assert_eq!(flats, ["Gb4  1/4 2/7 3/11 4/16"]);
    // A name without octave: every octave the neck has.
    let every_d = said(&["--ascii", "--places", "D"]);
    let names: Vec<_> = every_d.iter().filter_map(|l| l.split(' ').next()).collect();
    assert_eq!(names, ["D3", "D4", "D5"]);
}

#[test]
fn the_pitches_of_a_reach() {
    assert_eq!(said(&["--reach", "two-open"]), ["B3   2/0", "D4   1/0"]);
    assert_eq!(
        said(&["--reach", "open"]),
        ["D3   4/0", "G3   3/0", "B3   2/0", "D4   1/0", "G4   5/0"]
    );
    let octave = said(&["--ascii", "--reach", "octave"]);
    assert_eq!(octave.len(), 13);
    assert_eq!(
        said(&["--ascii", "--reach", "strings=1 frets=0-5 notes=G:major"]),
        ["D4   1/0", "E4   1/2", "F#4  1/4", "G4   1/5"]
    );
}

#[test]
fn places_and_reaches_are_drawn_below_what_is_said() {
    for (more, wanted) in [
        (["--places", "F#4"], ["F#4", "F#4", "F#4", "F#4", ""]),
        (["--reach", "open"], ["D4", "B3", "G3", "D3", "G4"]),
    ] {
        let lines = lines(&[&["--ascii"], &more[..]].concat());
        let start = lines.iter().position(String::is_empty).expect("a drawing");
        let drawing = &lines[start + 1..];
        assert_eq!(drawing[0], "five-string banjo, open G (gDGBD)");
        for (string, name) in (1..).zip(wanted) {
            let label = format!("{string} ");
            let of_string = drawing.iter().filter(|line| line.starts_with(&label));
            let names: String = of_string
                .flat_map(|line| line[label.len()..].chars())
                .filter(|sign| !matches!(sign, ' ' | '-' | '|'))
                .collect();
            assert_eq!(names, name, "{drawing:#?}");
        }
        assert!(drawing.iter().all(|line| line.len() <= 80), "{drawing:#?}");
    }
    let drawn = lines(&["--places", "F#4"]).join("\n");
    assert!(drawn.contains("─F♯4─") && drawn.contains('┼'), "{drawn}");
}

#[test]
fn every_listed_neck_is_drawn_and_read_back_from_its_own_file() {
    let listed = lines(&["--list"]);
    assert!(listed.len() >= 12, "{listed:#?}");
    for line in listed {
        let name = line.split(' ').next().expect("a name");
        let drawn = lines(&[name, "--ascii"]);
        assert!(drawn.len() > 4, "{drawn:#?}");
        let toml = lines(&[name, "--toml"]).join("\n");
        let folder = fifthpeg_tests::temporary("neck");
        let path = folder.join("neck.toml");
        std::fs::write(&path, toml).expect("the file is written");
        let path = path.to_str().expect("UTF-8");
        assert_eq!(lines(&["--ascii", "--neck-file", path]), drawn);
    }
}

#[test]
fn a_capo_raises_the_short_string_by_its_own() {
    // With strings 1 to 4 at fret 2, string 5 is raised at fret 7: common
    // practice, no source.
    let open = |capo: &str, string: &str| {
        let drawn = lines(&["--ascii", "--capo", capo]);
        let line = drawn.into_iter().find(|line| line.starts_with(string));
        line.and_then(|line| line.split_whitespace().nth(1).map(str::to_owned))
    };
    for (capo, string, note) in [
        ("2", "1 ", "E4"),
        ("2", "4 ", "E3"),
        ("2", "5 ", "A4"),
        ("2,7", "5 ", "A4"),
        ("2,0", "5 ", "G4"),
        ("2,8", "5 ", "A#4"),
    ] {
        assert_eq!(open(capo, string).as_deref(), Some(note), "{capo} {string}");
    }
}

#[test]
fn the_program_says_its_version_and_helps() {
    let version = run(&["--version"]);
    assert_eq!(version.code, Some(0));
    assert!(version.output.starts_with("fifthpeg "), "{version:?}");
    for part in ["commit", "sound", "protocol", "lesson book"] {
        assert!(version.output.contains(part), "{part}: {version:?}");
    }
    for command in ["host", "join", "neck"] {
        let help = run(&[command, "--help"]);
        assert_eq!(help.code, Some(0));
        assert!(help.output.contains("Usage: fifthpeg"), "{help:?}");
    }
}
