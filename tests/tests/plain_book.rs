//! `fifthpeg book` from end to end: lessons held with the real program, then
//! looked after as a teacher would, with the files read byte by byte.

use std::path::{Path, PathBuf};
use std::process::Command;

use fifthpeg_tests::{Outcome, Process, host, join, program, python_with, run, skip, temporary};

const CLASS: &str = "Village hall";

fn text(path: &Path) -> String {
    path.to_str().expect("a plain path").to_owned()
}

/// `fifthpeg book ... --book BOOK`.
fn book(path: &Path, arguments: &[&str]) -> Outcome {
    let path = text(path);
    let (command, rest) = arguments.split_first().expect("a command");
    run(&[&["book", command, "--book", &path], rest].concat())
}

/// The same, where it is to succeed; what it says.
fn done(path: &Path, arguments: &[&str]) -> String {
    let outcome = book(path, arguments);
    assert_eq!(outcome.code, Some(0), "{arguments:?}: {outcome:?}");
    outcome.output
}

/// The same, where it is to be refused, with this exit code; the sentence.
fn refused(path: &Path, arguments: &[&str], code: i32) -> String {
    let outcome = book(path, arguments);
    assert_eq!(outcome.code, Some(code), "{arguments:?}: {outcome:?}");
    let lines: Vec<&str> = outcome.errors.lines().collect();
    assert_eq!(lines.len(), 1, "one sentence: {outcome:?}");
    outcome.errors
}

/// Starts a lesson in which each student answers one call, one after the other.
fn lesson(path: &Path, class: &str, names: &[&str]) -> (Process, Vec<Process>) {
    let path = text(path);
    let options = [
        "--book", &path, "--class", class, "--name", "Evening", "--reach", "twelve",
    ];
    let (mut host, address) = host(&options);
    let mut students: Vec<Process> = names.iter().map(|name| join(name, &address, &[])).collect();
    host.type_line(&format!("wait students {}", names.len()));
    host.wait_for("waited students");
    host.type_line("call 2/1");
    for student in &mut students {
        student.wait_for("call 1");
        student.type_line("try 2/3");
        student.wait_for("tried 2/3");
        student.type_line("answer 2/1");
        assert_eq!(student.wait_for("mark "), "mark 2/1 right");
    }
    (host, students)
}

/// Holds a lesson to its end.
fn held(path: &Path, class: &str, names: &[&str]) {
    let (mut host, mut students) = lesson(path, class, names);
    host.type_line("end");
    assert_eq!(host.finish().0, Some(0));
    for student in &mut students {
        student.finish();
    }
}

/// How often this stands in any file of a folder, in capitals or not.
fn stands(folder: &Path, needle: &str) -> usize {
    let needle = needle.to_lowercase().into_bytes();
    let entries = std::fs::read_dir(folder).expect("a folder");
    let files = entries.map(|entry| entry.expect("an entry").path());
    files
        .filter(|path| path.is_file())
        .map(|path| {
            let bytes = std::fs::read(path).expect("a file").to_ascii_lowercase();
            bytes.windows(needle.len()).filter(|w| *w == needle).count()
        })
        .sum()
}

fn new_book(test: &str) -> (PathBuf, PathBuf) {
    let folder = temporary(test);
    let path = folder.join("lessons.book");
    (folder, path)
}

#[test]
fn entries_that_may_be_one_person_are_offered() {
    let (folder, path) = new_book("book-alike");
    // A small l for a capital I is seen in the book as it is on the roster, and
    // names that merely begin alike are no entry twice.
    held(&path, CLASS, &["Ivo", "Mia", "Mia Sol"]);
    held(&path, CLASS, &["lvo"]);
    let listed = done(&path, &["people"]);
    let alike: Vec<&str> = listed
        .lines()
        .filter(|l| l.starts_with("alike: "))
        .collect();
    assert!(
        matches!(alike[..], [one] if one.contains("Ivo and lvo")),
        "{listed}"
    );
    std::fs::remove_dir_all(folder).expect("gone");
}

#[test]
fn somebody_removed_is_in_no_byte_of_the_files() {
    let (folder, path) = new_book("book-remove");
    held(&path, CLASS, &["Wilhelmine", "Ruth"]);
    held(&path, CLASS, &["Wilhelmina", "Ruth"]);
    let listed = done(&path, &["people"]);
    assert_eq!(listed.matches(CLASS).count(), 4, "{listed}");
    assert!(
        listed.contains("alike: Wilhelmina and Wilhelmine"),
        "{listed}"
    );
    // One person, two entries; then under another name, and with notes.
    let merged = done(&path, &["merge", "wilhelmine", "Wilhelmina", "--yes"]);
    assert!(merged.contains("2 lessons"), "{merged}");
    done(&path, &["rename", "Wilhelmine", "Ottilie"]);
    let note = done(
        &path,
        &["note", "OTTILIE sits with Ruth", "--student", "Ruth"],
    );
    assert!(note.starts_with("written down as "), "{note}");
    done(&path, &["note", "hears fourths", "--student", "Ottilie"]);
    done(&path, &["copy", &text(&folder.join("kept.book"))]);
    // As a newer program leaves it before it brings a book up to date.
    let old = folder.join("lessons.v1-backup");
    std::fs::rename(folder.join("kept.book"), &old).expect("renamed");
    assert!(stands(&folder, "Ottilie") > 0);

    // Nobody to answer, and somebody who says no.
    let silent = refused(&path, &["remove", "Ottilie"], 2);
    assert!(silent.contains("--yes"), "{silent}");
    let mut asked = Process::start(
        "remove",
        Command::new(program()).args(["book", "remove", "Ottilie", "--book", &text(&path)]),
    );
    asked.type_line("y");
    let (code, lines, _) = asked.finish();
    assert_eq!(code, Some(0));
    assert!(lines.concat().contains("nothing was changed"), "{lines:?}");
    assert!(done(&path, &["people"]).contains("Ottilie"));

    let removed = done(&path, &["remove", "ottilie", "--yes"]);
    for said in [
        "to be removed: Ottilie of Village hall, with the person's part in 2 lessons, 2 calls, \
         2 answers, 2 tries, 0 hearings, 0 sung notes, 1 note of yours",
        "taken out of 1 note",
        "lessons.v1-backup still holds the name",
        "not reached: reports, exports",
    ] {
        assert!(removed.contains(said), "{said}: {removed}");
    }
    assert!(stands(&folder, "Ottilie") > 0, "in the older copy alone");
    let deleted = done(&path, &["remove", "Ruth", "--yes", "--delete-copies"]);
    assert!(deleted.contains("deleted ") && !old.exists(), "{deleted}");
    for name in ["Ottilie", "Wilhelmin", "Ruth", "fourths"] {
        assert_eq!(stands(&folder, name), 0, "{name}");
    }
    assert_eq!(done(&path, &["people"]), "nobody is in the lesson book");
    let lessons = done(&path, &["lessons"]);
    assert_eq!(lessons.matches("Evening").count(), 2, "{lessons}");
    assert!(done(&path, &["check"]).starts_with("sound: "));
    std::fs::remove_dir_all(folder).expect("gone");
}

#[test]
fn what_goes_out_comes_in_the_same_and_once() {
    let (folder, path) = new_book("book-out");
    held(&path, CLASS, &["Mia", "=SUM(A1)"]);
    done(&path, &["note", "a line, \"quoted\"", "--lesson", "last"]);
    let at = |name: &str| folder.join(name);
    let json = at("out.json");
    done(&path, &["export", "--as", "json", "--to", &text(&json)]);
    done(&path, &["export", "--as", "csv", "--to", &text(&at("out"))]);
    for (from, into) in [("out.json", "from-json.book"), ("out", "from-csv.book")] {
        let (from, into) = (text(&at(from)), at(into));
        let tried = done(&into, &["import", &from, "--only-tell"]);
        assert!(tried.contains("would take 1 new lesson and 2 new people"));
        assert!(!into.exists(), "nothing was made");
        let took = done(&into, &["import", &from]);
        assert!(
            took.contains("took 1 new lesson and 2 new people"),
            "{took}"
        );
        let again = at("again.json");
        let to = text(&again);
        done(&into, &["export", "--as", "json", "--to", &to, "--replace"]);
        let (one, other) = (std::fs::read(&json), std::fs::read(&again));
        assert_eq!(one.expect("there"), other.expect("there"));
        let twice = done(&into, &["import", &from]);
        assert!(twice.starts_with("nothing in "), "{twice}");
    }

    // What is wrong goes in not at all, and what is there is not written over.
    let whole = std::fs::read_to_string(&json).expect("there");
    let broken = at("broken.json");
    let middle = whole.len() / 2;
    std::fs::write(&broken, &whole[..middle]).expect("written");
    let said = refused(&at("new.book"), &["import", &text(&broken)], 1);
    assert!(said.contains("nothing of it was taken in"), "{said}");
    assert!(!at("new.book").exists());
    let before = std::fs::read(&path).expect("there");
    refused(&path, &["import", &text(&broken)], 1);
    let other = text(&at("from-csv.book"));
    for (wrong, hint) in [
        (
            vec!["export", "--as", "json", "--to", &text(&json)],
            "--replace",
        ),
        (
            vec!["export", "--as", "json", "--to", &other, "--replace"],
            "is no export",
        ),
        (vec!["copy", &text(&path), "--replace"], "the book itself"),
        (vec!["copy", &text(&json), "--replace"], "is no lesson book"),
        (vec!["import", &other], "take-in"),
        (vec!["take-in", &text(&json)], "book import"),
        (vec!["take-in", &text(&path)], "the book itself"),
        (vec!["take-in", "/nowhere/other.book"], "there is no"),
        (vec!["rename", "Mio", "Ole"], "it has Mia"),
        (vec!["rename", "Mia", "=sum(a1)"], "already"),
        (vec!["merge", "Mia", "mia", "--yes"], "one entry already"),
        (vec!["remove", "number:12", "--yes"], "too short"),
        (vec!["people", "--class", "Choir"], "it has Village hall"),
        (
            vec!["close", "--lesson", "last", "--yes"],
            "has ended already",
        ),
        (vec!["notes", "--delete", "zzzz"], "book notes"),
        (vec!["note", " "], "1 to 4000"),
    ] {
        let said = refused(&path, &wrong, 2);
        assert!(said.contains(hint), "{wrong:?}: {said}");
    }
    assert_eq!(std::fs::read(&path).expect("there"), before);
    std::fs::remove_dir_all(folder).expect("gone");
}

/// The sheets read by Python's own json, csv and sqlite3, and compared with
/// each other and with the book's tables.
#[test]
fn exports_read_the_same_elsewhere() {
    let Some(python) = python_with("json, csv, sqlite3") else {
        return skip("no python3 with sqlite3");
    };
    let (folder, path) = new_book("book-elsewhere");
    held(&path, CLASS, &["Mia", "'Ole", "=Ivo"]);
    done(
        &path,
        &["note", "+ one\n\"two\", three", "--student", "Mia"],
    );
    let (json, csv) = (folder.join("out.json"), folder.join("out"));
    done(&path, &["export", "--as", "json", "--to", &text(&json)]);
    done(&path, &["export", "--as", "csv", "--to", &text(&csv)]);
    let script = r#"
import csv, json, pathlib, sqlite3, sys
book, out, folder = sys.argv[1:]
sheets = json.load(open(out, encoding="utf-8"))["sheets"]
c = sqlite3.connect("file:%s?mode=ro" % book, uri=True)
for name, rows in sheets.items():
    assert len(rows) == c.execute('SELECT count(*) FROM "%s"' % name).fetchone()[0], name
    with open(pathlib.Path(folder, name + ".csv"), newline="", encoding="utf-8") as f:
        table = list(csv.DictReader(f, strict=True))
    assert len(table) == len(rows), name
    for row, cells in zip(rows, table):
        assert row.keys() == cells.keys(), name
        for column, value in row.items():
            cell = cells[column]
            if isinstance(value, str):
                guarded = "'" + value if value[:1] in "=+-@\t\r'" and value else value
                assert cell in (value, guarded), (name, column, cell, value)
                assert column not in ("name", "text") or cell == guarded, cell
            elif value is None:
                assert cell == "", (name, column, cell)
            else:
                assert type(value)(cell) == value, (name, column, cell, value)
names = {r["name"] for r in sheets["person"]}
assert names == {r[0] for r in c.execute("SELECT name FROM person")} == {"Mia", "'Ole", "=Ivo"}
assert sheets["note"][0]["text"] == c.execute("SELECT text FROM note").fetchone()[0]
assert len(sheets["answer"]) == 3 and all(r["correct"] == 1 for r in sheets["answer"])
print("read", sum(map(len, sheets.values())))
"#;
    let out = Command::new(python)
        .args(["-c", script, &text(&path), &text(&json), &text(&csv)])
        .output()
        .expect("python runs");
    let said = String::from_utf8_lossy(&out.stderr);
    assert!(out.status.success(), "{said}");
    assert!(out.stdout.starts_with(b"read "));
    std::fs::remove_dir_all(folder).expect("gone");
}

#[test]
fn two_teachers_books_are_made_one() {
    let (folder, path) = new_book("book-two");
    let other = folder.join("other.book");
    held(&path, CLASS, &["Mia", "Ruth"]);
    held(&other, "village HALL", &["mia", "Ivo"]);
    held(&other, "Choir", &["Mia"]);
    let from = text(&other);
    let before = std::fs::read(&other).expect("there");
    let told = done(&path, &["take-in", &from, "--only-tell"]);
    assert!(told.contains("rename one first") && told.contains("nothing was changed"));
    assert!(!done(&path, &["people"]).contains("Ivo"));
    let took = done(&path, &["take-in", &from]);
    assert!(
        took.contains("took 2 new lessons and 2 new people"),
        "{took}"
    );
    assert!(took.contains("is in both"), "{took}");
    let people = done(&path, &["people"]);
    let twice = done(&path, &["take-in", &from]);
    assert!(twice.starts_with("nothing in "), "{twice}");
    assert_eq!(done(&path, &["people"]), people);
    assert_eq!(std::fs::read(&other).expect("there"), before);

    // Mia is in two classes now.
    let which = refused(&path, &["rename", "Mia", "Ada"], 2);
    assert!(
        which.contains("--class") && which.contains("Choir"),
        "{which}"
    );
    let two = refused(&path, &["merge", "Ivo", "number:000000"], 2);
    assert!(two.contains("nobody"), "{two}");
    done(&path, &["remove", "Mia", "--class", "choir", "--yes"]);
    // An older copy does not bring her back.
    assert!(done(&path, &["take-in", &from]).starts_with("nothing in "));
    let listed = done(&path, &["people", "--class", "Choir"]);
    assert_eq!(listed, "nobody is in the lesson book");
    // The other teacher is told.
    let told = done(&other, &["take-in", &text(&path)]);
    assert!(told.contains("Mia of Choir was removed"), "{told}");
    std::fs::remove_dir_all(folder).expect("gone");
}

#[test]
fn while_a_host_holds_a_lesson_the_book_stays_in_order() {
    let (folder, path) = new_book("book-running");
    held(&path, CLASS, &["Ruth"]);
    let (mut host, mut students) = lesson(&path, CLASS, &["Mia", "Ivo"]);
    for arguments in [
        vec!["remove", "Mia", "--yes"],
        vec!["remove", "Ruth", "--yes"],
        vec!["wipe"],
        vec!["import", "."],
    ] {
        let said = refused(&path, &arguments, 1);
        assert!(said.contains("end it there first"), "{said}");
    }
    assert!(done(&path, &["lessons"]).contains("held just now"));
    assert_eq!(done(&path, &["close", "--yes"]), "no lesson was left open");
    // These do not disturb it.
    let copy = folder.join("copy.book");
    done(&path, &["copy", &text(&copy)]);
    assert!(done(&copy, &["check"]).contains("3 people, 2 lessons"));
    assert!(done(&path, &["rename", "Mia", "Ada"]).contains("shows the old name"));
    assert!(done(&path, &["merge", "Ada", "Ruth", "--yes"]).contains("2 lessons"));
    host.type_line("close");
    host.wait_for("closed call 1");
    host.type_line("call 2/3");
    students[0].wait_for("call 2");
    students[0].type_line("answer 2/3");
    assert_eq!(students[0].wait_for("mark "), "mark 2/3 right");

    // A host that does not come back leaves it open.
    host.kill();
    let left = done(&path, &["lessons"]);
    assert!(
        left.contains("left open") && left.contains("book close"),
        "{left}"
    );
    let said = refused(&path, &["remove", "Ada", "--yes"], 1);
    assert!(said.contains("book close"), "{said}");
    refused(&path, &["close"], 2);
    assert!(done(&path, &["close", "--yes"]).contains("closed 1 lesson"));
    let removed = done(&path, &["remove", "Ada", "--yes"]);
    assert!(
        removed.contains("2 lessons, 3 calls, 3 answers"),
        "{removed}"
    );
    drop(students);
    // The copy holds everybody; the book nobody of these names.
    std::fs::remove_file(&copy).expect("gone");
    for name in ["\"Mia\"", "Ada", "Ruth"] {
        assert_eq!(stands(&folder, name), 0, "{name}");
    }
    assert!(done(&path, &["check"]).starts_with("sound: "));

    // A damaged file is told from a sound one, and not touched.
    let mut bytes = std::fs::read(&path).expect("there");
    let end = bytes.len();
    bytes[end / 2..end / 2 + 5000].fill(0x5a);
    let bad = folder.join("bad.book");
    std::fs::write(&bad, &bytes).expect("written");
    let outcome = book(&bad, &["check"]);
    assert_eq!(outcome.code, Some(1), "{outcome:?}");
    assert!(outcome.errors.contains("copy of it"), "{outcome:?}");
    assert_eq!(std::fs::read(&bad).expect("there"), bytes);
    std::fs::remove_dir_all(folder).expect("gone");
}

/// A book of version 1 as it was stored then.
#[test]
fn an_older_book_is_brought_up_to_date_and_says_so() {
    let (folder, path) = new_book("book-old");
    let old = include_str!("../../crates/book/tests/old/version-1.sql");
    let made = rusqlite::Connection::open(&path).expect("a file");
    made.execute_batch(old).expect("a book of version 1");
    drop(made);
    let said = refused(&path, &["check"], 2);
    assert!(said.contains("book lessons"), "{said}");
    let copy = folder.join("lessons.v1-backup");
    assert!(!copy.exists(), "looking changes nothing");
    let outcome = book(&path, &["lessons"]);
    assert!(outcome.output.contains("left open"), "{outcome:?}");
    assert!(outcome.errors.starts_with("note: ") && copy.exists());
    assert!(done(&path, &["check"]).contains("lessons.v1-backup"));
    assert!(done(&path, &["close", "--yes"]).contains("closed 1 lesson"));
    done(&path, &["remove", "Mia", "--yes", "--delete-copies"]);
    assert_eq!(stands(&folder, "Mia"), 0);
    std::fs::remove_dir_all(folder).expect("gone");
}
