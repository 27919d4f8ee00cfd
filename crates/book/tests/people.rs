//! People by class and name: another name, two made one, and wholly removed.

mod common;

use std::path::Path;

use fifthpeg_book::{Book, BookError, Note, PersonId, Reader, Whose};
use fifthpeg_lesson::HostOrder;

use common::{CLASS, EVENING_MS, Folder, Hall, held, json, setup};

fn person(path: &Path, name: &str) -> PersonId {
    Reader::open(path).unwrap().person(CLASS, name).unwrap().id
}

#[test]
fn a_name_in_a_class_is_one_person_over_lessons() {
    let folder = Folder::new("people");
    let path = folder.book();
    held(&path, 1, EVENING_MS, &["Mia", "Ruth"]);
    held(&path, 2, EVENING_MS + 7 * 86_400_000, &["mia", "Ivo"]);
    let reader = Reader::open(&path).unwrap();
    let people = reader.people("tuesday").unwrap();
    let seen: Vec<_> = people
        .iter()
        .map(|p| (p.name.as_str(), p.lessons))
        .collect();
    assert_eq!(seen, [("Ivo", 1), ("Mia", 2), ("Ruth", 1)]);
    let mia = reader.calls(Whose::Person(people[1].id)).unwrap();
    assert_eq!(mia.len(), 8);
    assert!(
        mia.iter()
            .all(|c| c.found() && c.over && c.tries > 0 && c.sung.is_some())
    );
    let weeks: Vec<_> = reader.lessons(CLASS).unwrap();
    assert_eq!(weeks.len(), 2);
    assert_eq!((weeks[0].calls, weeks[0].parts, weeks[0].found), (4, 8, 8));
    let ended = weeks[0].ended_ms.unwrap();
    assert!((EVENING_MS..EVENING_MS + 60_000).contains(&ended));
    assert_eq!(reader.calls(Whose::Class(CLASS)).unwrap().len(), 16);
}

#[test]
fn a_new_name_shows_in_every_lesson() {
    let folder = Folder::new("rename");
    let path = folder.book();
    let lesson = held(&path, 1, EVENING_MS, &["Mia", "Ruth"]);
    let mut book = Book::open(&path).unwrap();
    let mia = person(&path, "Mia");
    let taken = book.rename_person(mia, "RUTH").unwrap_err();
    assert!(matches!(taken, BookError::NameTaken), "{taken}");
    let bad = book.rename_person(mia, "\u{1b}[2J").unwrap_err();
    assert!(matches!(bad, BookError::BadName), "{bad}");
    book.rename_person(mia, " Mia  Sol ").unwrap();
    let events = book.reader().unwrap().events(lesson).unwrap();
    let text = format!("{events:?}");
    assert!(text.contains("\"Mia Sol\"") && !text.contains("\"Mia\""));
    book.rename_person(mia, "mia sol").unwrap();
    let unknown = book.rename_person(PersonId(1), "Ole").unwrap_err();
    assert!(matches!(unknown, BookError::NoPerson), "{unknown}");
}

#[test]
fn two_who_are_one_are_made_one() {
    let folder = Folder::new("merge");
    let path = folder.book();
    held(&path, 1, EVENING_MS, &["Mia", "Ruth"]);
    held(&path, 2, EVENING_MS + 1, &["Mia Sol", "Ruth"]);
    let mut book = Book::open(&path).unwrap();
    let (mia, sol) = (person(&path, "Mia"), person(&path, "Mia Sol"));
    assert!(matches!(
        book.merge_people(mia, mia),
        Err(BookError::NotTwo)
    ));
    book.merge_people(mia, sol).unwrap();
    let reader = book.reader().unwrap();
    assert_eq!(reader.calls(Whose::Person(mia)).unwrap().len(), 8);
    assert_eq!(reader.people(CLASS).unwrap().len(), 2);
    // The old number still leads to the person.
    book.rename_person(sol, "Mia S.").unwrap();
    assert_eq!(person(&path, "Mia S."), mia);
}

/// How often `needle` stands in the book's files, in capitals or not.
fn found_in_files(folder: &Folder, needle: &str) -> usize {
    let mut found = 0;
    for entry in std::fs::read_dir(&folder.0).unwrap() {
        let bytes = std::fs::read(entry.unwrap().path()).unwrap();
        let lower = needle.to_lowercase().into_bytes();
        found += bytes
            .windows(lower.len())
            .filter(|w| w.to_ascii_lowercase() == lower)
            .count();
    }
    found
}

#[test]
fn nobody_removed_leaves_a_byte_of_the_name() {
    const NAME: &str = "Wilhelmine Ottilie";
    let folder = Folder::new("remove");
    let path = folder.book();
    for week in 0..3 {
        held(
            &path,
            week,
            EVENING_MS + week as i64,
            &[NAME, "Ruth", "Ivo"],
        );
    }
    let mut book = Book::open(&path).unwrap();
    let person_id = person(&path, NAME);
    let about_ruth = Note::new(CLASS, "Ruth sits beside WILHELMINE ottilie.", EVENING_MS).unwrap();
    let mut about_her = Note::new(CLASS, "hears fourths as fifths", EVENING_MS).unwrap();
    about_her.person = Some(person_id);
    book.write_note(&about_ruth).unwrap();
    book.write_note(&about_her).unwrap();
    // A former name as well.
    book.rename_person(person_id, "Wilhelmine Zweitname")
        .unwrap();
    book.rename_person(person_id, NAME).unwrap();
    assert!(found_in_files(&folder, NAME) > 0);

    let removed = book.remove_person(person_id).unwrap();
    assert_eq!(removed.notes_changed, 1);
    assert!(removed.still_named.is_empty() && removed.copies.is_empty());
    for name in [NAME, "Wilhelmine", "Zweitname"] {
        assert_eq!(found_in_files(&folder, name), 0, "{name}");
    }
    let hex = person_id.to_string();
    let text = json(&path);
    assert_eq!(
        text.matches(&hex).count(),
        1,
        "the number alone, as removed"
    );
    assert!(text.contains("Ruth sits beside (removed)."));
    assert!(!text.contains("hears fourths"));
    let reader = book.reader().unwrap();
    assert!(reader.calls(Whose::Person(person_id)).unwrap().is_empty());
    // The others keep theirs: three lessons of four calls.
    assert_eq!(reader.calls(Whose::Class(CLASS)).unwrap().len(), 2 * 3 * 4);
    assert!(matches!(
        book.remove_person(person_id),
        Err(BookError::NoPerson)
    ));
}

#[test]
fn nobody_is_removed_from_a_lesson_that_goes_on() {
    let folder = Folder::new("remove-open");
    let path = folder.book();
    let mut hall = Hall::begin(&path, setup(1), EVENING_MS);
    hall.join("Mia");
    hall.calls(1);
    let (id, _) = hall.finish();
    assert!(
        found_in_files(&folder, "\"Mia\"") > 0,
        "as it was typed, in the log"
    );
    let mut book = Book::open(&path).unwrap();
    let mia = person(&path, "Mia");
    let open = book.remove_person(mia).unwrap_err();
    assert!(matches!(open, BookError::InOpenLesson { .. }), "{open}");
    book.give_up(id).unwrap();
    assert!(book.open_lessons().unwrap().is_empty());
    assert!(matches!(book.resume(id, 0), Err(BookError::LessonEnded)));
    book.remove_person(mia).unwrap();
    assert_eq!(found_in_files(&folder, "\"Mia\""), 0);
    let lesson = book.reader().unwrap().lesson(id).unwrap();
    assert!(lesson.ended_ms.is_some() && lesson.students == 0);
}

#[test]
fn where_the_name_stands_elsewhere_is_told() {
    let folder = Folder::new("remove-named");
    let path = folder.book();
    let mut setup = setup(1);
    setup.rules.lesson = "Solo Mia".to_owned();
    let mut hall = Hall::begin(&path, setup, EVENING_MS);
    hall.join("Mia");
    hall.join("Mia");
    hall.order(HostOrder::End);
    hall.finish();
    let mut book = Book::open(&path).unwrap();
    let removed = book.remove_person(person(&path, "Mia")).unwrap();
    assert_eq!(removed.still_named, ["Mia 2", "Solo Mia"]);
}
