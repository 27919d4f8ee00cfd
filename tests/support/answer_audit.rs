//! What students were told of their answers, beside what the lesson book holds.

use std::collections::BTreeMap;
use std::path::Path;

use fifthpeg_book::Reader;
use fifthpeg_lesson::LessonEvent;
use fifthpeg_lesson::marking::Mark;

use crate::Process;

/// For each student and call, the marks in the order they were given: whether
/// right.
pub type Marks = BTreeMap<(String, u32), Vec<bool>>;

/// The marks that a student's terminal in plain mode said.
pub fn told(name: &str, terminal: &Process, marks: &mut Marks) {
    let mut call = 0;
    for line in terminal.lines() {
        let mut words = line.split(' ');
        match (words.next(), words.next()) {
            (Some("call"), Some(number)) => call = number.parse().unwrap_or(call),
            (Some("mark"), Some(_)) => {
                let right = words
                    .next()
                    .is_some_and(|w| w.trim_end_matches(',') == "right");
                // One that comes after the next call says which it belongs to.
                let of = line.rsplit_once(", in call ");
                let of = of.and_then(|(_, number)| number.parse().ok());
                marks
                    .entry((name.to_owned(), of.unwrap_or(call)))
                    .or_default()
                    .push(right);
            }
            _ => {}
        }
    }
}

/// The marks that the one lesson of a book holds.
///
/// # Panics
/// If the book cannot be read, or does not hold one lesson.
pub fn held(book: &Path, class: &str) -> Marks {
    let reader = Reader::open(book).expect("the book");
    let lessons = reader.lessons(class).expect("the lessons");
    assert_eq!(lessons.len(), 1, "{lessons:#?}");
    let mut names = BTreeMap::new();
    let mut marks = Marks::new();
    for event in reader.events(lessons[0].id).expect("its events") {
        match event {
            LessonEvent::Joined { student, name, .. } => {
                names.insert(student, name);
            }
            LessonEvent::Answered {
                call,
                student,
                mark,
                ..
            } => {
                let name = names.get(&student).expect("who answers has joined");
                marks
                    .entry((name.clone(), call.0))
                    .or_default()
                    .push(mark == Mark::Right);
            }
            _ => {}
        }
    }
    marks
}
