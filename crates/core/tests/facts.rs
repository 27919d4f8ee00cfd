//! Facts of the trade, checked by value. Each is marked with its source, or as
//! common practice.

use fifthpeg_core::{
    Capo, Neck, NeckError, Pitch, Position, Reach, ReachSpec, ReachStep, Reference, Spelling,
};

fn banjo() -> Neck {
    Neck::ready("banjo-open-g").expect("a ready neck")
}

fn pitch(name: &str) -> Pitch {
    name.parse()
        .unwrap_or_else(|error| panic!("{name}: {error}"))
}

fn places(neck: &Neck, name: &str) -> Vec<String> {
    neck.places(pitch(name))
        .iter()
        .map(Position::to_string)
        .collect()
}

fn at(text: &str) -> Position {
    text.parse().expect("a place")
}

/// ISO 16:1975: A4 is 440 Hz. MIDI 1.0: its number is 69.
#[test]
fn a4_is_440_hz_and_69() {
    assert_eq!(pitch("A4").midi(), 69);
    assert_eq!(pitch("A4").frequency_hz(Reference::default()), 440.0);
}

/// Open G on a five-string banjo with 22 frets. Common practice, no source.
#[test]
fn open_g() {
    let neck = banjo();
    let open: Vec<u8> = neck
        .numbered_strings()
        .map(|(_, s)| s.open.midi())
        .collect();
    assert_eq!(open, [62, 59, 55, 50, 67]);
    assert_eq!(neck.last_fret(), 22);
    assert_eq!(neck.lowest().name(Spelling::Sharps), "D3");
    assert_eq!(neck.highest().name(Spelling::Sharps), "C6");
    assert_eq!(neck.lowest().semitones_to(neck.highest()), 34);
}

/// The short string: open is 0, the first stopped fret 6, a semitone up.
/// Common practice, no source.
#[test]
fn the_fifth_string_starts_at_its_peg() {
    let neck = banjo();
    assert_eq!(neck.pitch_at(at("5/0")), Some(pitch("G4")));
    for fret in 1..=5 {
        assert_eq!(neck.pitch_at(Position::new(5, fret)), None);
    }
    assert_eq!(neck.pitch_at(at("5/6")), Some(pitch("G#4")));
    assert_eq!(neck.pitch_at(at("5/22")), Some(pitch("C6")));
    assert_eq!(neck.pitch_at(at("5/23")), None);
    assert_eq!(neck.pitch_at(at("6/0")), None);
    assert_eq!(neck.pitch_at(Position::new(0, 0)), None);
}

/// Same pitch, other places. Common practice, no source.
#[test]
fn the_same_pitch_in_other_places() {
    let neck = banjo();
    assert_eq!(places(&neck, "C4"), ["2/1", "3/5", "4/10"]);
    assert_eq!(places(&neck, "F#4"), ["1/4", "2/7", "3/11", "4/16"]);
    assert_eq!(places(&neck, "A4"), ["1/7", "2/10", "3/14", "4/19", "5/7"]);
    assert_eq!(places(&neck, "D5"), ["1/12", "2/15", "3/19", "5/12"]);
    assert_eq!(places(&neck, "D3"), ["4/0"]);
    // The highest note: the fifth string reaches it as well, 17 frets past its
    // peg.
    assert_eq!(places(&neck, "C6"), ["1/22", "5/22"]);
}

/// With strings 1 to 4 capoed at fret k, string 5 is raised by its own capo at
/// fret 5+k. Common practice, no source.
#[test]
fn capo_with_the_fifth_strings_own() {
    for k in 1..=12 {
        let neck = banjo().with_capo_at(k).expect("fits");
        assert_eq!(
            neck.capo(),
            Some(Capo {
                fret: k,
                short: Some(5 + k)
            })
        );
        for (number, string) in banjo().numbered_strings() {
            let open = neck.open_position(number).expect("a string");
            assert_eq!(open.fret, if number == 5 { 5 + k } else { k });
            assert_eq!(
                neck.pitch_at(open),
                string.open.transposed(i32::from(k)),
                "string {number}, capo {k}"
            );
            assert_eq!(neck.pitch_at(Position::new(number, 0)), None);
            assert_eq!(neck.pitch_at(Position::new(number, open.fret - 1)), None);
        }
    }
    assert_eq!(banjo().with_capo_at(0), Ok(banjo()));
}

#[test]
fn capos_that_do_not_fit_are_refused() {
    let neck = banjo();
    let capo = |fret, short| neck.with_capo(Capo { fret, short });
    assert_eq!(capo(0, None), Err(NeckError::CapoNowhere));
    assert!(matches!(
        capo(22, None),
        Err(NeckError::CapoTooHigh {
            fret: 22,
            most: 21,
            ..
        })
    ));
    assert!(matches!(
        capo(2, Some(5)),
        Err(NeckError::ShortCapoBehindPeg {
            fret: 5,
            first_fret: 5,
            ..
        })
    ));
    assert!(matches!(
        neck.with_capo_at(18),
        Err(NeckError::CapoTooHigh {
            fret: 23,
            string: 5,
            ..
        })
    ));
    // The fifth alone may be hooked up, as for a tune in A or in D.
    let hooked = capo(0, Some(7)).expect("fits");
    assert_eq!(hooked.pitch_at(at("5/7")), Some(pitch("A4")));
    assert_eq!(hooked.pitch_at(at("4/0")), Some(pitch("D3")));
    let guitar = Neck::ready("guitar").expect("a ready neck");
    assert!(matches!(
        guitar.with_capo(Capo {
            fret: 2,
            short: Some(7)
        }),
        Err(NeckError::NoShortString { .. })
    ));
    assert!(guitar.with_capo_at(2).is_ok());
}

#[test]
fn neighbours_and_octaves() {
    let neck = banjo();
    let texts = |places: Vec<Position>| places.iter().map(Position::to_string).collect::<Vec<_>>();
    // C4 between B3 and C♯4, on every string.
    assert_eq!(
        texts(neck.neighbours(at("2/1"))),
        ["2/0", "2/2", "3/4", "3/6", "4/9", "4/11"]
    );
    // D3 with every D4, D5 and (not on this neck) D6.
    let octaves = neck.octaves(at("4/0"));
    assert!(
        octaves.contains(&at("1/0"))
            && octaves.contains(&at("5/12"))
            && !octaves.contains(&at("4/0"))
    );
    assert_eq!(
        octaves.len(),
        neck.places(pitch("D4")).len() + neck.places(pitch("D5")).len()
    );
    assert!(neck.neighbours(at("5/3")).is_empty());
}

fn reach(neck: &Neck, spec: &str) -> Vec<String> {
    let spec: ReachSpec = spec
        .parse()
        .unwrap_or_else(|error| panic!("{spec}: {error}"));
    let reach = Reach::resolve(neck, &spec).unwrap_or_else(|error| panic!("{spec}: {error}"));
    reach.positions().iter().map(Position::to_string).collect()
}

/// The ready steps on the banjo. Common practice, no source.
#[test]
fn ready_reaches() {
    let neck = banjo();
    assert_eq!(reach(&neck, "two-open"), ["1/0", "2/0"]);
    assert_eq!(reach(&neck, "open"), ["1/0", "2/0", "3/0", "4/0", "5/0"]);
    // D3 to D4, each note where its fret is lowest: frets 0 to 4.
    let low = [
        "1/0", "2/0", "2/1", "2/2", "3/0", "3/1", "3/2", "3/3", "4/0", "4/1", "4/2", "4/3", "4/4",
    ];
    assert_eq!(reach(&neck, "octave"), low);
    let along: Vec<String> = (0..=12).map(|fret| format!("4/{fret}")).collect();
    assert_eq!(reach(&neck, "octave-along"), along);
    assert_eq!(reach(&neck, "twelve").len(), 4 * 13 + 8);
    assert_eq!(reach(&neck, "whole").len(), 4 * 23 + 18);
    assert_eq!(reach(&neck, "all"), reach(&neck, "whole"));
}

/// Under a capo the steps move with it.
#[test]
fn ready_reaches_under_a_capo() {
    let neck = banjo().with_capo_at(2).expect("fits");
    assert_eq!(reach(&neck, "open"), ["1/2", "2/2", "3/2", "4/2", "5/7"]);
    assert_eq!(
        reach(&neck, "octave-along").last().map(String::as_str),
        Some("4/14")
    );
    assert_eq!(reach(&neck, "octave").len(), 13);
    assert_eq!(reach(&neck, "twelve").len(), 4 * 13 + 8);
}

#[test]
fn reaches_of_ones_own() {
    let neck = banjo();
    assert_eq!(
        reach(&neck, "strings=1,2 frets=0-1"),
        ["1/0", "1/1", "2/0", "2/1"]
    );
    assert_eq!(
        reach(&neck, "strings=3 pitches=G3-B3"),
        ["3/0", "3/1", "3/2", "3/3", "3/4"]
    );
    assert_eq!(
        reach(&neck, "octave notes=G:major-chord"),
        ["1/0", "2/0", "3/0", "4/0"]
    );
    // An open string under a capo counts as fret 0.
    let capoed = neck.with_capo_at(3).expect("fits");
    assert_eq!(reach(&capoed, "strings=1,5 frets=0-3"), ["1/3", "5/8"]);
}

#[test]
fn narrow_reaches_are_refused_with_a_reason() {
    let refused = |spec: &str| {
        let spec: ReachSpec = spec.parse().expect("reads");
        Reach::resolve(&banjo(), &spec)
            .expect_err("refused")
            .to_string()
    };
    assert!(refused("strings=4 frets=0-0").contains("one note only, D3"));
    assert!(refused("pitches=C0-D0").contains("no place"));
    assert!(refused("strings=6").contains("strings 1 to 5"));
    assert!(refused("frets=5-3").contains("frets=3-5"));
    assert!(refused("pitches=D4-D3").contains("lower pitch first"));
    // Two places of one pitch are one note.
    assert!(refused("strings=1,5 pitches=G4-G4").contains("one note only, G4"));
    let none = ReachSpec {
        strings: Some(Vec::new()),
        ..ReachSpec::default()
    };
    assert!(Reach::resolve(&banjo(), &none).is_err());
}

/// Re-entrant: the ukulele's fourth string is not its lowest. Common practice,
/// no source.
#[test]
fn the_ukulele_is_re_entrant() {
    let neck = Neck::ready("ukulele").expect("a ready neck");
    assert_eq!(neck.lowest(), pitch("C4"));
    assert_eq!(neck.string(4).map(|s| s.open), Some(pitch("G4")));
    let octave = Reach::resolve(&neck, &ReachStep::OctaveLow.into()).expect("a reach");
    assert_eq!(
        (octave.pitches()[0], octave.pitches()[12]),
        (pitch("G4"), pitch("G5"))
    );
}

/// A neck with three strings takes its lowest full-length one for the octave.
#[test]
fn fewer_strings_than_four() {
    let mut three = banjo().description().clone();
    three.strings.truncate(3);
    let neck = Neck::build(three).expect("a neck");
    let octave = Reach::resolve(&neck, &ReachStep::OctaveLow.into()).expect("a reach");
    assert_eq!(octave.pitches()[0], pitch("G3"));
    let mut one = neck.description().clone();
    one.strings.truncate(1);
    let neck = Neck::build(one).expect("a neck");
    assert!(Reach::resolve(&neck, &ReachStep::TwoOpen.into()).is_err());
}
