//! An export of a whole lesson with hostile values in it: either nothing of it
//! is taken in, or everything that is read of a book can be read of it.

use std::path::{Path, PathBuf};
use std::time::Duration;

use fifthpeg_book::{Batch, Book, Note, Outlives, Reader, Transactions, Whose};
use fifthpeg_core::{Neck, Position};
use fifthpeg_lesson::message::{Answer, AnswerNotice, FromStudent, SeatKey, Source, StudentId};
use fifthpeg_lesson::{GivenInput, HostOrder, Lesson, LessonInput, LessonSetup, Moment};
use fifthpeg_report::ask::Ask;
use fifthpeg_report::overview::Overview;
use fifthpeg_report::text::text;
use fifthpeg_report::words::ReportStyle;
use serde_json::{Value, json};

use crate::assert_may_be_shown;

/// 13 October 2026, 18:00 UTC.
const EVENING_MS: i64 = 1_791_914_400_000;

/// A folder of this process and thread, which goes with the thread, and the
/// export of a lesson.
struct Base {
    folder: PathBuf,
    export: Value,
}

impl Drop for Base {
    fn drop(&mut self) {
        // One that stays is only untidy.
        let _ = std::fs::remove_dir_all(&self.folder);
    }
}

impl Base {
    fn new() -> Self {
        let thread = format!("{:?}", std::thread::current().id());
        let number: String = thread.chars().filter(char::is_ascii_digit).collect();
        let name = format!("fifthpeg-rows-{}-{number}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        let _ = std::fs::remove_dir_all(&folder);
        std::fs::create_dir_all(&folder).expect("a folder");
        let path = folder.join("lessons.book");
        hold_lesson(&path);
        let to = folder.join("base.json");
        let reader = Reader::open(&path).expect("a reader");
        reader.export_json(&to).expect("an export");
        let text = std::fs::read_to_string(&to).expect("an export");
        let export = serde_json::from_str(&text).expect("JSON");
        Self { folder, export }
    }
}

/// A lesson with something in every table.
fn hold_lesson(path: &Path) {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let mut setup = LessonSetup::new("Tuesday", &neck);
    setup.rules.sing_first = true;
    let mut now = Moment::from_micros(3_600_000_000);
    let mut book = Book::open(path).expect("a book");
    let running = book.begin("Tuesday", &setup, now, EVENING_MS);
    let mut transactions = Transactions::new(book, running.expect("begun"), Outlives::Kill);
    let mut lesson = Lesson::new(setup, now).expect("a lesson");
    let mia = StudentId(1);
    let mut inputs = vec![LessonInput::Join {
        name: "Mia".to_owned(),
        key: None,
        new_key: SeatKey(1),
    }];
    for serial in 1..=2 {
        inputs.push(LessonInput::Order(HostOrder::CallRandom));
        let call = fifthpeg_lesson::message::CallId(serial);
        let at = Answer::Place(Position::new(3, 2));
        for message in [
            FromStudent::Hearing { call },
            FromStudent::Hearing { call },
            FromStudent::Try {
                call,
                at,
                source: Source::Screen,
            },
            FromStudent::Sung {
                call,
                frequency_hz: 221.5,
                spread_cents: 9.0,
            },
            FromStudent::Answer(AnswerNotice {
                call,
                serial: 1,
                answer: at,
                source: Source::Screen,
                response: Some(Duration::from_millis(1500)),
                uncertainty: Duration::from_millis(80),
            }),
        ] {
            inputs.push(LessonInput::Message {
                student: mia,
                message,
            });
        }
        inputs.push(LessonInput::Order(HostOrder::Reveal));
        inputs.push(LessonInput::Order(HostOrder::Close));
    }
    inputs.push(LessonInput::Order(HostOrder::End));
    let mut batch = Batch::default();
    for input in inputs {
        now = now + Duration::from_secs(2);
        // What is refused is written down all the same.
        let _ = lesson.apply(input.clone(), now);
        while lesson.poll_message().is_some() {}
        batch.inputs.push(GivenInput { at: now, input });
    }
    batch.events = std::iter::from_fn(|| lesson.poll_event()).collect();
    let note = Note::new("Tuesday", "hears fourths as fifths", EVENING_MS);
    batch.notes.push(note.expect("a random number"));
    transactions.write([batch]).expect("written");
    transactions.close().expect("closed");
}

/// Values that a row may be given. Figures of the bytes' own come besides.
fn hostile(which: u8, own: i64) -> Value {
    match which % 20 {
        0 => json!(-5),
        1 => json!(i64::MIN),
        2 => json!(i64::MAX),
        3 => json!(255),
        4 => json!(4_294_967_296_i64),
        5 => json!(-1e308),
        6 => json!(1e308),
        7 => json!("NaN"),
        8 => json!("inf"),
        9 => json!("\u{1b}[2J\u{202e}"),
        10 => json!(""),
        11 => Value::Null,
        12 => json!("right"),
        13 => json!("{\"lesson\":\"x\"}"),
        14 => json!("ffffffffffffffffffffffffffffffff"),
        15 => json!(0),
        16 => json!(1),
        17 => json!(f64::from_bits(own.unsigned_abs())),
        _ => json!(own),
    }
}

/// Each 12 bytes change one field: which sheet, row and column, and to what.
pub fn changed(bytes: &[u8]) {
    thread_local! {
        static BASE: std::cell::RefCell<Option<Base>> = const { std::cell::RefCell::new(None) };
    }
    BASE.with_borrow_mut(|base| {
        let base = base.get_or_insert_with(Base::new);
        let mut export = base.export.clone();
        for change in bytes.chunks_exact(12) {
            apply(&mut export, change);
        }
        let file = base.folder.join("in.json");
        std::fs::write(&file, export.to_string()).expect("room for a file");
        let path = base.folder.join("taken.book");
        for ending in ["", "-wal", "-shm"] {
            let _ = std::fs::remove_file(base.folder.join(format!("taken.book{ending}")));
        }
        let mut book = Book::open(&path).expect("a book");
        match book.import_json(&file) {
            Err(why) => assert_may_be_shown(&why.to_string()),
            Ok(_) => assert_reads(&book),
        }
    });
}

fn apply(export: &mut Value, change: &[u8]) {
    let [sheet, row, column, which, own @ ..] = change else {
        return;
    };
    let own = own
        .iter()
        .fold(0_i64, |sum, byte| sum << 8 | i64::from(*byte));
    let Some(sheets) = export.get_mut("sheets").and_then(Value::as_object_mut) else {
        return;
    };
    let count = sheets.len().max(1);
    let Some((_, rows)) = sheets.iter_mut().nth(usize::from(*sheet) % count) else {
        return;
    };
    let Some(rows) = rows.as_array_mut() else {
        return;
    };
    let count = rows.len().max(1);
    let at = usize::from(*row) % count;
    if *which == u8::MAX && !rows.is_empty() {
        rows.remove(at);
        return;
    }
    let Some(fields) = rows.get_mut(at).and_then(Value::as_object_mut) else {
        return;
    };
    let count = fields.len().max(1);
    if let Some((_, field)) = fields.iter_mut().nth(usize::from(*column) % count) {
        *field = hostile(*which, own);
    }
}

/// Whatever is asked of a book can be answered.
fn assert_reads(book: &Book) {
    let reader = book.reader().expect("a reader");
    let faults = reader.faults().expect("read");
    assert!(faults.is_empty(), "{faults:?}");
    for class in reader.classes().expect("classes") {
        reader.calls(Whose::Class(&class.name)).expect("calls");
        for person in reader.people(&class.name).expect("people") {
            reader.standing(person.id).expect("where they stand");
        }
        let ask = Ask {
            class: Some(class.name.clone()),
            ..Ask::default()
        };
        let Ok(subject) = ask.find(&reader, &|_| 0) else {
            continue;
        };
        let report = Overview::read(&reader, subject, &|_| 0).expect("a report");
        assert!(report.unread.is_empty(), "{:?}", report.unread);
        for line in text(&report, &ReportStyle::default()) {
            assert_may_be_shown(&line);
        }
    }
}
