//! One person, one entry: the host says who somebody is; and the public halves of
//! class keys, which no copy, export or taking in carries.

mod common;

use std::time::Duration;

use fifthpeg_book::class_keys::UNUSED_MS;
use fifthpeg_book::{Batch, Book, LessonId, Outlives, Reader, Writer};
use fifthpeg_core::Neck;
use fifthpeg_lesson::learning::StudentKey;
use fifthpeg_lesson::message::{FromStudent, SeatKey, StudentId};
use fifthpeg_lesson::{GivenInput, HostOrder, Lesson, LessonInput, LessonSetup, Moment};

use common::{EVENING_MS, Folder};

const CLASS: &str = "Thursday";

struct Evening {
    lesson: Lesson,
    now: Moment,
    batch: Batch,
}

impl Evening {
    fn give(&mut self, input: LessonInput) {
        self.now = self.now + Duration::from_millis(500);
        self.lesson.apply(input.clone(), self.now).expect("taken");
        while self.lesson.poll_message().is_some() {}
        self.batch.inputs.push(GivenInput {
            at: self.now,
            input,
        });
        let events = std::iter::from_fn(|| self.lesson.poll_event());
        self.batch.events.extend(events);
    }

    fn join(&mut self, name: &str, key: u128) {
        self.give(LessonInput::Join {
            name: name.to_owned(),
            key: None,
            new_key: SeatKey(key),
        });
    }

    fn known(&mut self, student: u32, name: &str, person: Option<u128>) {
        self.give(LessonInput::Order(HostOrder::KnownAs {
            student: StudentId(student),
            name: name.to_owned(),
            person: person.map(StudentKey),
        }));
    }
}

/// A lesson of these acts, written down; left open unless it is ended in them.
fn evening(book: &std::path::Path, acts: impl FnOnce(&mut Evening)) -> LessonId {
    let neck = Neck::ready("banjo-open-g").expect("a neck");
    let setup = LessonSetup::new("Village hall", &neck);
    let began = Moment::from_micros(1_000_000);
    let mut book = Book::open(book).expect("a book");
    let running = book.begin(CLASS, &setup, began, EVENING_MS).expect("begun");
    let id = running.id();
    let mut evening = Evening {
        lesson: Lesson::new(setup, began).expect("a lesson"),
        now: began,
        batch: Batch::default(),
    };
    acts(&mut evening);
    let mut writer = Writer::start(book, running, Outlives::Kill, |_| {});
    writer.store(evening.batch);
    writer.finish(Duration::from_secs(10)).expect("stored");
    id
}

fn names(book: &std::path::Path) -> Vec<(String, u32)> {
    let people = Reader::open(book).unwrap().people(CLASS).unwrap();
    people.into_iter().map(|p| (p.name, p.lessons)).collect()
}

#[test]
fn who_was_two_is_one_entry_also_after_the_host_was_killed() {
    let folder = Folder::new("known-as");
    let path = folder.book();
    let id = evening(&path, |e| {
        e.join("Mia", 1);
        e.give(LessonInput::Message {
            student: StudentId(1),
            message: FromStudent::Leave,
        });
        e.join("Mia", 2);
        e.known(2, "Mia", None);
    });
    assert_eq!(names(&path), [("Mia".to_owned(), 1)]);
    let seats = Reader::open(&path).unwrap().seats(id).unwrap();
    assert_eq!(seats.len(), 2);
    assert_eq!(seats[0].1.id, seats[1].1.id);
    // The same lesson is made again of it.
    let mut book = Book::open(&path).unwrap();
    let resumed = book.resume(id, EVENING_MS + 60_000).unwrap();
    let view = resumed.lesson.view();
    assert_eq!(view.students.len(), 1);
    assert_eq!(view.students[0].id, StudentId(2));
}

#[test]
fn somebody_of_the_book_is_known_by_number_whatever_the_name_is_now() {
    let folder = Folder::new("known-person");
    let path = folder.book();
    evening(&path, |e| {
        e.join("Mia", 1);
        e.give(LessonInput::Order(HostOrder::End));
    });
    let mut book = Book::open(&path).unwrap();
    let mia = book.reader().unwrap().person(CLASS, "Mia").unwrap().id;
    book.rename_person(mia, "Mia S").unwrap();
    drop(book);
    evening(&path, |e| {
        e.join("M", 1);
        e.known(1, "Mia", Some(mia.0));
        e.give(LessonInput::Order(HostOrder::End));
    });
    assert_eq!(names(&path), [("Mia S".to_owned(), 2)]);
    // An entry that has more than this lesson stays.
    evening(&path, |e| {
        e.join("Ole", 1);
        e.give(LessonInput::Order(HostOrder::End));
    });
    evening(&path, |e| {
        e.join("Ole", 1);
        e.known(1, "Mia S", Some(mia.0));
        e.give(LessonInput::Order(HostOrder::End));
    });
    let all = [("Mia S".to_owned(), 3), ("Ole".to_owned(), 1)];
    assert_eq!(names(&path), all);
}

const PUBLIC: [u8; 32] = [0xc7; 32];

/// A book with a key granted to Mia, and the lesson's number.
fn with_key(folder: &Folder) -> (std::path::PathBuf, LessonId) {
    let path = folder.book();
    let id = evening(&path, |e| {
        e.join("Mia", 1);
        e.join("Ole", 2);
        e.give(LessonInput::Order(HostOrder::End));
    });
    let mut book = Book::open(&path).unwrap();
    let seat = (id, StudentId(1));
    book.grant_key(seat, PUBLIC, EVENING_MS).unwrap();
    (path, id)
}

fn holder(path: &std::path::Path, now_ms: i64) -> Option<String> {
    let reader = Reader::open(path).unwrap();
    let held = reader.key_holder("thursday", PUBLIC, now_ms).unwrap();
    held.map(|holder| holder.name)
}

#[test]
fn a_key_follows_its_person_and_ends_with_them() {
    let folder = Folder::new("key-person");
    let (path, _) = with_key(&folder);
    assert_eq!(holder(&path, EVENING_MS).as_deref(), Some("Mia"));
    let reader = Reader::open(&path).unwrap();
    assert_eq!(
        reader.key_holder("Friday", PUBLIC, EVENING_MS).unwrap(),
        None
    );
    let of = |name: &str| reader.person(CLASS, name).unwrap().id;
    let (mia, ole) = (of("Mia"), of("Ole"));
    let mut book = Book::open(&path).unwrap();
    book.rename_person(mia, "Mia S").unwrap();
    assert_eq!(holder(&path, EVENING_MS).as_deref(), Some("Mia S"));
    book.merge_people(ole, mia).unwrap();
    assert_eq!(holder(&path, EVENING_MS).as_deref(), Some("Ole"));
    drop(reader);
    book.remove_person(ole).unwrap();
    assert_eq!(holder(&path, EVENING_MS), None);
}

#[test]
fn a_key_is_taken_back_or_ends_unused_after_90_days() {
    let folder = Folder::new("key-ends");
    let (path, id) = with_key(&folder);
    let day = 24 * 3600 * 1000;
    assert_eq!(UNUSED_MS, 90 * day);
    assert!(holder(&path, EVENING_MS + 90 * day - 1).is_some());
    assert_eq!(holder(&path, EVENING_MS + 90 * day), None);
    let mut book = Book::open(&path).unwrap();
    book.note_key_used(PUBLIC, EVENING_MS + 60 * day).unwrap();
    assert!(holder(&path, EVENING_MS + 149 * day).is_some());
    let held = book.reader().unwrap().class_keys(EVENING_MS + 60 * day);
    assert_eq!(held.unwrap()[0].used_ms, EVENING_MS + 60 * day);
    // What ended is gone, not only passed over.
    book.note_key_used([1; 32], EVENING_MS + 150 * day).unwrap();
    assert_eq!(holder(&path, EVENING_MS + 61 * day), None);

    let seat = (id, StudentId(1));
    book.grant_key(seat, PUBLIC, EVENING_MS).unwrap();
    assert_eq!(book.revoke_keys_of(seat).unwrap(), 1);
    assert_eq!(holder(&path, EVENING_MS), None);
    // A new one takes the place of the one before.
    book.grant_key(seat, [2; 32], EVENING_MS).unwrap();
    book.grant_key(seat, PUBLIC, EVENING_MS).unwrap();
    let held = book.reader().unwrap().class_keys(EVENING_MS).unwrap();
    assert_eq!(held.len(), 1);
    assert_eq!(book.revoke_keys(held[0].person).unwrap(), 1);
}

#[test]
fn a_key_is_kept_though_another_program_writes_just_then() {
    let folder = Folder::new("key-waits");
    let (path, id) = with_key(&folder);
    let mut book = Book::open(&path).unwrap();
    let other = rusqlite::Connection::open(&path).unwrap();
    other.execute_batch("BEGIN IMMEDIATE").unwrap();
    let kept = std::thread::spawn(move || book.grant_key((id, StudentId(1)), [7; 32], EVENING_MS));
    std::thread::sleep(Duration::from_millis(100));
    other.execute_batch("COMMIT").unwrap();
    kept.join().expect("no panic").expect("kept");
    let held = Reader::open(&path).unwrap().class_keys(EVENING_MS).unwrap();
    assert_eq!(held.len(), 1);
}

#[test]
fn copies_exports_and_what_is_taken_in_carry_no_key() {
    let folder = Folder::new("key-copies");
    let (path, _) = with_key(&folder);
    let reader = Reader::open(&path).unwrap();
    let copy = folder.file("copy.book");
    reader.copy_to(&copy).unwrap();
    let json = folder.file("export.json");
    reader.export_json(&json).unwrap();
    let csv = folder.file("csv");
    reader.export_csv(&csv).unwrap();
    let other = folder.file("other.book");
    Book::open(&other).unwrap().merge_book(&path).unwrap();
    for book in [&copy, &other] {
        assert_eq!(holder(book, EVENING_MS), None);
    }
    let mut files = vec![copy, json, other];
    files.extend(std::fs::read_dir(&csv).unwrap().flatten().map(|f| f.path()));
    let hex = "c7".repeat(32);
    for file in files {
        let bytes = std::fs::read(&file).unwrap();
        let found = bytes.windows(32).any(|window| window == PUBLIC)
            || String::from_utf8_lossy(&bytes).contains(&hex);
        assert!(!found, "{}", file.display());
    }
    // And it is where it belongs.
    assert!(holder(&path, EVENING_MS).is_some());
}
