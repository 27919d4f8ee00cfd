//! What the teacher may do next: who needs help, and whether the reach fits.
//! By the model of `lesson::learning`, from the book's events.

use fifthpeg_core::Neck;
use fifthpeg_lesson::learning::help::{Glance, who_needs_help};
use fifthpeg_lesson::learning::{Model, StudentKey, Suggestion, suggest};

use super::ask::Subject;
use crate::{BookError, LessonId, PersonId, Reader};

/// What may be done next.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Those who were in the last lesson, who needs help first.
    pub glances: Vec<(PersonId, Glance)>,
    /// Whether the reach fits that the last lesson ended with.
    pub suggestion: Option<Suggestion>,
}

/// After the lesson asked about, or the last of the class.
pub(super) fn outlook(book: &Reader, subject: &Subject) -> Result<Option<Outlook>, BookError> {
    let mut lessons: Vec<LessonId> = Vec::new();
    for lesson in book.lessons(&subject.class)? {
        lessons.push(lesson.id);
        if subject.lesson == Some(lesson.id) {
            break;
        }
    }
    let Some(last) = lessons.last().copied() else {
        return Ok(None);
    };
    let mut records = Vec::new();
    for lesson in &lessons {
        records.append(&mut book.evidence(*lesson)?);
    }
    let when = records.iter().map(|e| e.when).max().unwrap_or_default();
    let model = Model::from_evidence(records);
    let seats = book.seats(last)?;
    let mut students: Vec<StudentKey> = seats.iter().map(|(_, p)| StudentKey(p.id.0)).collect();
    students.sort_unstable();
    students.dedup();
    let glances = who_needs_help(&model, &students);
    let suggestion = match (Neck::build(book.neck(last)?), book.reaches(last)?.last()) {
        (Ok(neck), Some(reach)) => Some(suggest(&model, &students, &neck, reach, when)),
        _ => None,
    };
    Ok(Some(Outlook {
        glances: glances
            .into_iter()
            .map(|glance| (PersonId(glance.student.0), glance))
            .collect(),
        suggestion,
    }))
}
