//! `fifthpeg-core` against sources outside the project. The tables are made by
//! `tests/reference/make_tables.py` from music21, whose version stands in
//! `tests/reference/requirements.txt`; the test command makes them anew and
//! compares.

use fifthpeg_core::{
    Named, Neck, Pitch, PitchClass, Position, Reference, Scale, Spelling, fret_ratio,
    interval_name, rule_of_18_distance,
};

const PITCHES: &str = include_str!("../reference/pitches.csv");
const SPELLINGS: &str = include_str!("../reference/spellings.csv");
const KEYS: &str = include_str!("../reference/keys.csv");
const SCALES: &str = include_str!("../reference/scales.csv");
const INTERVALS: &str = include_str!("../reference/intervals.csv");
const FRETTED: &str = include_str!("../reference/fretted.csv");

/// The rows of a table under its heading, as `N` cells each.
fn rows<const N: usize>(table: &str, least: usize) -> Vec<[&str; N]> {
    let cells = |line| {
        let row: Vec<&str> = str::split(line, ',').collect();
        row.try_into()
            .unwrap_or_else(|row| panic!("{N} cells expected: {row:?}"))
    };
    let rows: Vec<[&str; N]> = table.lines().skip(1).map(cells).collect();
    assert!(rows.len() >= least, "the table has {} rows", rows.len());
    rows
}

fn number<T: std::str::FromStr<Err: std::fmt::Debug>>(text: &str) -> T {
    text.parse().expect("a number")
}

fn pitch(midi: &str) -> Pitch {
    Pitch::new(number(midi)).expect("a MIDI number")
}

/// Source: music21, `pitch.Pitch`.
#[test]
fn names_octaves_and_frequencies() {
    for [midi, sharps, flats, octave, frequency_hz] in rows(PITCHES, 128) {
        let pitch = pitch(midi);
        assert_eq!(
            pitch.ascii_name(Spelling::Sharps),
            format!("{sharps}{octave}")
        );
        assert_eq!(
            pitch.ascii_name(Spelling::Flats),
            format!("{flats}{octave}")
        );
        assert_eq!(pitch.octave(), number::<i8>(octave));
        assert_eq!(format!("{sharps}{octave}").parse(), Ok(Named::Pitch(pitch)));
        assert_eq!(flats.parse(), Ok(Named::Class(pitch.class())));
        let ours_hz = pitch.frequency_hz(Reference::default());
        // The table has six places after the point.
        assert!(
            (ours_hz - number::<f64>(frequency_hz)).abs() < 1e-6,
            "{sharps}{octave}: {ours_hz}"
        );
    }
}

/// Source: music21, `pitch.Pitch` with single and doubled accidentals.
#[test]
fn spellings_sound_as_the_letter_says() {
    for [name, midi] in rows(SPELLINGS, 175) {
        let signs = name.replace("bb", "𝄫").replace("##", "𝄪").replace('#', "♯");
        for text in [name, &name.to_lowercase(), &signs] {
            assert_eq!(text.parse(), Ok(Named::Pitch(pitch(midi))), "{text}");
        }
    }
}

/// Source: music21, `key.Key`. Six sharps and six flats are the same key, and
/// both are in use, so those rows check nothing.
#[test]
fn keys_are_written_as_their_signature() {
    let mut checked = 0;
    for [root, mode, sharps] in rows(KEYS, 24) {
        let sharps: i32 = number(sharps);
        if sharps.abs() == 6 {
            continue;
        }
        let root_class: PitchClass = root.parse().expect("a note");
        let expected = if sharps < 0 {
            Spelling::Flats
        } else {
            Spelling::Sharps
        };
        let scale: Scale = mode.parse().expect("a scale");
        assert_eq!(
            Spelling::for_key(root_class, scale),
            expected,
            "{root} {mode}"
        );
        // So the key is called by the name it was asked for.
        assert_eq!(root_class.ascii_name(expected), root);
        checked += 1;
    }
    assert!(checked >= 22);
}

/// Source: music21, `scale` and `harmony.ChordSymbol`.
#[test]
fn scales_and_chords_hold_the_same_notes() {
    for [name, semitones] in rows(SCALES, 9) {
        let scale: Scale = name.parse().expect("a scale");
        let ours: Vec<String> = scale.semitones().iter().map(u8::to_string).collect();
        assert_eq!(ours.join(" "), semitones, "{name}");
    }
}

/// Source: music21, `interval.Interval`. It counts on past the octave (a minor
/// ninth) where we say "octave and a minor second", and calls six semitones a
/// diminished fifth.
#[test]
fn intervals_have_their_names() {
    let numbers = [
        ("ninth", "second"),
        ("tenth", "third"),
        ("eleventh", "fourth"),
        ("twelfth", "fifth"),
        ("thirteenth", "sixth"),
        ("fourteenth", "seventh"),
    ];
    for [semitones, name] in rows(INTERVALS, 25) {
        let mut theirs = name.to_owned();
        for (wide, simple) in numbers {
            if let Some(quality) = theirs.strip_suffix(wide) {
                theirs = format!("octave and a {quality}{simple}");
            }
        }
        let theirs = theirs
            .replace("diminished fifth", "tritone")
            .replace("perfect unison", "unison")
            .replace("perfect octave", "octave")
            .replace("perfect double-octave", "two octaves");
        assert_eq!(
            interval_name(number(semitones)),
            theirs,
            "{semitones} semitones"
        );
    }
}

/// Source: music21, `tablature`: guitar, bass, mandolin and ukulele.
#[test]
fn fretted_instruments() {
    for [name, string, fret, midi] in rows(FRETTED, 288) {
        let neck = Neck::ready(name).expect("a ready neck");
        let position = Position {
            string: number(string),
            fret: number(fret),
        };
        assert_eq!(
            neck.pitch_at(position),
            Some(pitch(midi)),
            "{name} {position}"
        );
        assert!(
            neck.places(pitch(midi)).contains(&position),
            "{name} {position}"
        );
        if position.fret == 0 {
            assert_eq!(
                neck.string(position.string).map(|s| s.open),
                Some(pitch(midi))
            );
        }
    }
    for name in ["guitar", "bass", "mandolin", "ukulele"] {
        let strings = FRETTED
            .lines()
            .filter(|line| line.starts_with(name) && line.contains(",0,"))
            .count();
        assert_eq!(
            Neck::ready(name).map(|neck| usize::from(neck.string_count())),
            Some(strings),
            "{name}"
        );
    }
}

/// Source: ISO 16:1975, standard musical pitch: A in the treble stave is 440 Hz.
#[test]
fn iso_16() {
    let a4: Pitch = "A4".parse().expect("a note");
    assert_eq!(a4.frequency_hz(Reference::default()), 440.0);
}

/// Source: MIDI 1.0 Detailed Specification: note 60 is middle C. That A4 is 69
/// follows; the piano's ends (A0 = 21 = 27.5 Hz, C8 = 108 = 4186.01 Hz) are
/// from memory.
#[test]
fn midi_numbers() {
    for (name, midi, frequency_hz) in [
        ("C4", 60, 261.626),
        ("A4", 69, 440.0),
        ("A0", 21, 27.5),
        ("C8", 108, 4186.009),
    ] {
        let pitch: Pitch = name.parse().expect("a note");
        assert_eq!(pitch.midi(), midi, "{name}");
        assert!(
            (pitch.frequency_hz(Reference::default()) - frequency_hz).abs() < 0.001,
            "{name}"
        );
    }
}

/// Source: the formula of luthiers' handbooks, L − L / 2^(n/12), and its
/// figures for a scale of 25.5 inches, which are from memory.
#[test]
fn fret_distances_by_formula() {
    let inches = [
        (1, 1.431),
        (2, 2.782),
        (3, 4.057),
        (4, 5.261),
        (5, 6.397),
        (7, 8.481),
        (9, 10.338),
        (12, 12.750),
        (15, 14.779),
        (17, 15.948),
        (19, 16.990),
        (22, 18.344),
    ];
    for (fret, inch) in inches {
        assert!(
            (25.5 * fret_ratio(fret) - inch).abs() < 0.0006,
            "fret {fret}: {}",
            25.5 * fret_ratio(fret)
        );
    }
    let banjo = Neck::ready("banjo-open-g").expect("a ready neck");
    let scale_mm = banjo.description().scale_length_mm;
    for fret in 0..=22 {
        let by_formula_mm = scale_mm - scale_mm / 2_f64.powf(f64::from(fret) / 12.0);
        assert!(
            (banjo.fret_distance_mm(fret) - by_formula_mm).abs() < 1e-9,
            "fret {fret}"
        );
    }
}

/// Source: the rule of 18 as luthiers' handbooks sharpen it: each space is the
/// string left, divided by 17.817.
#[test]
fn fret_distances_by_the_rule_of_18() {
    let banjo = Neck::ready("banjo-open-g").expect("a ready neck");
    let scale_mm = banjo.description().scale_length_mm;
    let mut reached_mm = 0.0;
    for fret in 1..=22 {
        reached_mm += (scale_mm - reached_mm) / 17.817;
        assert!(
            (rule_of_18_distance(scale_mm, fret) - reached_mm).abs() < 1e-9,
            "fret {fret}"
        );
        // A twentieth of a millimetre is finer than a fret slot.
        assert!(
            (banjo.fret_distance_mm(fret) - reached_mm).abs() < 0.05,
            "fret {fret}"
        );
    }
}
