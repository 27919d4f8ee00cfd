//! Taking a lesson up again: when it can be, when not, and on whose clock.

mod common;

use std::time::Duration;

use fifthpeg_book::{Book, BookError, LessonId, Whose};
use fifthpeg_lesson::{HostOrder, LessonEvent};

use common::{BEGAN, CLASS, EVENING_MS, Folder, Hall, held, setup, tally};

const HOUR_MS: i64 = 3_600_000;

#[test]
fn it_goes_on_by_the_calendar_though_the_clock_stood_still() {
    let folder = Folder::new("calendar");
    let path = folder.book();
    let mut hall = Hall::begin(&path, setup(1), EVENING_MS);
    hall.join("Mia");
    hall.calls(1);
    let (id, before) = hall.finish();
    let last_ms = Book::open(&path).unwrap().open_lessons().unwrap()[0].last_ms;
    assert!((EVENING_MS..EVENING_MS + 60_000).contains(&last_ms));

    let mut hall = Hall::resume(&path, id, EVENING_MS + HOUR_MS);
    hall.join("Ruth");
    hall.calls(1);
    hall.order(HostOrder::End);
    let (_, after) = hall.finish();
    let reader = Book::open(&path).unwrap().reader().unwrap();
    let made: Vec<i64> = reader
        .calls(Whose::Lesson(id))
        .unwrap()
        .iter()
        .map(|c| c.unix_ms - EVENING_MS)
        .collect();
    assert_eq!(made.len(), 2);
    assert!(
        made[0] < 60_000 && (HOUR_MS..HOUR_MS + 60_000).contains(&made[1]),
        "{made:?}"
    );
    let ended = reader.lesson(id).unwrap().ended_ms.unwrap();
    assert!(ended > EVENING_MS + HOUR_MS);
    // Nothing in between is lost or told twice, and Mia lost the connection.
    let all: Vec<LessonEvent> = before.into_iter().chain(after).collect();
    assert_eq!(reader.events(id).unwrap(), all);
    assert_eq!(
        all.iter()
            .filter(|e| matches!(e, LessonEvent::Began { .. }))
            .count(),
        1
    );
    assert_eq!(
        all.iter()
            .filter(|e| matches!(e, LessonEvent::Left { .. }))
            .count(),
        1
    );
}

#[test]
fn killed_before_anything_was_stored_it_begins_again() {
    let folder = Folder::new("nothing-stored");
    let path = folder.book();
    let mut book = Book::open(&path).unwrap();
    let running = book.begin(CLASS, &setup(5), BEGAN, EVENING_MS).unwrap();
    let id = running.id();
    drop((running, book));
    let mut hall = Hall::resume(&path, id, EVENING_MS);
    assert!(matches!(
        hall.events[..],
        [LessonEvent::Began { seed: 5, .. }]
    ));
    hall.join("Mia");
    hall.order(HostOrder::End);
    let (_, events) = hall.finish();
    let reader = Book::open(&path).unwrap().reader().unwrap();
    assert_eq!(reader.events(id).unwrap(), events);
}

#[test]
fn a_lesson_that_would_be_another_is_not_gone_on_with() {
    let folder = Folder::new("another");
    let path = folder.book();
    let mut hall = Hall::begin(&path, setup(1), EVENING_MS);
    hall.join("Mia");
    hall.calls(2);
    let (id, events) = hall.finish();
    // What a program that picks differently would do: another seed.
    let connection = rusqlite::Connection::open(&path).unwrap();
    let changed = connection
        .execute(
            "UPDATE log SET setup = replace(setup, '\"seed\":1', '\"seed\":2')",
            [],
        )
        .unwrap();
    assert_eq!(changed, 1);
    drop(connection);
    let mut book = Book::open(&path).unwrap();
    let error = book.resume(id, EVENING_MS).unwrap_err();
    assert!(matches!(error, BookError::CannotResume { .. }), "{error}");
    assert!(error.to_string().contains("begin a new lesson"), "{error}");
    // Which version can go on with it is said.
    let connection = rusqlite::Connection::open(&path).unwrap();
    let begun_by = |version| connection.execute("UPDATE lesson SET program = ?1", [version]);
    for strange in ["=1", "v1", "1;-2", "1\u{1b}[2J", ""] {
        assert!(begun_by(strange).is_err(), "{strange}");
    }
    assert_eq!(begun_by("0.0.9").unwrap(), 1);
    drop(connection);
    let error = book.resume(id, EVENING_MS).unwrap_err();
    assert!(
        error.to_string().contains("(version 0.0.9 began it)"),
        "{error}"
    );
    // It is not held by whoever tried, its rows stay, and it can be given up.
    assert!(!book.open_lessons().unwrap()[0].runs);
    assert_eq!(book.reader().unwrap().events(id).unwrap(), events);
    book.give_up(id).unwrap();
    assert!(matches!(book.resume(id, 0), Err(BookError::LessonEnded)));
    assert!(matches!(
        book.resume(LessonId(1), 0),
        Err(BookError::NoLesson)
    ));
    assert!(matches!(
        book.give_up(LessonId(1)),
        Err(BookError::NoLesson)
    ));
    let left = std::fs::read_dir(&folder.0).unwrap().flatten();
    let locks: Vec<_> = left
        .filter(|f| f.path().to_string_lossy().ends_with(".lock"))
        .collect();
    assert!(locks.is_empty(), "{locks:?}");
}

#[test]
fn two_lessons_are_written_into_one_book_at_once() {
    let folder = Folder::new("two-lessons");
    let path = folder.book();
    let mut halls = [1, 2].map(|seed| {
        let mut hall = Hall::begin(&path, setup(seed), EVENING_MS);
        hall.join("Mia");
        hall.join("Ruth");
        hall
    });
    for _ in 0..5 {
        for hall in &mut halls {
            hall.calls(1);
        }
    }
    let mut book = Book::open(&path).unwrap();
    let open = book.open_lessons().unwrap();
    assert!(open.len() == 2 && open.iter().all(|l| l.runs));
    let held = book.resume(open[0].id, 0).unwrap_err();
    assert!(matches!(held, BookError::LessonRuns), "{held}");
    for hall in halls {
        let (id, events) = hall.finish();
        assert_eq!(book.reader().unwrap().events(id).unwrap(), events);
        book.check_log(id).unwrap();
    }
    let people = book.reader().unwrap().people(CLASS).unwrap();
    assert!(people.len() == 2 && people.iter().all(|p| p.lessons == 2));
}

#[test]
fn the_log_goes_when_the_lesson_has_ended() {
    let folder = Folder::new("log-goes");
    let path = folder.book();
    let id = held(&path, 1, EVENING_MS, &["Mia"]);
    let connection = rusqlite::Connection::open(&path).unwrap();
    let left: u32 = connection
        .query_row(
            "SELECT (SELECT count(*) FROM log) + (SELECT count(*) FROM input)",
            [],
            |row| row.get(0),
        )
        .unwrap();
    assert_eq!(left, 0);
    drop(connection);
    let mut book = Book::open(&path).unwrap();
    assert!(matches!(book.resume(id, 0), Err(BookError::LessonEnded)));
    // The rows say all that happened.
    let reader = book.reader().unwrap();
    let sums = tally(&reader.calls(Whose::Class(CLASS)).unwrap());
    assert_eq!((sums.calls, sums.found, sums.played), (4, 4, 4));
    assert_eq!((sums.hearings, sums.found_first), (sums.tries, 3));
    assert!(sums.median.unwrap() >= Duration::from_secs(3));
}

#[test]
fn no_start_that_was_named_lies_ahead_when_it_goes_on() {
    let folder = Folder::new("starts");
    let path = folder.book();
    let mut hall = Hall::begin(&path, setup(1), EVENING_MS);
    hall.join("Mia");
    hall.order(HostOrder::CallRandom);
    let (id, _) = hall.finish();
    let mut book = Book::open(&path).unwrap();
    let resumed = book.resume(id, EVENING_MS + HOUR_MS).unwrap();
    let call = resumed.lesson.view().call.unwrap();
    assert!(
        resumed.goes_on > call.start,
        "{:?} {call:?}",
        resumed.goes_on
    );
}
