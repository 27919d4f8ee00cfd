//! Older books are brought up to date with a copy kept; newer ones are refused.

mod common;

use std::fs;
use std::path::Path;
use std::time::Duration;

use fifthpeg_book::schema::VERSION;
use fifthpeg_book::{Batch, Book, BookError, LessonId, Note, Outlives, Reader, Whose, Writer};
use fifthpeg_core::{Pitch, Position};
use fifthpeg_lesson::marking::{Mark, Miss, MissKind, Side};
use fifthpeg_lesson::message::{Answer, Source};
use fifthpeg_lesson::{GivenInput, HostOrder, LessonInput, Picked};

use common::{CLASS, EVENING_MS, Folder, held, json};

/// A book of version 1, in the file as a program left it that was killed, or
/// that closed it.
fn old_book(path: &Path) {
    write_old(path, include_str!("old/version-1.sql"));
}

fn write_old(path: &Path, content: &str) {
    let connection = rusqlite::Connection::open(path).unwrap();
    connection.execute_batch(content).unwrap();
    connection
        .pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get::<_, String>(0))
        .unwrap();
}

#[test]
fn a_book_of_version_1_is_brought_up_to_date_and_a_copy_kept() {
    let folder = Folder::new("version-1");
    let path = folder.book();
    old_book(&path);
    let error = Reader::open(&path).unwrap_err();
    assert!(
        matches!(error, BookError::Older { version: 1, .. }),
        "{error}"
    );

    let mut book = Book::open(&path).unwrap();
    let reader = book.reader().unwrap();
    let copy = folder.file("lessons.v1-backup");
    let kept = rusqlite::Connection::open(&copy).unwrap();
    let version: u32 = kept
        .pragma_query_value(None, "user_version", |r| r.get(0))
        .unwrap();
    let answers: u32 = kept
        .query_row("SELECT count(*) FROM answer", [], |r| r.get(0))
        .unwrap();
    assert_eq!((version, answers), (1, 2));
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        assert_eq!(
            fs::metadata(&copy).unwrap().permissions().mode() & 0o777,
            0o600
        );
    }

    // Everything is there, and what is new has its meaning for what is old.
    let mia = reader.person(CLASS, "Mia").unwrap();
    let calls = reader.calls(Whose::Person(mia.id)).unwrap();
    assert_eq!(calls.len(), 1);
    let call = &calls[0];
    assert_eq!(call.unix_ms, EVENING_MS + 10_000);
    assert_eq!((call.hearings, call.tries, call.sung), (1, 1, None));
    assert!(call.found() && !call.found_first());
    let low = Miss {
        kind: Some(MissKind::Neighbour),
        side: Some(Side::Low),
    };
    assert_eq!(call.answers[0].mark, Mark::Missed(low));
    assert_eq!(call.answers[0].answer, Answer::Place(Position::new(3, 1)));
    assert_eq!(call.answers[1].source, Source::Screen);
    let time = Duration::from_micros(4_500_000);
    assert_eq!(call.time(), Some((time, Duration::from_micros(4_000))));
    let lesson = LessonId(0xb01);
    assert_eq!(reader.events(lesson).unwrap().len(), 10);
    assert_eq!(reader.neck(lesson).unwrap().strings.len(), 5);

    // Its open lesson was kept in a form that is not known any more.
    let error = book.resume(LessonId(0xb02), EVENING_MS).unwrap_err();
    assert!(matches!(error, BookError::CannotResume { .. }), "{error}");
    assert!(error.to_string().contains("stays in the book"), "{error}");
    book.give_up(LessonId(0xb02)).unwrap();

    // And it takes what the old one could not.
    book.write_note(&Note::new(CLASS, "fourths next week", EVENING_MS).unwrap())
        .unwrap();
    drop(book);
    let lesson = held(&path, 3, EVENING_MS, &["Mia"]);
    let fresh = folder.file("fresh.book");
    Book::open(&fresh).unwrap().merge_book(&path).unwrap();
    assert_eq!(json(&fresh), json(&path));
    assert!(
        !Reader::open(&fresh)
            .unwrap()
            .events(lesson)
            .unwrap()
            .is_empty()
    );
    // Opened again there is nothing more to do, and no second copy.
    Book::open(&path).unwrap();
    assert!(!folder.file("lessons-2.v1-backup").exists());
    assert_eq!(tables(&path), tables(&fresh));
}

#[test]
fn a_book_of_version_2_is_brought_up_to_date_and_its_open_lesson_taken_up() {
    let folder = Folder::new("version-2");
    let path = folder.book();
    write_old(&path, include_str!("old/version-2.sql"));
    let mut book = Book::open(&path).unwrap();
    assert!(folder.file("lessons.v2-backup").exists());
    // What it did not keep is not made up.
    let picked = |book: &Book| -> Vec<Option<Picked>> {
        let reader = book.reader().unwrap();
        let mia = reader.person("Tuesday", "Mia").unwrap();
        let calls = reader.calls(Whose::Person(mia.id)).unwrap();
        calls.iter().map(|call| call.picked).collect()
    };
    assert_eq!(picked(&book), [None; 4]);

    // Its open lesson goes on, and says from now on.
    let open = book.open_lessons().unwrap();
    assert_eq!(open.len(), 1);
    let mut resumed = book.resume(open[0].id, open[0].last_ms).unwrap();
    let mut batch = Batch::default();
    let mut now = resumed.goes_on;
    for order in [
        HostOrder::Close,
        HostOrder::CallRandom,
        HostOrder::Close,
        HostOrder::CallPlayed(Pitch::new(55).unwrap()),
        HostOrder::End,
    ] {
        now = now + Duration::from_secs(1);
        let input = LessonInput::Order(order);
        resumed.lesson.apply(input.clone(), now).unwrap();
        batch.inputs.push(GivenInput { at: now, input });
    }
    batch.events = std::iter::from_fn(|| resumed.lesson.poll_event()).collect();
    let mut writer = Writer::start(book, resumed.running, Outlives::Kill, |_| {});
    writer.store(batch);
    writer.finish(Duration::from_secs(5)).unwrap();
    let book = Book::open(&path).unwrap();
    let teaching = Some(Picked::Teaching);
    let played = Some(Picked::Instrument);
    assert_eq!(picked(&book), [None, None, None, None, teaching, played]);
    let fresh = folder.file("fresh.book");
    Book::open(&fresh).unwrap().merge_book(&path).unwrap();
    assert_eq!(json(&fresh), json(&path));
    assert_eq!(tables(&path), tables(&fresh));
}

/// What was whole stays so though its seal is made anew, and what was damaged
/// before is known as damaged.
#[test]
fn a_book_of_version_4_keeps_its_seals() {
    for damaged in [false, true] {
        let folder = Folder::new("version-4");
        let path = folder.book();
        write_old(&path, include_str!("old/version-4.sql"));
        if damaged {
            let connection = rusqlite::Connection::open(&path).unwrap();
            let changed = connection.execute("UPDATE answer SET serial = 7 WHERE seq = 9", []);
            assert!(changed.unwrap() > 0);
        }
        let book = Book::open(&path).unwrap();
        let faults = book.reader().unwrap().faults().unwrap();
        assert_eq!(faults.is_empty(), !damaged, "{faults:?}");
        drop(book);
        let fresh = folder.file("fresh.book");
        Book::open(&fresh).unwrap();
        assert_eq!(tables(&path), tables(&fresh));
    }
}

#[test]
fn a_book_of_version_3_is_brought_up_to_date_and_its_lessons_sealed() {
    let folder = Folder::new("version-3");
    let path = folder.book();
    write_old(&path, include_str!("old/version-3.sql"));
    let mut book = Book::open(&path).unwrap();
    assert!(folder.file("lessons.v3-backup").exists());
    let count = |sql: &str| -> u32 {
        let connection = rusqlite::Connection::open(&path).unwrap();
        connection.query_row(sql, [], |row| row.get(0)).unwrap()
    };
    assert_eq!(count("SELECT count(*) FROM mark"), 1);
    // The one that has ended, and the other once it has.
    assert_eq!(count("SELECT count(*) FROM seal"), 1);
    let open = book.open_lessons().unwrap();
    book.give_up(open[0].id).unwrap();
    assert_eq!(count("SELECT count(*) FROM seal"), 2);
    let fresh = folder.file("fresh.book");
    Book::open(&fresh).unwrap().merge_book(&path).unwrap();
    assert_eq!(json(&fresh), json(&path));
    assert_eq!(tables(&path), tables(&fresh));
    drop(book);
    assert_eq!(Reader::open(&path).unwrap().faults().unwrap(), [""; 0]);
}

/// Every table and index as SQLite keeps it, so that a book brought up to date
/// and a new one are alike: comments, white space and the order of columns aside.
fn tables(path: &Path) -> Vec<(String, Vec<String>)> {
    let connection = rusqlite::Connection::open(path).unwrap();
    let mut statement = connection
        .prepare("SELECT name, coalesce(sql, '') FROM sqlite_schema ORDER BY name")
        .unwrap();
    let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get::<_, String>(1)?)));
    let parts = |sql: String| {
        let lines = sql.lines().map(|line| line.split("--").next().unwrap());
        let words = lines
            .flat_map(str::split_whitespace)
            .collect::<Vec<_>>()
            .join(" ");
        let (mut parts, mut depth) = (vec![String::new()], 0);
        for sign in words.chars() {
            match sign {
                '(' => depth += 1,
                ')' => depth -= 1,
                _ => {}
            }
            match (sign, depth) {
                ('(' | ',', 1) => parts.push(String::new()),
                _ => parts.last_mut().unwrap().push(sign),
            }
        }
        let mut parts: Vec<String> = parts.iter().map(|p| p.trim().to_owned()).collect();
        // What comes behind the last column stands with it.
        let end = parts.pop().unwrap();
        let (last, behind) = end.rsplit_once(')').unwrap_or((&end, ""));
        parts.extend([last.trim().to_owned(), behind.trim().to_owned()]);
        parts.sort();
        parts
    };
    let read = rows.unwrap().map(Result::unwrap);
    read.map(|(name, sql)| (name, parts(sql))).collect()
}

#[test]
fn no_copy_takes_another_files_place() {
    let folder = Folder::new("copies");
    let path = folder.book();
    old_book(&path);
    let first = folder.file("lessons.v1-backup");
    let second = folder.file("lessons-2.v1-backup");
    fs::write(&first, "an older copy").unwrap();
    fs::write(&second, "and another").unwrap();
    let book = Book::open(&path).unwrap();
    assert_eq!(fs::read_to_string(&first).unwrap(), "an older copy");
    assert_eq!(fs::read_to_string(&second).unwrap(), "and another");
    let third = folder.file("lessons-3.v1-backup");
    assert!(fs::read(&third).unwrap().starts_with(b"SQLite format 3"));
    book.delete_copies().unwrap();
    assert!(!first.exists() && !second.exists() && !third.exists() && path.exists());
}

#[test]
fn a_book_that_cannot_be_brought_up_to_date_has_one_copy_however_often_it_is_tried() {
    let folder = Folder::new("tries");
    let path = folder.book();
    write_old(&path, include_str!("old/version-3.sql"));
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let copies = || -> usize {
        let entries = fs::read_dir(&folder.0).unwrap();
        let names = entries.map(|e| e.unwrap().file_name().to_string_lossy().into_owned());
        names.filter(|name| name.ends_with("-backup")).count()
    };
    for _ in 0..3 {
        let error = Book::open(&path).unwrap_err();
        assert!(matches!(error, BookError::Locked { .. }), "{error}");
        assert_eq!(copies(), 1);
    }
    drop(other);
    Book::open(&path).unwrap();
    assert_eq!(copies(), 1);
}

#[test]
fn a_newer_book_is_refused_and_left_as_it_is() {
    let folder = Folder::new("newer");
    let path = folder.book();
    held(&path, 1, EVENING_MS, &["Mia"]);
    let newer = rusqlite::Connection::open(&path).unwrap();
    newer
        .pragma_update(None, "user_version", VERSION + 1)
        .unwrap();
    drop(newer);
    let before = fs::read(&path).unwrap();
    for error in [
        Book::open(&path).unwrap_err(),
        Reader::open(&path).unwrap_err(),
    ] {
        let text = error.to_string();
        assert!(matches!(error, BookError::Newer { .. }), "{text}");
        assert!(text.contains("update the program"), "{text}");
        assert!(text.contains(&path.display().to_string()), "{text}");
    }
    assert!(fs::read(&path).unwrap() == before);
    assert!(!folder.file("lessons.v6-backup").exists());
}
