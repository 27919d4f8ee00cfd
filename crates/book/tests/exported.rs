//! What stored books of every version give out, byte for byte, and that it
//! comes in again as it was.

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use fifthpeg_book::{Book, Reader};

use common::{Folder, json};

/// A book of each version, as its program left it.
const OLD: [&str; 4] = [
    include_str!("old/version-1.sql"),
    include_str!("old/version-2.sql"),
    include_str!("old/version-3.sql"),
    include_str!("old/version-4.sql"),
];

/// The old book, brought up to date.
fn brought_up(folder: &Folder, number: usize) -> PathBuf {
    let path = folder.file(&format!("version-{number}.book"));
    let connection = rusqlite::Connection::open(&path).unwrap();
    connection.execute_batch(OLD[number - 1]).unwrap();
    drop(connection);
    drop(Book::open(&path).unwrap());
    path
}

/// A folder of CSV in one text, a line with its name before each file.
fn csv_text(folder: &Path) -> String {
    let names = fifthpeg_book::exchange::csv_files().into_iter();
    let files = names.map(|name| {
        let text = fs::read_to_string(folder.join(&name)).unwrap();
        format!("== {name}\n{text}")
    });
    files.collect()
}

fn csv_folder(folder: &Path, text: &str) {
    fs::create_dir_all(folder).unwrap();
    for file in text.split("== ").skip(1) {
        let (name, rows) = file.split_once('\n').unwrap();
        fs::write(folder.join(name), rows).unwrap();
    }
}

/// The file as it is kept; with `FIFTHPEG_WRITE_PAGES=1` written anew first.
fn golden(name: &str, made: &str) {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/golden")
        .join(name);
    if std::env::var_os("FIFTHPEG_WRITE_PAGES").is_some() {
        fs::write(&path, made).unwrap();
    }
    assert!(fs::read_to_string(&path).unwrap() == made, "{name} differs");
}

#[test]
fn stored_books_give_out_what_they_always_gave_and_take_it_in_again() {
    let folder = Folder::new("exported");
    for number in 1..=OLD.len() {
        let path = brought_up(&folder, number);
        let whole = json(&path);
        golden(&format!("exported-{number}.json"), &whole);
        let csv = folder.file(&format!("csv-{number}"));
        Reader::open(&path).unwrap().export_csv(&csv).unwrap();
        golden(&format!("exported-{number}.csv.txt"), &csv_text(&csv));
        let fresh = |name: &str| folder.file(&format!("{name}-{number}.book"));
        let (from_json, from_csv, merged) = (fresh("json"), fresh("csv"), fresh("merged"));
        let exported = path.with_extension("export.json");
        Book::open(&from_json)
            .unwrap()
            .import_json(&exported)
            .unwrap();
        Book::open(&from_csv).unwrap().import_csv(&csv).unwrap();
        Book::open(&merged).unwrap().merge_book(&path).unwrap();
        for other in [from_json, from_csv, merged] {
            assert!(json(&other) == whole, "{}", other.display());
            assert_eq!(Reader::open(&other).unwrap().faults().unwrap(), [""; 0]);
        }
    }
}

/// What a program of version 4 wrote out of its book comes in as that book does.
#[test]
fn what_older_programs_gave_out_comes_in_as_their_books_do() {
    let folder = Folder::new("exported-before");
    let whole = json(&brought_up(&folder, 4));
    let file = folder.file("older.json");
    fs::write(&file, include_str!("old/exported-4.json")).unwrap();
    let csv = folder.file("older-csv");
    csv_folder(&csv, include_str!("old/exported-4.csv.txt"));
    let (from_json, from_csv) = (folder.file("json.book"), folder.file("csv.book"));
    Book::open(&from_json).unwrap().import_json(&file).unwrap();
    Book::open(&from_csv).unwrap().import_csv(&csv).unwrap();
    for other in [from_json, from_csv] {
        assert!(json(&other) == whole, "{}", other.display());
    }
}
