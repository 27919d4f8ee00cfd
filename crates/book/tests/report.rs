//! Reports of small books: their figures, and the forms they come in.

mod common;

use std::path::Path;

use fifthpeg_book::{Book, BookError, Note, Reader};
use fifthpeg_lesson::HostOrder;
use fifthpeg_report::ask::{Ask, AskError};
use fifthpeg_report::dates::Date;
use fifthpeg_report::figures::{Figures, Share};
use fifthpeg_report::overview::Overview;
use fifthpeg_report::words::ReportStyle;
use fifthpeg_report::{page, tables, text};

use common::{CLASS, EVENING_MS, Folder, Hall, held, setup};

const WEEK_MS: i64 = 7 * 86_400_000;
/// Signs that HTML, CSV and SVG give a meaning to.
const SIGNS: &str = "<b>\"O'N\" & =1";

fn utc(_: i64) -> i32 {
    0
}

fn ask(student: Option<&str>, lesson: Option<&str>) -> Ask {
    Ask {
        class: None,
        student: student.map(str::to_owned),
        lesson: lesson.map(str::to_owned),
    }
}

fn report(path: &Path, asked: &Ask) -> Overview {
    let book = Reader::open(path).expect("a book");
    let subject = asked.find(&book, &utc).expect("it is there");
    Overview::read(&book, subject, &utc).expect("read")
}

fn html(report: &Overview) -> String {
    page::page(report, &ReportStyle::default(), Date::at(EVENING_MS, &utc))
}

/// Two lessons of three students, and the teacher's note on one of them.
fn book(path: &Path) {
    held(path, 1, EVENING_MS, &["Mia", "Ruth", SIGNS]);
    held(path, 2, EVENING_MS + WEEK_MS, &["Mia", "Ruth"]);
    let mut book = Book::open(path).expect("a book");
    let mut note = Note::new(CLASS, "Mia: see Ruth's capo", EVENING_MS).expect("a note");
    note.person = Some(book.reader().unwrap().person(CLASS, "Mia").unwrap().id);
    book.write_note(&note).expect("written");
}

/// The hall's students answer by a rule: call n of student s is missed at first,
/// a semitone low, if n + s is a multiple of three, and found after that.
#[test]
fn figures_are_those_of_what_was_done() {
    let folder = Folder::new("report-figures");
    book(&folder.book());
    let mia = report(&folder.book(), &ask(Some("mia"), None));
    // Student 1 in both lessons: of calls 0 to 3, call 2 alone is missed at first.
    assert_eq!(mia.all.first(), Share { count: 6, of: 8 });
    assert_eq!(mia.all.any(), Share { count: 8, of: 8 });
    assert_eq!(mia.all.misses.by_semitones, [(-1, 2)].into());
    assert_eq!(mia.all.misses.total(), 2);
    // One hearing is free; one more is asked for with every answer after it.
    assert_eq!(mia.all.tries, 10);
    assert_eq!((mia.all.played, mia.all.unanswered), (8, 0));
    // Response times: 3, 3.1, 3.2 and 3.3 s in each lesson, and 321 µs.
    assert_eq!(mia.all.times.each.len(), 8);
    let median = mia.all.times.median().expect("times");
    assert!((median - 3.150_321).abs() < 1e-9, "{median}");
    // Ranks 1 and 8 of 8 (2/256 outside), wider by 4.567 ms.
    let (low, high) = mia.all.times.within().expect("bounds");
    assert!((low - (3.000_321 - 0.004_567)).abs() < 1e-9, "{low}");
    assert!((high - (3.300_321 + 0.004_567)).abs() < 1e-9, "{high}");
    assert_eq!((mia.lessons.len(), mia.periods.len()), (2, 2));
    assert_eq!(mia.lessons[0].reaches, ["one octave in low position"]);
    let notes: u32 = mia.necks[0].notes.values().map(|f| f.calls).sum();
    assert_eq!((mia.necks.len(), notes), (1, 8));
    for (pitch, places) in &mia.necks[0].places {
        assert!(!places.is_empty());
        for place in places {
            assert_eq!(mia.necks[0].neck.pitch_at(*place), Some(*pitch));
        }
    }

    let class = report(&folder.book(), &ask(None, None));
    assert_eq!(class.all.calls, 8 + 8 + 4);
    let names: Vec<&str> = class.people.iter().map(|p| p.name.as_str()).collect();
    assert_eq!(names, [SIGNS, "Mia", "Ruth"]);
    assert_eq!(class.people[1].figures, mia.all);
    assert!(class.outlook.is_some() && mia.outlook.is_some_and(|o| o.glances.is_empty()));

    let lesson = report(&folder.book(), &ask(None, Some("2026-10-13")));
    assert_eq!(lesson.all.calls, 12);
    let last = report(&folder.book(), &ask(Some("Ruth"), Some("last")));
    assert_eq!((last.all.calls, last.lessons.len()), (4, 1));
}

#[test]
fn an_open_call_does_not_count() {
    let folder = Folder::new("report-open");
    let mut hall = Hall::begin(&folder.book(), setup(1), EVENING_MS);
    hall.join("Mia");
    hall.join("Ruth");
    hall.order(HostOrder::CallRandom);
    let mia = hall.lesson.connected()[0];
    hall.answer(mia, true, 2_000);
    hall.finish();
    let class = report(&folder.book(), &ask(None, None));
    // Found by one, and still open for the other.
    assert_eq!(class.all.first(), Share { count: 1, of: 1 });
    assert_eq!(class.people.len(), 1);
}

/// Checks that a page is well formed and asks for nothing but itself.
fn check_page(page: &str) {
    let rest = page.strip_prefix("<!DOCTYPE html>\n").expect("its kind");
    let tree = roxmltree::Document::parse(rest).expect("well formed");
    let mut ids = std::collections::BTreeSet::new();
    let mut pictures = 0;
    for node in tree.descendants().filter(roxmltree::Node::is_element) {
        let name = node.tag_name().name();
        let loads = [
            "script", "link", "img", "iframe", "object", "embed", "base", "use", "image",
        ];
        assert!(!loads.contains(&name), "<{name}>");
        for attribute in node.attributes() {
            let loading = ["src", "href", "srcset", "action", "style", "data"];
            let on = attribute.name();
            assert!(!loading.contains(&on) && !on.starts_with("on"), "{on}");
            if on == "id" {
                assert!(
                    ids.insert(attribute.value().to_owned()),
                    "twice: {attribute:?}"
                );
            }
            if let Some(inner) = attribute.value().strip_prefix("url(") {
                assert!(inner.starts_with('#'), "{attribute:?}");
            }
        }
        if name == "svg" {
            pictures += 1;
            assert_eq!(node.attribute("role"), Some("img"));
            let words = node.attribute("aria-label").expect("words");
            assert!(words.len() > 20, "{words}");
        }
        if name == "table" {
            assert!(node.children().any(|n| n.has_tag_name("caption")));
        }
    }
    // Namespaces are names and not addresses.
    let without = page.replace("http://www.w3.org/2000/svg", "");
    for outward in ["http:", "https:", "//", "@import", "url(h"] {
        assert!(!without.contains(outward), "{outward}");
    }
    assert!(pictures == 0 || pictures >= 3, "{pictures} pictures");
}

#[test]
fn pages_are_well_formed_and_stand_alone() {
    let folder = Folder::new("report-page");
    book(&folder.book());
    for asked in [
        ask(Some("Mia"), None),
        ask(Some(SIGNS), None),
        ask(None, Some("last")),
        ask(None, None),
    ] {
        check_page(&html(&report(&folder.book(), &asked)));
    }
    let signs = html(&report(&folder.book(), &ask(Some(SIGNS), None)));
    assert!(signs.contains("<h1>&lt;b&gt;&quot;O&#39;N&quot; &amp; =1: finding"));
    assert!(!signs.contains("<b>"));
}

#[test]
fn a_report_about_one_names_no_other_and_no_note() {
    let folder = Folder::new("report-names");
    book(&folder.book());
    let mia = report(&folder.book(), &ask(Some("Mia"), None));
    let manner = ReportStyle::default();
    let forms = [
        html(&mia),
        text::text(&mia, &manner).join("\n"),
        tables::csv(&mia, &manner).unwrap(),
        tables::json(&mia, &manner).to_string(),
    ];
    for form in forms {
        assert!(form.contains("Mia"));
        for other in ["Ruth", "O&#39;N", "O'N", "capo"] {
            assert!(!form.contains(other), "{other} in {form}");
        }
    }
    let mut class = report(&folder.book(), &ask(None, None));
    assert!(html(&class).contains("Ruth"));
    class.without_names();
    let page = html(&class);
    assert!(page.contains("Student 1") && !page.contains("Ruth") && !page.contains("Mia"));
}

/// The numbers of a row by its column.
fn cell(row: &csv::StringRecord, column: &str) -> Option<f64> {
    let place = tables::COLUMNS
        .iter()
        .position(|c| *c == column)
        .expect("a column");
    let text = row.get(place).expect("a cell");
    (!text.is_empty()).then(|| text.parse().expect("a number"))
}

#[test]
fn tables_say_what_the_figures_are() {
    let folder = Folder::new("report-tables");
    book(&folder.book());
    let class = report(&folder.book(), &ask(None, None));
    let manner = ReportStyle::default();
    let csv = tables::csv(&class, &manner).unwrap();
    let mut read = csv::Reader::from_reader(csv.as_bytes());
    let rows: Vec<csv::StringRecord> = read.records().map(Result::unwrap).collect();
    let check = |row: &csv::StringRecord, figures: &Figures| {
        assert_eq!(cell(row, "calls"), Some(f64::from(figures.calls)));
        assert_eq!(
            cell(row, "found_first"),
            Some(f64::from(figures.found_first))
        );
        for (column, value, exact) in [
            ("found_first_share", figures.first().value(), 5e-5),
            ("found_low", figures.any().within().map(|w| w.0), 5e-5),
            ("median_s", figures.times.median(), 5e-4),
            ("median_high_s", figures.times.within().map(|w| w.1), 5e-4),
        ] {
            match (cell(row, column), value) {
                (Some(written), Some(value)) => {
                    assert!(
                        (written - value).abs() <= exact,
                        "{column}: {written} {value}"
                    );
                }
                (written, value) => assert_eq!(written, value, "{column}"),
            }
        }
    };
    assert_eq!(&rows[0][0], "all");
    check(&rows[0], &class.all);
    let people: Vec<_> = rows.iter().filter(|r| &r[0] == "student").collect();
    assert_eq!(people.len(), 3);
    for (row, person) in people.iter().zip(&class.people) {
        assert_eq!(&row[1], person.name);
        check(row, &person.figures);
    }
    let miss: Vec<_> = rows.iter().filter(|r| &r[0] == "miss").collect();
    assert_eq!((miss.len(), &miss[0][1]), (1, "1 semitone low"));

    let json = tables::json(&class, &manner).to_string();
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["all"]["calls"], class.all.calls);
    assert_eq!(json["students"][1]["name"], "Mia");
    let times = json["students"][1]["figures"]["times"].as_array().unwrap();
    assert_eq!(times.len(), class.people[1].figures.times.each.len());
    assert_eq!(times[0]["s"], 3.0);
    assert_eq!(json["students"][1]["figures"]["misses"][0]["semitones"], -1);
}

/// A name that a spreadsheet would take for a formula.
#[test]
fn no_cell_is_a_formula() {
    let folder = Folder::new("report-formula");
    held(&folder.book(), 1, EVENING_MS, &["=SUM(A1)"]);
    let class = report(&folder.book(), &ask(None, None));
    let csv = tables::csv(&class, &ReportStyle::default()).unwrap();
    assert!(csv.contains("student,'=SUM(A1),"), "{csv}");
}

#[test]
fn the_text_reads_like_this() {
    let folder = Folder::new("report-text");
    book(&folder.book());
    let mia = report(&folder.book(), &ask(Some("Mia"), Some("2026-10-13 18:00")));
    let manner = ReportStyle {
        ascii: true,
        ..ReportStyle::default()
    };
    let text = text::text(&mia, &manner).join("\n");
    let golden = include_str!("golden/report.txt");
    assert_eq!(text, golden.trim_end(), "\n{text}");
}

#[test]
fn what_is_not_there_is_said_with_what_is() {
    let folder = Folder::new("report-asked");
    Book::open(&folder.book()).unwrap();
    let find = |path: &Path, asked: &Ask| {
        let book = Reader::open(path).unwrap();
        asked.find(&book, &utc).unwrap_err()
    };
    let empty = find(&folder.book(), &ask(None, None));
    assert!(matches!(empty, AskError::Empty), "{empty}");
    book(&folder.book());
    let sentence = |asked: &Ask| find(&folder.book(), asked).to_string();
    assert_eq!(
        sentence(&ask(Some("Bob"), None)),
        format!("nobody in Tuesday is called \"Bob\": it has {SIGNS}, Mia, Ruth")
    );
    assert_eq!(
        sentence(&ask(None, Some("2026-10-14"))),
        "Tuesday has no lesson \"2026-10-14\": it has 2026-10-20 18:00, 2026-10-13 18:00"
    );
    let other = Ask {
        class: Some("Friday\u{1b}[2J".to_owned()),
        ..Ask::default()
    };
    assert_eq!(
        sentence(&other),
        "the lesson book holds no class \"Friday?[2J\": it has Tuesday"
    );
}

#[test]
fn a_student_of_one_class_alone_says_which_class_is_meant() {
    let folder = Folder::new("report-classes");
    book(&folder.book());
    let mut friday = Hall::begin_in("Friday", &folder.book(), setup(3), EVENING_MS);
    friday.join("Ruth");
    friday.join("Noor");
    friday.finish();
    let book = Reader::open(&folder.book()).unwrap();
    let class = |student| ask(student, None).find(&book, &utc).map(|s| s.class);
    assert_eq!(class(Some("Mia")).unwrap(), CLASS);
    assert_eq!(class(Some("Noor")).unwrap(), "Friday");
    for unclear in [Some("Ruth"), Some("Bob"), None] {
        let why = class(unclear).unwrap_err();
        assert!(matches!(why, AskError::WhichClass { .. }), "{why}");
    }
}

#[test]
fn a_class_without_calls_makes_a_page_all_the_same() {
    let folder = Folder::new("report-none");
    let hall = Hall::begin(&folder.book(), setup(1), EVENING_MS);
    hall.finish();
    let class = report(&folder.book(), &ask(None, None));
    let page = html(&class);
    check_page(&page);
    assert!(page.contains("There is no finished call to report on yet."));
}

/// What is wrong with a damaged book is said as the book says it.
#[test]
fn a_damaged_book_is_said_to_be_damaged() {
    let folder = Folder::new("report-damaged");
    book(&folder.book());
    let mut bytes = std::fs::read(folder.book()).unwrap();
    let half = bytes.len() / 4;
    bytes[half..].fill(0xA5);
    std::fs::write(folder.book(), bytes).unwrap();
    let read = || -> Result<Overview, AskError> {
        let book = Reader::open(&folder.book())?;
        let subject = ask(None, None).find(&book, &utc)?;
        Ok(Overview::read(&book, subject, &utc)?)
    };
    match read() {
        Err(AskError::Book(BookError::Damaged { .. })) => {}
        other => panic!("{other:?}"),
    }
}
