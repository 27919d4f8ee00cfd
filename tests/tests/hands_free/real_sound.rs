//! A lesson over the real path with real sound: notes of a real instrument that are
//! plucked twice answer, and people who talk, keys that are typed and a metronome
//! answer nothing.
//!
//! The notes are the user's own: `FIFTHPEG_TAKES` names a folder as
//! tests/reference/ear/takes.py describes it. Without it that part plays nothing and
//! says so: the project has no real notes that it may pass on. Talk and keys are those
//! of Debian packages which `scripts/test` unpacks under target/ear-sounds (what they
//! are and their licences: tests/reference/ear/recordings.py). `FIFTHPEG_EAR_SECONDS`
//! says how long they go on, 30 s where it is not set; `scripts/ear-lesson` has them go
//! on for ten minutes.

use std::path::{Path, PathBuf};
use std::sync::OnceLock;
use std::time::Duration;

use fifthpeg_core::{Pitch, Spelling};
use fifthpeg_tests::{Process, empty_folder, host, python_with, run_script, skip, table_rows};

use super::instruments::Playing;
use super::room::Room;

/// Until the last answer is marked.
const AFTER: Duration = Duration::from_secs(3);
/// Of the notes of somebody's own, so many in a hundred must answer.
const MOST_ANSWER: usize = 95;

fn recordings() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../target/ear-sounds")
}

/// What `lesson_sounds.py` made of what there is.
fn sounds() -> Option<&'static Path> {
    static MADE: OnceLock<Option<PathBuf>> = OnceLock::new();
    let made = MADE.get_or_init(|| {
        let python = python_with("numpy")?;
        let folder = empty_folder(env!("CARGO_TARGET_TMPDIR"), "real-ear");
        let seconds = std::env::var("FIFTHPEG_EAR_SECONDS").unwrap_or_else(|_| "30".to_owned());
        let takes = std::env::var("FIFTHPEG_TAKES").ok();
        let recordings = recordings();
        let text = |path: &Path| path.to_str().expect("text").to_owned();
        let mut words = vec![text(&folder), "--seconds".to_owned(), seconds];
        if let Some(takes) = takes {
            words.extend(["--takes".to_owned(), takes]);
        }
        if recordings.is_dir() {
            words.extend(["--recordings".to_owned(), text(&recordings)]);
        }
        let words: Vec<&str> = words.iter().map(String::as_str).collect();
        run_script(&python, "lesson_sounds.py", &words);
        Some(folder)
    });
    made.as_deref()
}

fn playing(path: &Path) -> Playing {
    let mut reader = hound::WavReader::open(path).expect("what was made");
    let samples = reader.samples::<i16>();
    Playing::of(
        samples
            .map(|x| f32::from(x.expect("a sample")) / 32_768.0)
            .collect(),
    )
}

/// A lesson with one call open that nobody will answer by chance, a student who
/// listens, and this played into the microphone. Gives the answers and what the student was
/// told.
fn answers_to(name: &str, sound: &Path) -> Option<(Vec<String>, Vec<String>)> {
    let room = Room::start(name)?;
    let (mut host, address) = host(&["--reach", "whole"]);
    let mut mia: Process = room.student("Mia", &address, &["--headphones"]);
    mia.wait_for("microphone listening");
    host.type_line("call C6");
    mia.wait_for("call 1 sounding");
    std::thread::sleep(Duration::from_secs(2));
    room.play(&playing(sound));
    std::thread::sleep(AFTER);
    let answers = host.lines_of("answer");
    host.type_line("end");
    let (code, lines, errors) = mia.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""), "{lines:#?}");
    let plucked = |line: &String| line.starts_with("plucked");
    Some((answers, lines.into_iter().filter(plucked).collect()))
}

#[test]
fn notes_of_a_real_instrument_plucked_twice_answer() {
    if std::env::var_os("FIFTHPEG_TAKES").is_none() {
        println!("nothing is played: FIFTHPEG_TAKES names no folder with takes.csv");
        return;
    }
    let Some(sounds) = sounds() else {
        return skip("real notes: Python with numpy is missing");
    };
    let Some((answers, told)) = answers_to("real-takes", &sounds.join("takes.wav")) else {
        return;
    };
    let played: Vec<String> = table_rows(&sounds.join("takes.csv"))
        .iter()
        .map(|row| {
            let midi = row[0].parse().expect("a number");
            Pitch::new(midi)
                .expect("a pitch")
                .ascii_name(Spelling::default())
                .to_string()
        })
        .collect();
    let answered: Vec<&str> = answers
        .iter()
        .filter_map(|line| line.split(' ').nth(2))
        .collect();
    println!(
        "{} of {} notes answered: {answered:?}",
        answered.len(),
        played.len()
    );
    // Each answer is a note that was played, in that order and once.
    let mut left = played.iter();
    for note in &answered {
        assert!(left.any(|one| one == note), "{note}: {told:#?}");
    }
    assert!(
        100 * answered.len() >= MOST_ANSWER * played.len(),
        "{answered:?} of {played:?}: {told:#?}"
    );
}

fn answers_nothing(what: &str) {
    let Some(sounds) = sounds() else {
        return skip(&format!("{what}: Python with numpy is missing"));
    };
    let sound = sounds.join(format!("{what}.wav"));
    if !sound.exists() {
        return skip(&format!(
            "{what}: no recordings under target/ear-sounds; scripts/test gets them"
        ));
    }
    let Some((answers, told)) = answers_to(&format!("real-{what}"), &sound) else {
        return;
    };
    let named = told.iter().filter(|line| !line.contains("nothing")).count();
    println!(
        "{what}: {named} lines with a note, {} answers",
        answers.len()
    );
    assert!(answers.is_empty(), "{answers:#?} after {told:#?}");
}

#[test]
fn people_who_talk_answer_nothing() {
    answers_nothing("talk");
}

#[test]
fn keys_that_are_typed_answer_nothing() {
    answers_nothing("typing");
}

#[test]
fn a_metronome_answers_nothing() {
    answers_nothing("metronome");
}
