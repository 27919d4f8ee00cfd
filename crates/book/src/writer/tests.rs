//! A disk that is full, a book that is held, a trouble that stays.

use std::sync::mpsc::Receiver;

use fifthpeg_core::Neck;
use fifthpeg_lesson::{Lesson, LessonSetup, Moment};

use super::*;
use crate::{LessonId, Note};

/// A lesson begun in a new book, with its first batch stored.
fn begun(test: &str) -> (std::path::PathBuf, LessonId, Writer, Receiver<WriterEvent>) {
    let name = format!("fifthpeg-writer-{test}-{}", std::process::id());
    let folder = std::env::temp_dir().join(name);
    let _ = std::fs::remove_dir_all(&folder);
    let mut book = Book::open(&folder.join("lessons.book")).unwrap();
    let setup = LessonSetup::new("Tuesday", &Neck::ready("banjo-open-g").unwrap());
    let began = Moment::from_micros(7);
    let running = book.begin("Tuesday", &setup, began, 0).unwrap();
    let id = running.id();
    let (sender, reports) = channel();
    let sink = move |report| {
        let _ = sender.send(report);
    };
    let mut writer = Writer::start_with(book, running, Outlives::PowerCut, 100, sink);
    let mut lesson = Lesson::new(setup, began).unwrap();
    let events = std::iter::from_fn(|| lesson.poll_event()).collect();
    let first = writer.store(Batch {
        events,
        ..Batch::default()
    });
    assert_eq!(next(&reports), WriterEvent::Stored { up_to: first });
    (folder, id, writer, reports)
}

fn next(reports: &Receiver<WriterEvent>) -> WriterEvent {
    reports.recv_timeout(Duration::from_secs(30)).unwrap()
}

fn long_note() -> Batch {
    let note = Note::new("Tuesday", &"fourths ".repeat(2_000), 1).unwrap();
    Batch {
        notes: vec![note],
        ..Batch::default()
    }
}

/// The last report of being stored, once it is that of `ticket`.
fn wait_for(reports: &Receiver<WriterEvent>, ticket: BatchNumber) {
    loop {
        match next(reports) {
            WriterEvent::Stored { up_to } if up_to == ticket => return,
            WriterEvent::Stored { up_to } => assert!(up_to < ticket),
            other => panic!("{other:?}"),
        }
    }
}

#[test]
fn a_full_disk_makes_batches_wait_and_loses_none() {
    let (folder, id, mut writer, reports) = begun("full");
    // SQLite gives the same error for this limit as for a full disk.
    writer.with(|connection| {
        let pages: u32 = connection
            .pragma_query_value(None, "page_count", |row| row.get(0))
            .unwrap();
        let limit = connection.pragma_update_and_check(None, "max_page_count", pages + 2, |row| {
            row.get::<_, u32>(0)
        });
        assert_eq!(limit.unwrap(), pages + 2);
    });
    let last = (0..5).map(|_| writer.store(long_note())).last().unwrap();
    let mut stored = BatchNumber(1);
    let sentence = loop {
        match next(&reports) {
            WriterEvent::Stored { up_to } => stored = up_to,
            WriterEvent::Trouble {
                sentence, may_pass, ..
            } => {
                assert!(may_pass);
                break sentence;
            }
            other => panic!("{other:?}"),
        }
    };
    assert!(stored < last);
    assert!(sentence.starts_with("the disk is full"), "{sentence}");
    assert!(sentence.contains("lessons.book"), "{sentence}");
    // The same trouble is not told again, and nothing is told as stored.
    let silent = reports.recv_timeout(RETRY * 3);
    assert!(silent.is_err(), "{silent:?}");
    writer.with(|connection| {
        let raised = connection
            .pragma_update_and_check(None, "max_page_count", 1 << 20, |row| row.get::<_, u32>(0));
        assert_eq!(raised.unwrap(), 1 << 20);
    });
    wait_for(&reports, last);
    writer.finish(Duration::from_secs(10)).unwrap();
    let book = Book::open(&folder.join("lessons.book")).unwrap();
    assert_eq!(book.reader().unwrap().notes("Tuesday").unwrap().len(), 5);
    book.check_log(id).unwrap();
    std::fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn a_book_held_by_another_program_makes_batches_wait() {
    let (folder, _, mut writer, reports) = begun("locked");
    let other = rusqlite::Connection::open(folder.join("lessons.book")).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let ticket = writer.store(long_note());
    let WriterEvent::Trouble {
        sentence, may_pass, ..
    } = next(&reports)
    else {
        panic!("it was stored");
    };
    assert!(may_pass);
    assert!(sentence.contains("in use by another program"), "{sentence}");
    other.execute_batch("ROLLBACK").unwrap();
    wait_for(&reports, ticket);
    writer.finish(Duration::from_secs(10)).unwrap();
    std::fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn what_is_left_when_the_trouble_stays_is_told_at_the_end() {
    let (folder, id, mut writer, reports) = begun("stays");
    writer.with(|connection| connection.execute_batch("PRAGMA query_only = 1").unwrap());
    writer.store(long_note());
    let WriterEvent::Trouble { sentence, .. } = next(&reports) else {
        panic!("it was stored");
    };
    assert!(
        sentence.contains("may be read but not written"),
        "{sentence}"
    );
    let left = writer.finish(Duration::from_millis(50)).unwrap_err();
    assert!(matches!(left, BookError::ReadOnly { .. }), "{left}");
    // The lesson is free to be taken up again.
    let mut book = Book::open(&folder.join("lessons.book")).unwrap();
    let resumed = book.resume(id, 5).unwrap();
    assert_eq!(
        book.resume(id, 5).unwrap_err().to_string(),
        BookError::LessonRuns.to_string()
    );
    assert!(book.open_lessons().unwrap()[0].runs);
    drop(resumed);
    assert!(!book.open_lessons().unwrap()[0].runs);
    std::fs::remove_dir_all(&folder).unwrap();
}

#[test]
fn where_too_much_waits_the_writer_gives_up_and_says_so() {
    let (folder, id, mut writer, reports) = begun("gave-up");
    writer.with(|connection| connection.execute_batch("PRAGMA query_only = 1").unwrap());
    writer.store(long_note());
    assert!(matches!(next(&reports), WriterEvent::Trouble { .. }));
    for _ in 0..101 {
        writer.store(long_note());
    }
    let WriterEvent::GaveUp { sentence } = next(&reports) else {
        panic!("it goes on");
    };
    assert!(sentence.contains("not kept"), "{sentence}");
    writer.with(|connection| connection.execute_batch("PRAGMA query_only = 0").unwrap());
    writer.store(long_note());
    // What came before is there, and nothing behind the gap.
    writer.finish(Duration::from_secs(10)).unwrap();
    assert!(reports.try_iter().next().is_none());
    let book = Book::open(&folder.join("lessons.book")).unwrap();
    assert!(book.reader().unwrap().notes("Tuesday").unwrap().is_empty());
    book.check_log(id).unwrap();
    std::fs::remove_dir_all(&folder).unwrap();
}
