//! A book that is deleted, moved, replaced or written over while a lesson is
//! written into it: nothing is told to be stored that is not where the book
//! belongs, and nothing of it spoils what was put there.

mod common;

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use fifthpeg_book::{BatchNumber, Book, LessonId, Reader, Whose, WriterEvent};
use fifthpeg_lesson::HostOrder;

use common::{EVENING_MS, Folder, Hall, held, json, setup};

/// What is done to the book in mid-lesson.
type Deed = fn(&Folder, &Path);

/// A stranger: another teacher's book, whole.
fn stranger(folder: &Folder) -> PathBuf {
    let path = folder.file("stranger.book");
    for seed in 10..14 {
        held(&path, seed, EVENING_MS, &["Ruth", "Ben", "Ada"]);
    }
    path
}

/// A lesson with answers that were confirmed.
fn in_mid_lesson(path: &Path) -> Hall {
    held(path, 1, EVENING_MS, &["Mia"]);
    let mut hall = Hall::begin(path, setup(2), EVENING_MS);
    hall.join("Mia");
    hall.join("Ivo");
    hall.calls(3);
    let ticket = hall.store();
    until(&hall, |report| stored(report) == Some(ticket));
    hall
}

fn stored(report: &WriterEvent) -> Option<BatchNumber> {
    match report {
        WriterEvent::Stored { up_to } => Some(*up_to),
        _ => None,
    }
}

/// The first report that is looked for.
fn until(hall: &Hall, wanted: impl Fn(&WriterEvent) -> bool) -> WriterEvent {
    loop {
        let report = hall.reports.recv_timeout(Duration::from_secs(30));
        let report = report.expect("a report");
        if wanted(&report) {
            return report;
        }
    }
}

fn copy_over(from: &Path, to: &Path) {
    // As `cp` does: the same file, with other content.
    let bytes = fs::read(from).unwrap();
    let mut file = fs::OpenOptions::new()
        .write(true)
        .truncate(true)
        .open(to)
        .unwrap();
    std::io::Write::write_all(&mut file, &bytes).unwrap();
}

const DEEDS: [(&str, Deed); 6] = [
    ("deleted", |_, book| fs::remove_file(book).unwrap()),
    ("moved", |folder, book| {
        fs::rename(book, folder.file("moved.book")).unwrap();
    }),
    ("replaced", |folder, book| {
        fs::rename(folder.file("stranger.book"), book).unwrap();
    }),
    ("moved and replaced", |folder, book| {
        fs::rename(book, folder.file("moved.book")).unwrap();
        fs::copy(folder.file("stranger.book"), book).unwrap();
    }),
    ("written over", |folder, book| {
        copy_over(&folder.file("stranger.book"), book);
    }),
    ("written over by an older copy", |folder, book| {
        copy_over(&folder.file("older.book"), book);
    }),
];

#[test]
fn what_is_stored_is_where_the_book_belongs_or_is_not_told_to_be() {
    for (name, deed) in DEEDS {
        let folder = Folder::new("moved");
        let path = folder.book();
        stranger(&folder);
        held(&path, 0, EVENING_MS, &["Mia"]);
        Reader::open(&path)
            .unwrap()
            .copy_to(&folder.file("older.book"))
            .unwrap();
        let mut hall = in_mid_lesson(&path);
        deed(&folder, &path);
        hall.calls(1);
        let waiting = hall.store();
        let report = until(&hall, |_| true);
        let WriterEvent::Trouble { sentence, .. } = &report else {
            panic!("{name}: {report:?}");
        };
        assert!(sentence.contains("lessons.book"), "{name}: {sentence}");
        assert!(!sentence.contains('\n'), "{name}: {sentence}");
        // Whoever opens what is there now finds it as it was put there.
        if path.exists() {
            let put = match name {
                "written over by an older copy" => folder.file("older.book"),
                "replaced" => path.clone(),
                _ => folder.file("stranger.book"),
            };
            drop(Book::open(&path).unwrap());
            let reader = Reader::open(&path).unwrap();
            assert_eq!(reader.faults().unwrap(), [""; 0], "{name}");
            assert_eq!(json(&path), json(&put), "{name}");
        }
        // The lesson goes on in a new book, with all that was confirmed.
        hall.writer.go_on_in_new_book();
        let report = until(&hall, |r| matches!(r, WriterEvent::NewBook { .. }));
        let WriterEvent::NewBook { path: new } = report else {
            unreachable!();
        };
        let vacant = matches!(name, "deleted" | "moved");
        let expected = if vacant {
            path.clone()
        } else {
            folder.file("lessons-2.book")
        };
        assert_eq!(new, expected, "{name}");
        until(&hall, |report| stored(report) == Some(waiting));
        hall.calls(1);
        hall.order(HostOrder::End);
        let (id, events) = hall.finish();
        let reader = Reader::open(&new).unwrap();
        assert_eq!(reader.events(id).unwrap(), events, "{name}");
        assert_eq!(reader.faults().unwrap(), [""; 0], "{name}");
        // What was moved away holds what was stored until then.
        let moved = folder.file("moved.book");
        if moved.exists() {
            let reader = Reader::open(&moved).unwrap();
            let calls = reader.calls(Whose::Lesson(id)).unwrap();
            assert!(calls.len() >= 6, "{name}: {}", calls.len());
            drop(reader);
            // One lesson in two books becomes one.
            let mut book = Book::open(&moved).unwrap();
            book.give_up(id).unwrap();
            book.merge_book(&new).unwrap();
            assert_eq!(whole(&moved, id), whole(&new, id), "{name}");
        }
    }
}

fn whole(path: &Path, id: LessonId) -> usize {
    Reader::open(path).unwrap().events(id).unwrap().len()
}

#[test]
fn a_book_that_is_put_back_goes_on_and_holds_everything_once() {
    let folder = Folder::new("put-back");
    let path = folder.book();
    let mut hall = in_mid_lesson(&path);
    fs::rename(&path, folder.file("moved.book")).unwrap();
    hall.calls(1);
    let waiting = hall.store();
    until(&hall, |r| matches!(r, WriterEvent::Trouble { .. }));
    fs::rename(folder.file("moved.book"), &path).unwrap();
    until(&hall, |report| stored(report) == Some(waiting));
    let (id, events) = hall.finish();
    let book = Book::open(&path).unwrap();
    assert_eq!(book.reader().unwrap().events(id).unwrap(), events);
    book.check_log(id).unwrap();
}

#[test]
fn a_log_that_is_deleted_loses_nothing() {
    let folder = Folder::new("no-log");
    let path = folder.book();
    let mut hall = in_mid_lesson(&path);
    fs::remove_file(folder.file("lessons.book-wal")).unwrap();
    hall.calls(1);
    let ticket = hall.store();
    until(&hall, |report| stored(report) == Some(ticket));
    // Were the host killed now, this is what would be left.
    let seen = folder.file("seen.book");
    for ending in ["", "-wal"] {
        let from = folder.file(&format!("lessons.book{ending}"));
        fs::copy(from, folder.file(&format!("seen.book{ending}"))).unwrap();
    }
    let reader = Reader::open(&seen).unwrap();
    assert_eq!(reader.events(hall.id).unwrap(), hall.events);
    drop(reader);
    let (id, events) = hall.finish();
    assert_eq!(Reader::open(&path).unwrap().events(id).unwrap(), events);
}

#[test]
fn a_book_that_goes_while_nobody_speaks_is_told_of() {
    let folder = Folder::new("quiet");
    let path = folder.book();
    let hall = in_mid_lesson(&path);
    fs::remove_file(&path).unwrap();
    until(&hall, |r| matches!(r, WriterEvent::Trouble { .. }));
    // Nobody decides, and the lesson ends: it is there all the same.
    let id = hall.id;
    let events = hall.events.clone();
    let told = hall.writer.finish(Duration::from_secs(5)).unwrap_err();
    assert!(told.to_string().contains("lessons.book"), "{told}");
    assert_eq!(Reader::open(&path).unwrap().events(id).unwrap(), events);
}

/// A host is killed, and somebody puts another book in the place of its own
/// before anybody opens that.
#[test]
fn the_log_of_a_killed_host_is_not_taken_for_another_books() {
    let folder = Folder::new("killed");
    let path = folder.book();
    let other = stranger(&folder);
    let hall = in_mid_lesson(&path);
    let lock = |folder: &Folder| {
        let entries = fs::read_dir(&folder.0).unwrap().flatten();
        let locks = entries.filter(|e| e.file_name().to_string_lossy().ends_with(".lock"));
        locks.map(|e| e.path()).collect::<Vec<_>>()
    };
    // What a kill would leave.
    let left = Folder::new("killed-left");
    for ending in ["", "-wal"] {
        let name = format!("lessons.book{ending}");
        fs::copy(folder.file(&name), left.file(&name)).unwrap();
    }
    for from in lock(&folder) {
        fs::copy(
            &from,
            left.file(from.file_name().unwrap().to_str().unwrap()),
        )
        .unwrap();
    }
    let (id, events) = (hall.id, hall.events.clone());
    drop(hall);
    let alike = Folder::new("killed-alike");
    for entry in fs::read_dir(&left.0).unwrap().flatten() {
        fs::copy(entry.path(), alike.0.join(entry.file_name())).unwrap();
    }
    assert!(fs::metadata(left.file("lessons.book-wal")).unwrap().len() > 0);
    fs::copy(&other, left.book()).unwrap();
    drop(Book::open(&left.book()).unwrap());
    assert_eq!(
        Reader::open(&left.book()).unwrap().faults().unwrap(),
        [""; 0]
    );
    assert_eq!(json(&left.book()), json(&other));
    assert!(left.file("lessons.book-wal-of-another").exists());
    // Its own book takes it, whether that was copied or moved meanwhile.
    let book = Book::open(&alike.book()).unwrap();
    assert_eq!(book.reader().unwrap().events(id).unwrap(), events);
    book.check_log(id).unwrap();
}

/// A program that reads the book in the same process lets go of no lock: else
/// another's end would take the log away from under the lesson.
#[cfg(target_os = "linux")]
#[test]
fn readers_beside_the_writer_leave_its_locks_alone() {
    let folder = Folder::new("locks");
    let path = folder.book();
    let mut hall = in_mid_lesson(&path);
    drop(Reader::open(&path).unwrap());
    // Another program writes a note and ends.
    let other = "import sqlite3, sys; c = sqlite3.connect(sys.argv[1]); \
        c.execute('UPDATE class SET folded = folded'); c.commit(); c.close()";
    let done = std::process::Command::new("python3")
        .args(["-c", other])
        .arg(&path)
        .status();
    assert!(done.unwrap().success());
    assert!(
        folder.file("lessons.book-wal").exists(),
        "the log was taken away"
    );
    hall.calls(1);
    let (id, events) = hall.finish();
    assert_eq!(Reader::open(&path).unwrap().events(id).unwrap(), events);
}
