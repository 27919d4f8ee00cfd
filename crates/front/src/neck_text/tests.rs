use fifthpeg_core::{Reach, ready_necks};

use super::*;

fn look(columns: usize, left_handed: bool) -> Look {
    Look {
        spelling: Spelling::Sharps,
        ascii: true,
        left_handed,
        columns,
    }
}

fn drawn(name: &str, columns: usize, left_handed: bool) -> Vec<String> {
    neck(
        &Neck::ready(name).expect("a ready neck"),
        look(columns, left_handed),
    )
}

/// The names on one string's lines, over all parts, open note included.
fn names(lines: &[String], string: u8) -> Vec<String> {
    let label = format!("{string} ");
    lines
        .iter()
        .skip(1)
        .filter(|line| line.starts_with(&label))
        .flat_map(|line| line[label.len()..].split(['|', '-', ' ']))
        .filter(|name| !name.is_empty())
        .map(str::to_owned)
        .collect()
}

/// The fret numbers below the parts, in the order read.
fn numbers(lines: &[String]) -> Vec<u8> {
    lines
        .iter()
        .filter(|line| line.starts_with(' '))
        .flat_map(|line| line.split_whitespace())
        .map(|number| number.parse().expect("a fret's number"))
        .collect()
}

#[test]
fn every_fret_of_every_ready_neck_is_drawn_and_named_whatever_the_width() {
    for ready in ready_necks() {
        let known = Neck::ready(ready.name).expect("a ready neck");
        for columns in [40, 80, 132, 200] {
            let lines = drawn(ready.name, columns, false);
            for line in lines.iter().skip(1) {
                assert!(line.is_ascii() && line.len() <= columns, "{line}");
            }
            let frets: Vec<u8> = (1..=known.last_fret()).collect();
            assert_eq!(numbers(&lines), frets, "{} {columns}", ready.name);
            for (number, _) in known.numbered_strings() {
                let wanted: Vec<String> = (0..=known.last_fret())
                    .map(|fret| Position {
                        string: number,
                        fret,
                    })
                    .filter_map(|place| Some((place.fret, known.pitch_at(place)?)))
                    .map(|(fret, pitch)| match fret {
                        0 => pitch.ascii_name(Spelling::Sharps),
                        _ => pitch.class().ascii_name(Spelling::Sharps),
                    })
                    .collect();
                assert_eq!(names(&lines, number), wanted, "{} {columns}", ready.name);
            }
        }
    }
}

#[test]
fn eighty_columns_show_twenty_two_frets_in_two_parts() {
    let lines = drawn("banjo-open-g", 80, false);
    let below: Vec<&String> = lines.iter().filter(|line| line.starts_with(' ')).collect();
    let [first, second] = below[..] else {
        panic!("{lines:#?}")
    };
    assert!(first.trim().starts_with('1') && first.trim().ends_with("11"));
    assert!(second.trim().starts_with("12") && second.trim().ends_with("22"));
    assert_eq!(drawn("banjo-open-g", 200, false).len(), 1 + 5 + 1);
}

#[test]
fn frets_are_true_to_scale_within_a_column() {
    // Fret distance from the nut: L(1 - 2^(-n/12)), equal temperament.
    let lines = drawn("banjo-open-g", 200, false);
    let first = lines.iter().find(|l| l.starts_with("1 D4")).expect("D4");
    let wires: Vec<f64> = first
        .match_indices('|')
        .map(|(at, _)| (at - MARGIN) as f64)
        .collect();
    assert_eq!(wires.len(), 23);
    let along = |fret: usize| 1.0 - 2f64.powf(-(fret as f64) / 12.0);
    let width = (200 - MARGIN - 1) as f64;
    for (fret, wire) in wires.iter().enumerate() {
        let wanted = along(fret) / along(22) * width;
        assert!((wire - wanted).abs() <= 0.5, "fret {fret}: {wire}");
    }
}

#[test]
fn the_left_handed_neck_mirrors_the_other() {
    for columns in [80, 200] {
        let right = drawn("banjo-open-g", columns, false);
        let left = drawn("banjo-open-g", columns, true);
        assert_eq!(left.len(), right.len());
        assert!(right[1].starts_with("1 D4 ") && left[1].ends_with(" 1 D4"));
        assert!(left[5].ends_with(" 5"), "{left:#?}");
        for (right, left) in right.iter().zip(&left).skip(1) {
            let words = |line: &str| {
                let signs = line.split(['|', '-', ' ']).filter(|sign| !sign.is_empty());
                let mut words: Vec<String> = signs.map(str::to_owned).collect();
                words.sort();
                words
            };
            assert_eq!(words(left), words(right));
        }
        let digits = |line: &str| -> Vec<u8> {
            let words = line.split_whitespace();
            words.map(|word| word.parse().expect("a number")).collect()
        };
        let mut backwards = digits(&left[6]);
        backwards.reverse();
        assert_eq!(digits(&right[6]), backwards);
    }
}

#[test]
fn the_short_string_begins_at_its_peg_with_its_open_note_behind() {
    let lines = drawn("banjo-open-g", 200, false);
    let line = |label: &str| {
        let found = lines.iter().find(|line| line.starts_with(label));
        found.expect(label).clone()
    };
    let (first, fifth) = (line("1 D4"), line("5 "));
    let wires = |line: &str| -> Vec<usize> { line.match_indices('|').map(|(at, _)| at).collect() };
    assert_eq!(wires(&fifth), wires(&first)[5..]);
    let peg = wires(&fifth)[0];
    assert_eq!(&fifth[peg - 3..peg], "G4 ");
}

#[test]
fn only_marked_places_are_named() {
    let known = Neck::ready("banjo-open-g").expect("a ready neck");
    for columns in [40, 80, 200] {
        // F#4 = 1/4 = 2/7 = 3/11 = 4/16: common practice, no source.
        let f_sharp = known.places(Pitch::new(66).expect("F#4"));
        let lines = marked(&known, &f_sharp, look(columns, false));
        for (string, wanted) in [(1, 1), (2, 1), (3, 1), (4, 1), (5, 0)] {
            assert_eq!(names(&lines, string), vec!["F#4"; wanted], "{lines:#?}");
        }
        // Each stands between its own fret's wire and the one before.
        let line = lines.iter().find(|l| l.starts_with("1 ")).expect("1");
        let before = line.split("F#4").next().expect("what is before");
        assert_eq!(before.matches('|').count(), 4, "{line}");
    }
}

#[test]
fn open_strings_are_marked_at_nut_and_peg_and_no_empty_part_follows() {
    let known = Neck::ready("banjo-open-g").expect("a ready neck");
    let reach = Reach::resolve(&known, &"open".parse().expect("a reach")).expect("it fits");
    let lines = marked(&known, reach.positions(), look(80, false));
    let open = ["D4", "B3", "G3", "D3", "G4"];
    for (string, name) in (1..).zip(open) {
        assert_eq!(names(&lines, string), [name]);
    }
    assert_eq!(lines.len(), 1 + 5 + 1, "{lines:#?}");
}

#[test]
fn with_a_capo_the_open_note_is_named_once() {
    let known = Neck::ready("banjo-open-g").and_then(|neck| neck.with_capo_at(2).ok());
    let known = known.expect("a capo fits");
    let lines = neck(&known, look(80, false));
    assert_eq!(lines[1], "capo at fret 2, short string at fret 7");
    assert_eq!(names(&lines[1..], 1)[..2], ["E4", "F"]);
    assert_eq!(names(&lines[1..], 5)[..2], ["A4", "A#"]);
}
