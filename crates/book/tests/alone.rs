//! Practice alone is known from lessons of the class: in new books, in older ones,
//! in exports, and in what is made of them.

mod common;

use std::fs;

use fifthpeg_book::{Book, Reader, TakenAs};
use fifthpeg_lesson::message::Rules;
use fifthpeg_lesson::{HostOrder, LessonSetup};
use fifthpeg_report::ask::Ask;
use fifthpeg_report::overview::Overview;
use fifthpeg_report::words::{self, ReportStyle};
use fifthpeg_report::{tables, text};

use common::{CLASS, EVENING_MS, Folder, Hall, held, json, setup};

const DAY_MS: i64 = 86_400_000;

fn utc(_: i64) -> i32 {
    0
}

/// Mia practises alone; with `more` notes in reach than in the lessons.
fn practises(path: &std::path::Path, class: &str, name: &str, unix_ms: i64) {
    let mut setup = LessonSetup {
        alone: true,
        max_students: 1,
        ..setup(9)
    };
    setup.rules = Rules {
        lesson: format!("{name}, solo"),
        reach: "open".parse().expect("a reach"),
        ..setup.rules
    };
    let mut hall = Hall::begin_in(class, path, setup, unix_ms);
    hall.join(name);
    hall.calls(4);
    hall.order(HostOrder::End);
    hall.finish();
}

fn alone(path: &std::path::Path, class: &str) -> Vec<bool> {
    let lessons = Reader::open(path).unwrap().lessons(class).unwrap();
    lessons.iter().map(|lesson| lesson.alone).collect()
}

#[test]
fn a_class_s_report_is_about_its_lessons_and_a_student_s_tells_practice_apart() {
    let folder = Folder::new("alone-report");
    let path = folder.book();
    for (week, seed) in [(0, 1), (7, 2)] {
        held(&path, seed, EVENING_MS + week * DAY_MS, &["Mia", "Ruth"]);
    }
    let without = overview(&path, None, None);
    practises(&path, CLASS, "Mia", EVENING_MS + 8 * DAY_MS);
    assert_eq!(alone(&path, CLASS), [false, false, true]);

    let class = overview(&path, None, None);
    assert_eq!(class.left_out, (1, 4));
    assert_eq!(
        (&class.all, &class.periods, &class.people, &class.necks),
        (
            &without.all,
            &without.periods,
            &without.people,
            &without.necks
        )
    );
    let said = words::summary(&class).join(" ");
    assert!(
        said.contains("has 1 session of practice alone (4 calls), not counted here"),
        "{said}"
    );

    // The last lesson is the class's.
    let last = overview(&path, None, Some("last"));
    assert_eq!(last.subject.lesson, Some(class.lessons[1].id));

    let mia = overview(&path, Some("Mia"), None);
    let (held, practice): (Vec<_>, Vec<_>) = mia.lessons.iter().partition(|l| l.alone);
    assert_eq!((held.len(), practice.len()), (1, 2));
    assert_eq!((mia.periods.len(), mia.practice.len()), (2, 1));
    assert!(mia.all.calls > mia.periods.iter().map(|p| p.figures.calls).sum());
    let lines = text::text(&mia, &ReportStyle::default()).join("\n");
    assert!(
        lines.contains("In 2 lessons and 1 session of practice alone Mia was asked"),
        "{lines}"
    );
    assert!(
        lines.contains("\nPractice alone (with 95% ranges)\n"),
        "{lines}"
    );
    assert!(lines.contains("21 Oct, alone"), "{lines}");
    assert!(lines.contains("\nWhat next\n"), "{lines}");
    let csv = tables::csv(&mia, &ReportStyle::default()).unwrap();
    assert_eq!(
        csv.lines().filter(|l| l.starts_with("practice,")).count(),
        1
    );
    assert_eq!(csv.lines().filter(|l| l.starts_with("lesson,")).count(), 2);

    // It teaches the picking, and homework is still about the class's reach.
    let reader = Reader::open(&path).unwrap();
    let mia = reader.person(CLASS, "Mia").unwrap();
    let standing = reader.standing(mia.id).unwrap();
    assert_eq!(standing.lessons, 3);
    assert_eq!(standing.last.unwrap().reach, setup(1).rules.reach);
}

fn overview(path: &std::path::Path, student: Option<&str>, lesson: Option<&str>) -> Overview {
    let ask = Ask {
        student: student.map(str::to_owned),
        lesson: lesson.map(str::to_owned),
        ..Ask::default()
    };
    let book = Reader::open(path).unwrap();
    let subject = ask.find(&book, &utc).unwrap();
    Overview::read(&book, subject, &utc).unwrap()
}

/// Who has nothing else is told of that.
#[test]
fn a_class_of_practice_alone_is_reported_on() {
    let folder = Folder::new("alone-only");
    practises(&folder.book(), "Solo", "Ben", EVENING_MS);
    practises(&folder.book(), "Solo", "Ben", EVENING_MS + DAY_MS);
    let report = overview(&folder.book(), None, Some("last"));
    assert_eq!(report.all.calls, 4);
    let report = overview(&folder.book(), None, None);
    assert_eq!((report.all.calls, report.left_out), (8, (0, 0)));
    assert_eq!((report.periods.len(), report.practice.len()), (2, 0));
}

/// Books and exports from before it was kept tell it by what they have: one place,
/// and the name that such lessons had.
#[test]
fn older_books_and_exports_tell_it_from_what_they_have() {
    let folder = Folder::new("alone-older");
    let sql = include_str!("old/version-4.sql");
    let path = folder.book();
    let connection = rusqlite::Connection::open(&path).unwrap();
    connection.execute_batch(sql).unwrap();
    let one_seat = "SELECT key FROM lesson WHERE
        (SELECT count(*) FROM seat WHERE seat.lesson = lesson.key) <= 1 LIMIT 1";
    let changed = connection.execute(
        &format!("UPDATE lesson SET name = 'Mia, solo' WHERE key = ({one_seat})"),
        [],
    );
    assert_eq!(changed.unwrap(), 1);
    drop(connection);
    let book = Book::open(&path).unwrap();
    let reader = book.reader().unwrap();
    let all = |reader: &Reader| -> Vec<(String, bool)> {
        let classes = reader.classes().unwrap().into_iter();
        let lessons = classes.flat_map(|class| reader.lessons(&class.name).unwrap());
        lessons.map(|lesson| (lesson.name, lesson.alone)).collect()
    };
    let told = all(&reader);
    for (name, alone) in &told {
        assert_eq!(*alone, name == "Mia, solo", "{told:?}");
    }
    assert!(told.iter().any(|(_, alone)| *alone), "{told:?}");

    // The same lessons as version 4 exported them.
    let whole = json(&path).replace("\"version\": 5", "\"version\": 4");
    let stripped: String = whole
        .replace(",\"held\":\"alone\"", "")
        .replace(",\"held\":\"class\"", "")
        .replace("\"held\":\"alone\",", "")
        .replace("\"held\":\"class\",", "");
    assert!(!stripped.contains("\"held\""));
    let export = folder.file("older.json");
    fs::write(&export, stripped).unwrap();
    let fresh = folder.file("fresh.book");
    Book::open(&fresh).unwrap().import_json(&export).unwrap();
    assert_eq!(all(&Reader::open(&fresh).unwrap()), told);
    assert!(json(&fresh) == json(&path));
}

/// What was practised at home comes to the teacher's book as that student's, once.
#[test]
fn practice_at_home_comes_in_under_the_class_and_the_name_it_has_here() {
    let folder = Folder::new("alone-home");
    let (home, here) = (folder.file("home.book"), folder.book());
    held(&here, 1, EVENING_MS, &["Mia", "Ruth"]);
    practises(&home, "Solo", "Me", EVENING_MS + DAY_MS);
    json(&home);
    let export = home.with_extension("export.json");
    let names = TakenAs {
        class: Some("tuesday".to_owned()),
        person: Some("Mia".to_owned()),
    };
    let take = || {
        let mut book = Book::open(&here).unwrap();
        book.take_as(names.clone());
        book.import_json(&export).unwrap()
    };
    let taken = take();
    assert_eq!((taken.lessons, taken.people), (1, 0));
    assert_eq!(take().rows, 0);
    assert_eq!(alone(&here, CLASS), [false, true]);
    let reader = Reader::open(&here).unwrap();
    assert_eq!(reader.classes().unwrap().len(), 1);
    let mia = reader.person(CLASS, "Mia").unwrap();
    assert_eq!(reader.standing(mia.id).unwrap().lessons, 2);

    // Later practice comes too.
    practises(&home, "Solo", "Me", EVENING_MS + 2 * DAY_MS);
    json(&home);
    assert_eq!(take().lessons, 1);
    // Under another class now, or as one of several people, it is refused whole.
    let refused = |names: TakenAs| {
        let mut book = Book::open(&here).unwrap();
        book.take_as(names);
        book.import_json(&export).unwrap_err().to_string()
    };
    let elsewhere = TakenAs {
        class: Some("Choir".to_owned()),
        person: None,
    };
    let said = refused(elsewhere);
    assert!(
        said.contains("Mia was taken in before, into the class Tuesday"),
        "{said}"
    );
    practises(&home, "Solo", "Ben", EVENING_MS + 3 * DAY_MS);
    json(&home);
    let said = refused(names.clone());
    assert!(said.contains("it holds several people"), "{said}");
    assert_eq!(Reader::open(&here).unwrap().classes().unwrap().len(), 1);
}
