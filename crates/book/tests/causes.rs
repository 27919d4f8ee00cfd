//! What lies behind an error of the book can be walked to, as the error it was.

mod common;

use std::error::Error;
use std::fs;
use std::io;

use fifthpeg_book::{Book, BookError, Reader};

use common::{CLASS, EVENING_MS, Folder, Hall, held, setup};

/// Whether an error of this kind lies behind another.
fn lies_behind<E: Error + 'static>(error: &BookError) -> bool {
    let mut next = error.source();
    while let Some(error) = next {
        if error.is::<E>() {
            return true;
        }
        next = error.source();
    }
    false
}

#[test]
fn files_that_cannot_be_read_or_made() {
    let folder = Folder::new("causes-files");
    let missing = Reader::open(&folder.file("none.book")).unwrap_err();
    assert!(matches!(missing, BookError::File { .. }), "{missing}");
    assert!(lies_behind::<io::Error>(&missing), "{missing:?}");
    let file = folder.file("a file");
    fs::write(&file, "").unwrap();
    let unmade = Book::open(&file.join("lessons.book")).unwrap_err();
    assert!(matches!(unmade, BookError::NoFolder { .. }), "{unmade}");
    assert!(lies_behind::<io::Error>(&unmade), "{unmade:?}");
}

#[test]
fn imports_that_are_none() {
    let folder = Folder::new("causes-imports");
    let mut book = Book::open(&folder.book()).unwrap();
    let file = folder.file("wrong.json");
    fs::write(&file, "not json").unwrap();
    let wrong = book.import_json(&file).unwrap_err();
    assert!(matches!(wrong, BookError::BadImport { .. }), "{wrong}");
    assert!(lies_behind::<serde_json::Error>(&wrong), "{wrong:?}");
    let wrong = book.import_csv(&folder.file("none")).unwrap_err();
    assert!(matches!(wrong, BookError::BadImport { .. }), "{wrong}");
    assert!(lies_behind::<io::Error>(&wrong), "{wrong:?}");
    // A file that is wrong deep inside names its place, and keeps what it was.
    held(&folder.file("other.book"), 1, EVENING_MS, &["Mia"]);
    let csv = folder.file("csv");
    let other = Reader::open(&folder.file("other.book")).unwrap();
    other.export_csv(&csv).unwrap();
    let lessons = csv.join("class.csv");
    fs::write(&lessons, "name\n\"Tuesday\",too many\n").unwrap();
    let wrong = book.import_csv(&csv).unwrap_err();
    assert!(wrong.to_string().contains("class.csv, row 2"), "{wrong}");
    assert!(lies_behind::<csv::Error>(&wrong), "{wrong:?}");
}

#[test]
fn what_the_database_says() {
    let folder = Folder::new("causes-database");
    let path = folder.book();
    let mut hall = Hall::begin(&path, setup(1), EVENING_MS);
    hall.join("Mia");
    let (id, _) = hall.finish();
    let connection = rusqlite::Connection::open(&path).unwrap();
    // Somebody else's hands took a table away.
    let away = "PRAGMA foreign_keys = OFF; DROP TABLE note";
    connection.execute_batch(away).unwrap();
    let strange = Reader::open(&path).unwrap().notes(CLASS).unwrap_err();
    assert!(matches!(strange, BookError::Strange { .. }), "{strange}");
    assert!(lies_behind::<rusqlite::Error>(&strange), "{strange:?}");
    // A setup that no program of ours writes.
    let spoil = "UPDATE log SET setup = '{'";
    assert_eq!(connection.execute(spoil, []).unwrap(), 1);
    drop(connection);
    let cannot = Book::open(&path).unwrap().resume(id, EVENING_MS);
    let cannot = cannot.unwrap_err();
    assert!(matches!(cannot, BookError::CannotResume { .. }), "{cannot}");
    assert!(lies_behind::<serde_json::Error>(&cannot), "{cannot:?}");
}

/// Those that only a disk or a directory can bring about, made by hand.
#[test]
fn every_other_one_that_has_a_cause_names_it() {
    let path = || std::path::PathBuf::from("lessons.book");
    let why = || io::Error::other("the cable is out").into();
    for error in [
        BookError::Disk {
            path: path(),
            why: why(),
        },
        BookError::NoCopy {
            path: path(),
            why: why(),
        },
        BookError::Damaged {
            path: path(),
            what: why(),
            beside: path(),
        },
    ] {
        assert!(lies_behind::<io::Error>(&error), "{error:?}");
        assert!(error.to_string().contains("the cable is out"), "{error}");
    }
}

#[test]
fn a_book_that_another_program_holds() {
    let folder = Folder::new("causes-held");
    let path = folder.book();
    held(&path, 1, EVENING_MS, &["Mia"]);
    let other = rusqlite::Connection::open(&path).unwrap();
    other
        .execute_batch("PRAGMA locking_mode = EXCLUSIVE; BEGIN EXCLUSIVE")
        .unwrap();
    let locked = Book::open(&path).unwrap_err();
    assert!(matches!(locked, BookError::Locked { .. }), "{locked}");
    assert!(lies_behind::<rusqlite::Error>(&locked), "{locked:?}");
}
