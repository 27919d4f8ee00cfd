//! Whom the lesson book knows in a class.

use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::names::are_alike;
use fifthpeg_lesson::view::LessonView;

/// Somebody whom the lesson book knows in this class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KnownPerson {
    /// The name.
    pub name: String,
    /// Whether a machine of theirs has a class key.
    pub has_key: bool,
}

/// Names of those whom a student could be: known in the class, or with a seat
/// in this lesson, and not here.
pub fn could_be(view: &LessonView, known: &[KnownPerson], student: StudentId) -> Vec<String> {
    let of_lesson = view.students.iter().filter(|s| s.id != student);
    let (here, away): (Vec<_>, Vec<_>) = of_lesson.partition(|s| s.connected);
    let own = view.students.iter().find(|s| s.id == student);
    let mut names: Vec<String> = away.into_iter().map(|s| s.name.clone()).collect();
    let of_book = known.iter().map(|person| &person.name);
    for name in of_book {
        let is_one = |other: &str| are_alike(other, name);
        let taken = here.iter().any(|s| is_one(&s.name))
            || own.is_some_and(|s| is_one(&s.name))
            || names.iter().any(|other| is_one(other));
        if !taken {
            names.push(name.clone());
        }
    }
    names
}
