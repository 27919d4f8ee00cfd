//! What goes out comes in again, once; two books become one.

mod common;

use std::path::Path;

use fifthpeg_book::schema::VERSION;
use fifthpeg_book::{Book, BookError, Note, Reader, TakenIn, Whose};
use fifthpeg_lesson::HostOrder;
use fifthpeg_vocab::Setting;

use common::{CLASS, EVENING_MS, Folder, Hall, held, json, setup};

fn version(number: u32) -> String {
    format!("\"version\": {number}")
}

const WEEK_MS: i64 = 7 * 86_400_000;

/// A book with everything in it that a book can hold.
fn full_book(path: &Path) {
    held(
        path,
        1,
        EVENING_MS,
        &["Mia", "Ruth", "=SUM(A1)", "'Ole, \"O\""],
    );
    held(path, 2, EVENING_MS + WEEK_MS, &["Mia", "Ivo", "Mia Sol"]);
    let mut open = Hall::begin(path, setup(3), EVENING_MS + 2 * WEEK_MS);
    open.join("Ruth");
    open.order(HostOrder::Set(Setting::Reach(
        "whole notes=G:major".parse().unwrap(),
    )));
    open.calls(1);
    open.finish();
    let mut book = Book::open(path).unwrap();
    let reader = book.reader().unwrap();
    let id = |name| reader.person(CLASS, name).unwrap().id;
    let (mia, sol, ivo) = (id("Mia"), id("Mia Sol"), id("Ivo"));
    book.merge_people(mia, sol).unwrap();
    book.remove_person(ivo).unwrap();
    let mut note = Note::new(CLASS, "+ line one\n- \"two\"; ＝3|@x", EVENING_MS).unwrap();
    note.person = Some(mia);
    note.lesson = Some(reader.lessons(CLASS).unwrap()[0].id);
    note.call = Some(2);
    book.write_note(&note).unwrap();
    book.write_note(&Note::new("Empty class", "", EVENING_MS).unwrap())
        .unwrap();
}

#[test]
fn an_export_comes_in_as_it_went_out() {
    let folder = Folder::new("export");
    let path = folder.book();
    full_book(&path);
    let whole = json(&path);
    let csv = folder.file("csv");
    Reader::open(&path).unwrap().export_csv(&csv).unwrap();

    let from_json = folder.file("from-json.book");
    let mut book = Book::open(&from_json).unwrap();
    let exported = path.with_extension("export.json");
    let taken = book.import_json(&exported).unwrap();
    assert_eq!((taken.lessons, taken.people), (3, 4));
    assert!(taken.rows > 100 && taken.joined.is_empty() && taken.open_here.is_empty());
    drop(book);
    assert_eq!(json(&from_json), whole);

    let from_csv = folder.file("from-csv.book");
    let mut book = Book::open(&from_csv).unwrap();
    assert_eq!(book.import_csv(&csv).unwrap(), taken);
    // The same again adds nothing, whichever way it comes.
    for again in [
        book.import_csv(&csv),
        book.import_json(&exported),
        book.merge_book(&path),
    ] {
        assert_eq!(again.unwrap(), TakenIn::default());
    }
    // A lesson that is open elsewhere cannot be taken up here.
    assert!(book.open_lessons().unwrap().is_empty());
    drop(book);
    assert_eq!(json(&from_csv), whole);
    // In the book where it is open, nothing of it is touched.
    let mut first = Book::open(&path).unwrap();
    let taken = first.merge_book(&from_csv).unwrap();
    assert_eq!((taken.rows, taken.open_here.len()), (0, 1));
}

#[test]
fn no_cell_begins_like_a_formula() {
    let folder = Folder::new("formula");
    let path = folder.book();
    full_book(&path);
    let csv = folder.file("csv");
    Reader::open(&path).unwrap().export_csv(&csv).unwrap();
    for sheet in ["person.csv", "note.csv"] {
        let mut rows = csv::Reader::from_path(csv.join(sheet)).unwrap();
        for row in rows.records() {
            for cell in &row.unwrap() {
                for part in cell.split([';', '|', '\n', '\r', '\t']) {
                    let first = part.trim_start().chars().next();
                    let formula = first.is_some_and(|c| "=+-@＝＋－＠".contains(c));
                    assert!(!formula, "{sheet}: {cell}");
                }
            }
        }
    }
}

#[test]
fn two_teachers_books_become_one_and_twice_is_once() {
    let folder = Folder::new("two-books");
    let (anna, bert) = (folder.file("a.book"), folder.file("b.book"));
    held(&anna, 1, EVENING_MS, &["Mia", "Ruth"]);
    held(&bert, 2, EVENING_MS + WEEK_MS, &["Mia", "Ivo"]);
    let mut book = Book::open(&anna).unwrap();
    let before = std::fs::read(&bert).unwrap();
    let taken = book.merge_book(&bert).unwrap();
    assert_eq!((taken.lessons, taken.people), (1, 1));
    assert_eq!(taken.joined, [(CLASS.to_owned(), "Mia".to_owned())]);
    assert_eq!(std::fs::read(&bert).unwrap(), before);
    let once = json(&anna);
    assert_eq!(book.merge_book(&bert).unwrap(), TakenIn::default());
    assert_eq!(json(&anna), once);
    let reader = book.reader().unwrap();
    assert_eq!(reader.person(CLASS, "Mia").unwrap().lessons, 2);

    // A lesson added there comes over; somebody removed here does not.
    held(&bert, 3, EVENING_MS + 2 * WEEK_MS, &["Mia", "Ivo"]);
    let mia = reader.person(CLASS, "Mia").unwrap().id;
    book.remove_person(mia).unwrap();
    let taken = book.merge_book(&bert).unwrap();
    assert_eq!((taken.lessons, taken.people), (1, 0));
    let names: Vec<_> = reader
        .people(CLASS)
        .unwrap()
        .into_iter()
        .map(|p| p.name)
        .collect();
    assert_eq!(names, ["Ivo", "Ruth"]);

    // The other teacher is told whom this one removed.
    drop(book);
    let taken = Book::open(&bert).unwrap().merge_book(&anna).unwrap();
    assert_eq!(taken.removed_there, [(CLASS.to_owned(), "Mia".to_owned())]);
}

/// What version 2 wrote did not say where a call's note came from.
#[test]
fn what_version_2_wrote_out_is_taken_in() {
    let folder = Folder::new("older-import");
    let path = folder.book();
    let lesson = held(&path, 1, EVENING_MS, &["Mia"]);
    let whole = json(&path);
    assert!(whole.contains("\"picked\":\"random\""), "{whole}");
    let mut older = whole.replace(&version(VERSION), &version(2));
    for word in [
        "\"random\"",
        "\"hand\"",
        "\"teaching\"",
        "\"friend\"",
        "null",
    ] {
        older = older.replace(&format!("\"picked\":{word},"), "");
    }
    assert!(!older.contains("picked"), "{older}");
    let file = folder.file("older.json");
    std::fs::write(&file, older).unwrap();
    let fresh = folder.file("fresh.book");
    let mut book = Book::open(&fresh).unwrap();
    assert_eq!(book.import_json(&file).unwrap().lessons, 1);
    let calls = |path| {
        Reader::open(path)
            .unwrap()
            .calls(Whose::Lesson(lesson))
            .unwrap()
    };
    let mut unsaid = calls(&path);
    assert!(!unsaid.is_empty());
    unsaid.iter_mut().for_each(|call| call.picked = None);
    assert_eq!(calls(&fresh), unsaid);
}

/// Values that fit their columns and that no lesson has: each would keep every
/// report from being made.
#[test]
fn what_no_lesson_can_be_is_not_taken_in_whichever_way_it_comes() {
    let folder = Folder::new("hostile-import");
    let path = folder.book();
    held(&path, 1, EVENING_MS, &["Mia"]);
    let hostile = [
        ("answer", "response_us = -5"),
        ("answer", "response_us = 9223372036854775807"),
        ("answer", "uncertainty_us = -1"),
        (
            "answer",
            "string = 255, fret = 255, pitch = NULL, name = NULL",
        ),
        ("answer", "miss = 'octave', miss_size = 200, correct = 0"),
        ("try", "string = 255, fret = 255, pitch = NULL, name = NULL"),
        ("call", "frequency_hz = -1e308"),
        ("call", "string = 9, fret = 9"),
        ("call", "at_us = -1"),
        ("sung", "frequency_hz = 1e308"),
        ("sung", "cents = -1e308"),
        ("sung", "octaves = 127"),
        ("lesson", "started_ms = 9223372036854775807"),
        ("lesson", "name = char(27) || '[2J'"),
        ("rules", "reach = 'everywhere'"),
        ("rules", "rules = '{}'"),
        ("sitting", "unix_ms = -9223372036854775808"),
    ];
    for (table, change) in hostile {
        // As only another program writes it: one row, with the seal made anew.
        let other = folder.file("other.book");
        let _ = std::fs::remove_file(&other);
        std::fs::copy(&path, &other).unwrap();
        let connection = rusqlite::Connection::open(&other).unwrap();
        let changed = connection.execute(&format!("UPDATE {table} SET {change}"), []);
        assert!(changed.unwrap() > 0, "{table} {change}");
        drop(connection);
        let whole = json(&other);
        let csv = folder.file("other-csv");
        let _ = std::fs::remove_dir_all(&csv);
        Reader::open(&other).unwrap().export_csv(&csv).unwrap();
        let exported = other.with_extension("export.json");
        assert!(!whole.is_empty());
        let fresh = folder.file("fresh.book");
        for ending in ["", "-wal", "-shm"] {
            let _ = std::fs::remove_file(folder.file(&format!("fresh.book{ending}")));
        }
        let mut book = Book::open(&fresh).unwrap();
        let empty = json(&fresh);
        for outcome in [
            book.import_json(&exported),
            book.import_csv(&csv),
            book.merge_book(&other),
        ] {
            let error = outcome.expect_err(&format!("{table} {change} was taken in"));
            assert!(matches!(error, BookError::BadImport { .. }), "{error}");
        }
        assert_eq!(json(&fresh), empty, "{table} {change}");
        // The book that has it says so, and reads what else there is.
        let reader = Reader::open(&other).unwrap();
        assert!(!reader.faults().unwrap().is_empty(), "{table} {change}");
        assert!(
            reader.calls(Whose::Class(CLASS)).is_err(),
            "{table} {change}"
        );
        reader
            .standing(reader.person(CLASS, "Mia").unwrap().id)
            .unwrap();
    }
}

#[test]
fn what_is_wrong_is_not_taken_in_at_all() {
    let folder = Folder::new("bad-import");
    let path = folder.book();
    held(&path, 1, EVENING_MS, &["Mia"]);
    let whole = json(&path);
    let mut fresh = Book::open(&folder.file("fresh.book")).unwrap();
    let empty = json(fresh.path());
    let file = folder.file("wrong.json");
    let wrong = [
        "not json".to_owned(),
        "{}".to_owned(),
        whole.replace("fifthpeg lesson book", "another book"),
        whole.replace(&version(VERSION), &version(VERSION + 1)),
        whole.replacen("\"pitch\":", "\"pitch_\":", 1),
        whole.replace("\"marking\":\"same-pitch\"", "\"marking\":\"by-mood\""),
        whole.replace("\"name\":\"Mia\"", "\"name\":\"\\u001b[2J\""),
        whole.replace("\"late\":0", "\"late\":7"),
        whole.replacen("\"seq\":", "\"seq\":\"x\",\"was\":", 1),
    ];
    for text in wrong {
        assert_ne!(text, whole);
        std::fs::write(&file, &text).unwrap();
        let error = fresh.import_json(&file).unwrap_err();
        assert!(matches!(error, BookError::BadImport { .. }), "{error}");
        assert_eq!(json(fresh.path()), empty, "{error}");
    }
    let missing = fresh.import_json(&folder.file("none.json")).unwrap_err();
    assert!(matches!(missing, BookError::File { .. }), "{missing}");
    let missing = fresh.import_csv(&folder.file("none")).unwrap_err();
    assert!(matches!(missing, BookError::BadImport { .. }), "{missing}");
}
