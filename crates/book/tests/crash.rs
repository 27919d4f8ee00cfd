//! The writer killed at random moments, many times: nothing that was told to
//! be stored is lost or doubled, and the lesson goes on from where it was.
//!
//! The test starts itself again as a child that takes the lesson up, goes on
//! with it and prints each answer once it is told to be stored. The parent
//! kills it with SIGKILL. `FIFTHPEG_KILLS` sets how often (50).

#![cfg(unix)]

mod common;

use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead, BufReader, Write};
use std::os::unix::process::ExitStatusExt;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::time::Duration;

use fifthpeg_book::{BatchNumber, Book, WriterEvent};
use fifthpeg_lesson::message::SeatKey;
use fifthpeg_lesson::{HostOrder, LessonEvent, LessonInput};

use common::{EVENING_MS, Folder, Hall, setup};

const FOLDER: &str = "FIFTHPEG_TEST_FOLDER";
const NAMES: [&str; 4] = ["Mia", "Ivo", "Ruth", "Ole"];

/// Call, student and serial of an answer.
type Key = (u32, u32, u32);
/// Answers, each with the event whole, of batches not told to be stored yet.
type Waiting = BTreeMap<BatchNumber, Vec<(Key, String)>>;

/// The answers among events.
fn answers(events: &[LessonEvent]) -> Vec<(Key, String)> {
    let answer = |event: &LessonEvent| match event {
        LessonEvent::Answered {
            call,
            student,
            serial,
            ..
        } => Some(((call.0, student.0, *serial), format!("{event:?}"))),
        _ => None,
    };
    events.iter().filter_map(answer).collect()
}

#[test]
#[ignore = "run by the other test, to be killed"]
fn child() {
    let path = PathBuf::from(std::env::var_os(FOLDER).unwrap()).join("lessons.book");
    let open = Book::open(&path).unwrap().open_lessons().unwrap();
    let mut hall = match open.first() {
        Some(lesson) => Hall::resume(&path, lesson.id, EVENING_MS),
        None => Hall::begin(&path, setup(9), EVENING_MS),
    };
    let mut out = std::io::stdout().lock();
    let mut waiting = Waiting::new();
    let mut seen = 0;
    writeln!(out, "\nready").unwrap();
    loop {
        let here = hall.lesson.connected().len();
        if let Some(name) = NAMES.get(here) {
            come(&mut hall, name, SeatKey(1 + here as u128));
        } else {
            let _ = hall.order(HostOrder::CallRandom);
            for student in hall.lesson.connected() {
                hall.wait_ms(3);
                hall.answer(student, student.0 % 2 == 0, 800);
                hall.answer(student, true, 900);
                let new = answers(&hall.events[seen..]);
                seen = hall.events.len();
                waiting.insert(hall.store(), new);
                while let Ok(report) = hall.reports.try_recv() {
                    tell(report, &mut waiting, &mut out);
                }
            }
            hall.order(HostOrder::Reveal);
            hall.order(HostOrder::Close);
        }
        // Never far ahead of the disk, as a class that waits for its marks.
        while waiting.len() > 3 {
            let report = hall.reports.recv().unwrap();
            tell(report, &mut waiting, &mut out);
        }
    }
}

/// A student comes back to an old place by its key, or in for the first time.
fn come(hall: &mut Hall, name: &str, its_key: SeatKey) {
    let join = |key| LessonInput::Join {
        name: name.to_owned(),
        key,
        new_key: its_key,
    };
    assert!(hall.give(join(Some(its_key))) || hall.give(join(None)));
}

/// What a host would tell its students now.
fn tell(report: WriterEvent, waiting: &mut Waiting, out: &mut impl Write) {
    let WriterEvent::Stored { up_to } = report else {
        panic!("{report:?}");
    };
    let later = waiting.split_off(&BatchNumber(up_to.0 + 1));
    for ((call, student, serial), whole) in
        std::mem::replace(waiting, later).into_values().flatten()
    {
        writeln!(out, "stored {call} {student} {serial} {whole}").unwrap();
    }
    out.flush().unwrap();
}

fn start(folder: &Path) -> Child {
    Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "child", "--ignored", "--nocapture"])
        .env(FOLDER, folder)
        .stdout(Stdio::piped())
        .stderr(Stdio::inherit())
        .spawn()
        .unwrap()
}

#[test]
fn killed_at_any_moment_nothing_told_is_lost_or_doubled() {
    let kills: u64 = std::env::var("FIFTHPEG_KILLS").map_or(50, |n| n.parse().unwrap());
    let folder = Folder::new("crash");
    let mut confirmed: BTreeMap<Key, String> = BTreeMap::new();
    let mut lost: BTreeSet<Key> = BTreeSet::new();
    let (mut doubled, mut changed) = (lost.clone(), lost.clone());
    let mut held = 0;
    let mut dice = 0x5eed_u64;
    for _ in 0..kills {
        let mut child = start(&folder.0);
        let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
        // Killed while opening and taking up, or later while writing.
        dice = dice.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
        let early = dice >> 62 == 0;
        if !early {
            assert!(
                lines.by_ref().any(|line| line.unwrap() == "ready"),
                "it came to nothing"
            );
        }
        std::thread::sleep(Duration::from_micros((dice >> 33) % 40_000));
        child.kill().unwrap();
        let ended = child.wait().unwrap();
        assert_eq!(ended.signal(), Some(9), "it ended by itself");
        // What was told before it was killed still stands in the pipe. A last
        // line may be cut short: of that, nobody was told.
        for line in lines {
            let line = line.unwrap();
            let mut words = line.splitn(5, ' ');
            if words.next() == Some("stored") && line.ends_with('}') {
                let mut number = || words.next().unwrap().parse().unwrap();
                let key = (number(), number(), number());
                confirmed.insert(key, words.next().unwrap().to_owned());
            }
        }
        let book = Book::open(&folder.book()).unwrap();
        let open = book.open_lessons().unwrap();
        assert!(open.len() <= 1);
        let Some(lesson) = open.first() else {
            assert!(confirmed.is_empty());
            continue;
        };
        // What it was made again from agrees with what is written of it.
        book.check_log(lesson.id).unwrap();
        let events = book.reader().unwrap().events(lesson.id).unwrap();
        let mut times: BTreeMap<Key, u32> = BTreeMap::new();
        let mut written = BTreeMap::new();
        for (key, whole) in answers(&events) {
            *times.entry(key).or_default() += 1;
            written.insert(key, whole);
        }
        held = written.len();
        lost.extend(confirmed.keys().filter(|key| !written.contains_key(key)));
        doubled.extend(times.iter().filter(|(_, n)| **n > 1).map(|(key, _)| *key));
        let differs =
            |(key, whole): &(&Key, &String)| written.get(key).is_some_and(|w| w != *whole);
        changed.extend(confirmed.iter().filter(differs).map(|(key, _)| *key));
    }
    let (lost, doubled, changed) = (lost.len(), doubled.len(), changed.len());
    println!(
        "kills {kills}, answers confirmed {}, lost {lost}, doubled {doubled}, changed {changed}, \
         stored without being confirmed {}",
        confirmed.len(),
        held - confirmed.len().min(held)
    );
    assert_eq!((lost, doubled, changed), (0, 0, 0));
    assert!(confirmed.len() as u64 > kills, "it was hardly ever writing");
}
