//! A book with damage in it: a report shows what can be read, names what
//! cannot, and never gives other figures as if they were right.

mod common;

use std::fs;
use std::path::Path;

use fifthpeg_book::{Book, BookError, Reader};
use fifthpeg_report::ask::{Ask, AskError};
use fifthpeg_report::overview::Overview;

use common::{CLASS, EVENING_MS, Folder, held};

const WEEK_MS: i64 = 7 * 86_400_000;

fn report(reader: &Reader) -> Result<Overview, BookError> {
    let ask = Ask {
        class: Some(CLASS.to_owned()),
        ..Ask::default()
    };
    let subject = ask.find(reader, &|_| 0).map_err(|why| match why {
        AskError::Book(why) => why,
        other => BookError::Setup(other.to_string()),
    })?;
    Overview::read(reader, subject, &|_| 0)
}

/// Figures of each lesson, by its beginning.
fn figures(report: &Overview) -> Vec<String> {
    let lines = report.lessons.iter();
    lines
        .map(|l| format!("{:?} {:?}", l.date, l.figures))
        .collect()
}

/// Three lessons, a week apart.
fn three_weeks(path: &Path) {
    for week in 0..3 {
        let ms = EVENING_MS + week * WEEK_MS;
        held(path, week as u64, ms, &["Mia", "Ruth"]);
    }
}

#[test]
fn a_flipped_bit_anywhere_is_told_or_changes_no_figure() {
    let folder = Folder::new("flipped");
    let path = folder.book();
    three_weeks(&path);
    let sound = fs::read(&path).unwrap();
    let whole = figures(&report(&Reader::open(&path).unwrap()).unwrap());
    assert_eq!(whole.len(), 3);
    let damaged = folder.file("damaged.book");
    let (mut told, mut partly, mut same) = (0, 0, 0);
    for at in (0..sound.len()).step_by(509) {
        let mut bytes = sound.clone();
        bytes[at] ^= 1 << (at % 8);
        fs::write(&damaged, &bytes).unwrap();
        let read = Reader::open(&damaged).and_then(|reader| report(&reader));
        match read {
            Err(_) => told += 1,
            Ok(report) if report.unread.is_empty() => {
                assert_eq!(figures(&report), whole, "byte {at}");
                same += 1;
            }
            Ok(report) => {
                let left = figures(&report);
                assert!(left.iter().all(|l| whole.contains(l)), "byte {at}");
                partly += 1;
            }
        }
    }
    assert!(
        partly > 10 && told > 1 && same > 10,
        "{told} {partly} {same}"
    );
}

#[test]
fn one_lesson_that_is_spoilt_spoils_no_other() {
    let folder = Folder::new("one-spoilt");
    let path = folder.book();
    three_weeks(&path);
    let mia = {
        let reader = Reader::open(&path).unwrap();
        assert_eq!(reader.faults().unwrap(), [""; 0]);
        reader.person(CLASS, "Mia").unwrap().id
    };
    let connection = rusqlite::Connection::open(&path).unwrap();
    let second = "(SELECT key FROM lesson ORDER BY started_ms LIMIT 1 OFFSET 1)";
    connection
        .execute(
            &format!("DELETE FROM answer WHERE lesson = {second} AND correct = 1"),
            [],
        )
        .unwrap();
    drop(connection);
    let reader = Reader::open(&path).unwrap();
    let made = report(&reader).unwrap();
    assert_eq!((made.lessons.len(), made.unread.len()), (2, 1));
    assert!(made.unread[0].contains("2026-10-20"), "{}", made.unread[0]);
    let standing = reader.standing(mia).unwrap();
    assert_eq!((standing.lessons, standing.unread.len()), (2, 1));
    assert_eq!(reader.faults().unwrap(), made.unread);
    drop(reader);
    // What is changed about it afterwards makes it no better.
    let mut book = Book::open(&path).unwrap();
    let ruth = book.reader().unwrap().person(CLASS, "Ruth").unwrap().id;
    book.remove_person(ruth).unwrap();
    let reader = book.reader().unwrap();
    assert_eq!(report(&reader).unwrap().unread.len(), 1);
    // A lesson of which all is lost but its seal.
    let connection = rusqlite::Connection::open(&path).unwrap();
    connection
        .pragma_update(None, "foreign_keys", false)
        .unwrap();
    connection
        .execute(&format!("DELETE FROM lesson WHERE key = {second}"), [])
        .unwrap();
    let made = report(&reader).unwrap();
    assert!(made.unread[0].contains("lost"), "{:?}", made.unread);
}
