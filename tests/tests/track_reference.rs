//! Practice tracks read back by libraries that know nothing of the project:
//! soundfile, mido and librosa, and Python's own readers of HTML and XML.
//!
//! Needs Python packages that the test command installs. Without them it says
//! `SKIPPED`, or fails if `FIFTHPEG_REQUIRE_ALL=1`.

use std::path::Path;
use std::time::Duration;

use fifthpeg_core::{Neck, Pitch, Reach, ReachStep, Spelling};
use fifthpeg_lesson::message::Voice;
use fifthpeg_lesson::track::{AnswerPattern, TrackLength, TrackPart, TrackPlan, TrackSettings};
use fifthpeg_tests::{empty_folder, python_with, run, run_script, skip, three_weeks};

/// One row of what was read back.
struct Row {
    kind: String,
    at_ms: String,
    lasts_ms: String,
    number: f64,
    words: String,
}

impl Row {
    fn at(&self) -> u128 {
        whole(&self.at_ms)
    }

    fn lasts(&self) -> u128 {
        whole(&self.lasts_ms)
    }
}

/// Milliseconds that must be whole, but for the last bits of a fraction.
fn whole(ms: &str) -> u128 {
    let ms: f64 = ms.parse().expect("milliseconds");
    assert!((ms - ms.round()).abs() < 1e-6, "{ms}");
    ms.round() as u128
}

/// Makes a track with these options, and reads it back.
fn read_back(python: &Path, test: &str, options: &[&str], plan: &TrackPlan) -> Vec<Row> {
    let folder = empty_folder(env!("CARGO_TARGET_TMPDIR"), test);
    let name = folder.join("mia");
    let name = name.to_str().expect("a plain path");
    let outcome = run(&[&["track", name], options].concat());
    assert_eq!(outcome.code, Some(0), "{outcome:?}");
    rows(python, &folder, name, plan)
}

/// Reads the files of this name back, with `folder` for tables.
fn rows(python: &Path, folder: &Path, name: &str, plan: &TrackPlan) -> Vec<Row> {
    let path = |name: &str| folder.join(name).to_str().expect("a plain path").to_owned();
    let mut times = "at_ms,lasts_ms\n".to_owned();
    for cue in &plan.cues {
        times += &format!("{},{}\n", cue.at.as_millis(), cue.lasts.as_millis());
    }
    std::fs::write(path("times.csv"), times).expect("written");
    let (times, out) = (path("times.csv"), path("read.tsv"));
    run_script(python, "../track/read_back.py", &[name, &times, &out]);
    let text = std::fs::read_to_string(&out).expect("a table");
    text.lines()
        .skip(1)
        .map(|line| {
            let cells: Vec<&str> = line.split('\t').collect();
            let [kind, at_ms, lasts_ms, number, words] = cells[..] else {
                panic!("cells are missing: {line}");
            };
            Row {
                kind: kind.to_owned(),
                at_ms: at_ms.to_owned(),
                lasts_ms: lasts_ms.to_owned(),
                number: number.parse().expect("a number"),
                words: words.to_owned(),
            }
        })
        .collect()
}

fn of<'a>(rows: &'a [Row], kind: &str) -> Vec<&'a Row> {
    rows.iter().filter(|row| row.kind == kind).collect()
}

fn only<'a>(rows: &'a [Row], kind: &str) -> &'a Row {
    let found = of(rows, kind);
    assert_eq!(found.len(), 1, "{kind}");
    found[0]
}

fn check(rows: &[Row], plan: &TrackPlan, programs: &[f64]) {
    let length = plan.length.as_millis();
    let (wav, flac) = (only(rows, "wav"), only(rows, "flac"));
    assert_eq!(
        (wav.lasts(), wav.number, wav.words.as_str()),
        (length, 48_000.0, "1 PCM_16")
    );
    assert_eq!(
        (flac.lasts(), flac.number, flac.words.as_str()),
        (length, 48_000.0, "same")
    );
    // 60 %: at most 9 dB below the ceiling of one tone, 0.7; nothing sums.
    let peak = only(rows, "peak").number;
    assert!((0.05..=0.2521).contains(&peak), "{peak}");
    assert_eq!(only(rows, "elsewhere").number, 0.0);

    let heard = of(rows, "heard");
    assert_eq!(heard.len(), plan.cues.len());
    for (cue, row) in plan.cues.iter().zip(heard) {
        assert_eq!(row.number, f64::from(cue.pitch.midi()), "{cue:?}");
        assert_eq!(row.words, "starts", "{cue:?}");
    }

    let midi = only(rows, "midi");
    assert_eq!((midi.number, midi.lasts()), (1.0, length));
    assert!(of(rows, "hanging").is_empty());
    let played: Vec<f64> = of(rows, "program").iter().map(|row| row.number).collect();
    assert_eq!(played, programs);
    let mut notes: Vec<(u128, u128, f64, String)> = of(rows, "note")
        .iter()
        .map(|row| (row.at(), row.lasts(), row.number, row.words.clone()))
        .collect();
    notes.sort_by_key(|note| note.0);
    let planned: Vec<(u128, u128, f64, String)> = plan
        .cues
        .iter()
        .map(|cue| {
            let channel = u8::from(cue.part == TrackPart::Answer).to_string();
            (
                cue.at.as_millis(),
                cue.lasts.as_millis(),
                f64::from(cue.pitch.midi()),
                channel,
            )
        })
        .collect();
    assert_eq!(notes, planned);
    let markers: Vec<(u128, String)> = of(rows, "marker")
        .iter()
        .map(|row| (row.at(), row.words.clone()))
        .collect();
    let calls: Vec<(u128, String)> = plan
        .calls
        .iter()
        .map(|call| (call.at.as_millis(), format!("Call {}", call.number)))
        .collect();
    assert_eq!(markers, calls);
}

fn check_sheet(rows: &[Row], plan: &TrackPlan, neck: &Neck, answered: bool) {
    let table = of(rows, "row");
    assert_eq!(table.len(), 1 + plan.calls.len());
    for (call, row) in plan.calls.iter().zip(&table[1..]) {
        let seconds = (call.at.as_millis() + 500) / 1000;
        let places: Vec<String> = neck
            .places(call.pitch)
            .iter()
            .map(ToString::to_string)
            .collect();
        let mut cells = vec![
            call.number.to_string(),
            format!("{}:{:02}", seconds / 60, seconds % 60),
            call.pitch.name(Spelling::Sharps),
        ];
        if answered {
            cells.push(call.place.to_string());
        }
        cells.push(places.join(", "));
        assert_eq!(row.words, cells.join("|"));
    }
    let mut notes: Vec<Pitch> = plan.calls.iter().map(|call| call.pitch).collect();
    notes.sort_unstable();
    notes.dedup();
    // Each is drawn twice, for a page and for a telephone, and both say the same.
    let pictures = of(rows, "picture");
    assert_eq!(pictures.len(), 2 * notes.len());
    for (pitch, drawn) in notes.iter().zip(pictures.chunks(2)) {
        let places = neck.places(*pitch).len() as f64;
        let name = pitch.name(Spelling::Sharps);
        for picture in drawn {
            assert_eq!(picture.number, places, "{}", picture.words);
            assert!(picture.words.contains(&name), "{}", picture.words);
        }
    }
    let tags = &only(rows, "page").words;
    assert!(!tags.contains("script") && !tags.contains("link"), "{tags}");
}

#[test]
fn a_track_is_what_was_planned() {
    let Some(python) = python_with("soundfile, mido, librosa") else {
        skip("Python has no soundfile, mido or librosa: practice tracks are not read back");
        return;
    };
    let neck = Neck::ready("banjo-open-g").expect("it comes with the program");
    let low = Reach::resolve(&neck, &ReachStep::OctaveLow.into()).expect("a reach");
    let settings = TrackSettings {
        length: TrackLength::Calls(15),
        gap: Duration::from_secs(4),
        second_hearing: true,
        strings_first: true,
        ..TrackSettings::default()
    };
    let plan = TrackPlan::new(&neck, &low, &settings, 7, &[]).expect("a plan");
    let options = [
        "--seed",
        "7",
        "--calls",
        "15",
        "--gap",
        "4",
        "--again",
        "--strings-first",
    ];
    let rows = read_back(&python, "track-usual", &options, &plan);
    // General MIDI counts from 1: 106 Banjo, 26 Acoustic Guitar (steel).
    check(&rows, &plan, &[105.0, 25.0]);
    check_sheet(&rows, &plan, &neck, true);
}

#[test]
fn so_are_chosen_notes_climbing_on_other_voices() {
    let Some(python) = python_with("soundfile, mido, librosa") else {
        skip("Python has no soundfile, mido or librosa: practice tracks are not read back");
        return;
    };
    let neck = Neck::ready("banjo-open-g").expect("it comes with the program");
    let whole = Reach::resolve(&neck, &ReachStep::WholeNeck.into()).expect("a reach");
    let notes = ["E3", "F#4", "A4", "C6"].map(|name| (name.parse().expect(name), 1.0));
    let settings = TrackSettings {
        length: TrackLength::Calls(6),
        gap: Duration::from_millis(3500),
        voice: Voice::Guitar,
        answer: AnswerPattern::Climb,
        answer_voice: Voice::Plain,
        ..TrackSettings::default()
    };
    let plan = TrackPlan::new(&neck, &whole, &settings, 19, &notes).expect("a plan");
    let options = [
        "--notes",
        "E3,F#4,A4,C6",
        "--seed",
        "19",
        "--calls",
        "6",
        "--gap",
        "3.5",
        "--voice",
        "guitar",
        "--answer",
        "climb",
        "--answer-voice",
        "plain",
    ];
    let rows = read_back(&python, "track-climb", &options, &plan);
    check(&rows, &plan, &[25.0, 11.0]);
    check_sheet(&rows, &plan, &neck, true);
}

/// What stands after an option in a command, without its quotes.
fn after<'a>(command: &'a str, option: &str) -> &'a str {
    let (_, rest) = command.split_once(option).expect(option);
    let rest = rest.trim_start();
    match rest.strip_prefix('\'') {
        Some(quoted) => quoted.split('\'').next(),
        None => rest.split(' ').next(),
    }
    .expect(option)
}

#[test]
fn so_is_the_homework_of_a_class() {
    let Some(python) = python_with("soundfile, mido, librosa") else {
        skip("Python has no soundfile, mido or librosa: homework is not read back");
        return;
    };
    let folder = empty_folder(env!("CARGO_TARGET_TMPDIR"), "track-homework");
    let book = three_weeks(&folder);
    let to = folder.join("homework");
    let outcome = run(&[
        "homework",
        "--book",
        book.to_str().expect("a plain path"),
        "--to",
        to.to_str().expect("a plain path"),
        "--calls",
        "4",
        "--gap",
        "3",
        "--write",
        "wav,flac,midi,html,text",
        "--seed",
        "11",
    ]);
    assert_eq!(outcome.code, Some(0), "{outcome:?}");
    let neck = Neck::ready("banjo-open-g").expect("it comes with the program");
    let low = Reach::resolve(&neck, &ReachStep::OctaveLow.into()).expect("a reach");
    let settings = TrackSettings {
        length: TrackLength::Calls(4),
        gap: Duration::from_secs(3),
        ..TrackSettings::default()
    };
    for student in ["Ada", "Ben", "Ivo", "Mia", "Noor", "Ruth", "Tomas"] {
        let name = to.join(student).join(student);
        let sheet = std::fs::read_to_string(name.with_extension("txt")).expect("a sheet");
        let command = sheet.lines().last().expect("a command");
        assert_eq!(after(command, "--reach"), "octave");
        let weights: Vec<(Pitch, f64)> = after(command, "--notes")
            .split(',')
            .map(|note| {
                let (note, weight) = note.split_once('=').expect("a weight");
                let pitch = note.parse().expect("a note");
                (pitch, weight.parse().expect("a number"))
            })
            .collect();
        let seed = after(command, "--seed").parse().expect("a seed");
        let plan = TrackPlan::new(&neck, &low, &settings, seed, &weights).expect("a plan");
        let name = name.to_str().expect("a plain path");
        let rows = rows(&python, &folder, name, &plan);
        check(&rows, &plan, &[105.0, 25.0]);
        check_sheet(&rows, &plan, &neck, true);
    }
}
