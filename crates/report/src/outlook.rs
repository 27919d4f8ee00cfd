//! What may come next: who needs help, and whether the reach fits.
//! By the model of `lesson::learning`, from the book's events.

use fifthpeg_book::PersonId;
use fifthpeg_book::reader::whole::Whole;
use fifthpeg_core::Neck;
use fifthpeg_lesson::learning::help::{Glance, who_needs_help};
use fifthpeg_lesson::learning::{Evidence, Model, StudentKey, Suggestion, suggest};

/// What may be done next.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Those who were in the last lesson, who needs help first; nobody in a report
    /// about one student.
    pub glances: Vec<(PersonId, Glance)>,
    /// Whether the reach fits that the last lesson ended with.
    pub suggestion: Option<Suggestion>,
}

/// After this lesson, with what was heard in all up to it; for one student, or
/// for all who were there.
pub(crate) fn outlook(last: &Whole, one: Option<PersonId>, records: Vec<Evidence>) -> Outlook {
    let when = records.iter().map(|e| e.when).max().unwrap_or_default();
    let model = Model::from_evidence(records);
    let seats = last.seats.values();
    let asked = seats.filter(|id| one.is_none_or(|one| one == **id));
    let mut students: Vec<StudentKey> = asked.map(|p| StudentKey(p.0)).collect();
    students.sort_unstable();
    students.dedup();
    let glances = match one {
        None => who_needs_help(&model, &students),
        Some(_) => Vec::new(),
    };
    let suggestion = match (Neck::build(last.neck.clone()), last.reaches.last()) {
        (Ok(neck), Some(reach)) => Some(suggest(&model, &students, &neck, reach, when)),
        _ => None,
    };
    Outlook {
        glances: glances
            .into_iter()
            .map(|glance| (PersonId(glance.student.0), glance))
            .collect(),
        suggestion,
    }
}
