//! Neck files: what reads, and what an error says.

use fifthpeg_core::{Capo, Neck, ready_necks};

const BANJO: &str = r#"name = "five-string banjo, open G (gDGBD)"
scale_length_mm = 670
frets = 22
strings = ["D4", "B3", "G3", "D3", { open = "G4", first_fret = 5 }]
"#;

/// The line, and the whole message.
fn error(text: &str) -> (usize, String) {
    let error = Neck::from_toml(text).expect_err(text);
    (error.line, error.to_string())
}

#[test]
fn the_documented_form_reads() {
    let banjo = Neck::ready("banjo-open-g").expect("a ready neck");
    assert_eq!(Neck::from_toml(BANJO), Ok(banjo.clone()));
    let capoed = format!("{BANJO}\n[capo]\nfret = 2\nshort = 7\n");
    assert_eq!(
        Neck::from_toml(&capoed),
        Ok(banjo
            .with_capo(Capo {
                fret: 2,
                short: Some(7)
            })
            .expect("fits"))
    );
    let tables = "name = \"two\"\nscale_length_mm = 600.5\n[[strings]]\nopen = \"A3\"\nlast_fret = 12\n\
                  [[strings]]\nopen = \"E♭3\"\nlast_fret = 10\ncourse = [0, 12]\n";
    let neck = Neck::from_toml(tables).expect("reads");
    assert_eq!(
        neck.string(2)
            .map(|s| (s.open.midi(), s.last_fret, s.course.clone())),
        Some((51, 10, vec![0, 12]))
    );
}

#[test]
fn every_ready_neck_reads_back() {
    for ready in ready_necks() {
        let neck = ready.neck();
        assert_eq!(Neck::from_toml(&neck.to_toml()), Ok(neck));
    }
}

#[test]
fn errors_tell_line_fault_and_example() {
    let (line, text) = error(&BANJO.replace("\"B3\"", "\"H3\""));
    assert_eq!(line, 4);
    assert!(
        text.contains("\"H3\" is no note") && text.contains("for example"),
        "{text}"
    );

    let (line, text) = error(&BANJO.replace("frets = 22", "fretts = 22"));
    assert_eq!(
        (line, text.contains("did you mean \"frets\"?")),
        (3, true),
        "{text}"
    );

    let (line, text) = error(&BANJO.replace("first_fret", "firstfret"));
    assert_eq!(
        (line, text.contains("did you mean \"first_fret\"?")),
        (4, true),
        "{text}"
    );

    let (line, text) = error(&BANJO.replace("670", "67"));
    assert_eq!(
        (line, text.contains("67 mm fits no neck")),
        (2, true),
        "{text}"
    );

    let (line, text) = error(&BANJO.replace("name", "# name"));
    assert_eq!(
        (line, text.contains("\"name\" is missing")),
        (1, true),
        "{text}"
    );

    let (line, text) = error(&BANJO.replace("frets = 22\n", ""));
    assert_eq!((line, text.contains("how many frets")), (3, true), "{text}");

    let (line, text) = error(&format!("{BANJO}[capo]\nfret = 2\nshort = 5\n"));
    assert_eq!(
        (line, text.contains("begins at fret 5")),
        (5, true),
        "{text}"
    );

    let (line, text) = error(
        "name = \"x\"\nscale_length_mm = 670.0\nstrings = [\n  \"D4\",\n  7,\n]\nfrets = 5\n",
    );
    assert_eq!(
        (line, text.contains("a string is its open pitch")),
        (5, true),
        "{text}"
    );

    let (line, text) = error(&BANJO.replace("strings = [", "strings = "));
    assert_eq!((line, text.contains("not TOML")), (4, true), "{text}");

    let (line, text) = error(&BANJO.replace("frets = 22", "frets = 400"));
    assert_eq!((line, text.contains("whole number")), (3, true), "{text}");

    let (line, text) = error(&BANJO.replace("frets = 22", "frets = 37"));
    assert!(line == 4 && text.contains("must be from 1 to 36"), "{text}");

    let (line, text) = error("");
    assert_eq!(
        (line, text.contains("\"name\" is missing")),
        (1, true),
        "{text}"
    );
    let (line, _) = error(&"#".repeat(70_000));
    assert_eq!(line, 1);
}

#[test]
fn a_name_is_short_in_bytes_too_and_holds_nothing_invisible() {
    let named = |name: &str| Neck::from_toml(&BANJO.replace("five-string banjo", name));
    // 16 letters come behind it.
    assert!(named(&"x".repeat(44)).is_ok());
    assert!(named(&"𝄞".repeat(28)).is_ok(), "128 bytes");
    for bad in [
        &"x".repeat(45),
        &"𝄞".repeat(29),
        "\u{202e}ojnab",
        "ban\u{2028}jo",
        "ban\u{200b}jo",
        "ban\u{feff}jo",
    ] {
        let error = named(bad).expect_err(bad);
        assert_eq!(error.line, 1);
        assert!(error.to_string().contains("without invisible signs"));
    }
}
