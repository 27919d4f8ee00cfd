//! Each call as a student met it: what the reports show and the choice of
//! practice learns from.

use core::time::Duration;

use fifthpeg_core::{Pitch, Position};
use fifthpeg_lesson::marking::{Mark, Marking};
use fifthpeg_lesson::message::{Answer, CallId, Source, StudentId, Voice};
use fifthpeg_lesson::singing::SungMark;
use fifthpeg_lesson::{Moment, Picked};
use rusqlite::types::Value;

use super::Reader;
use super::lists::list;
use super::whole::Whole;
use crate::error::OrBookError;
use crate::names::folded;
use crate::{BookError, LessonId, PersonId};

/// Whose calls are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose<'a> {
    /// One person's, over all lessons.
    Person(PersonId),
    /// Everyone's of a class, over all lessons.
    Class(&'a str),
    /// Everyone's in one lesson.
    Lesson(LessonId),
}

/// One call as one student met it.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonCall {
    /// Who.
    pub person: PersonId,
    /// In which lesson.
    pub lesson: LessonId,
    /// Under which number there.
    pub student: StudentId,
    /// Which call.
    pub call: CallId,
    /// When it was made: UTC in milliseconds since 1970.
    pub unix_ms: i64,
    /// The target.
    pub pitch: Pitch,
    /// The place picked, if one was.
    pub place: Option<Position>,
    /// Where the target came from; `None` if it was written down before that
    /// was kept.
    pub picked: Option<Picked>,
    /// What counted as right.
    pub marking: Marking,
    /// The voice it was sounded in.
    pub voice: Voice,
    /// The student came in while it was open.
    pub late: bool,
    /// Found, revealed or closed: it counts. Not so while it is open.
    pub over: bool,
    /// The answers, oldest first.
    pub answers: Vec<GivenAnswer>,
    /// Hearings asked for beyond the free one.
    pub hearings: u32,
    /// Places and pitches tried.
    pub tries: u32,
    /// Of these, on the instrument.
    pub tries_played: u32,
    /// The sung note nearest to the target or an octave of it.
    pub sung: Option<SungMark>,
}

/// One answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GivenAnswer {
    /// Its serial.
    pub serial: u32,
    /// What was answered.
    pub answer: Answer,
    /// Where from.
    pub source: Source,
    /// The mark in full, with the kind of miss.
    pub mark: Mark,
    /// Response time on the student's clock, if known.
    pub response: Option<Duration>,
    /// How far it may be off either way.
    pub uncertainty: Duration,
}

/// One try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PersonTry {
    /// Who.
    pub person: PersonId,
    /// In which lesson.
    pub lesson: LessonId,
    /// For which call.
    pub call: CallId,
    /// When, on that lesson's clock.
    pub at: Moment,
    /// What was tried.
    pub tried: Answer,
    /// Where from.
    pub source: Source,
}

impl PersonCall {
    /// The right answer, if there is one.
    pub fn right(&self) -> Option<&GivenAnswer> {
        self.answers.iter().find(|a| a.mark.is_right())
    }

    /// Whether it was found.
    pub fn found(&self) -> bool {
        self.right().is_some()
    }

    /// Whether it was found with the first answer.
    pub fn found_first(&self) -> bool {
        self.answers.first().is_some_and(|a| a.mark.is_right())
    }

    /// Response time of the right answer and how far it may be off.
    pub fn time(&self) -> Option<(Duration, Duration)> {
        let right = self.right()?;
        Some((right.response?, right.uncertainty))
    }

    /// Whether a sung note was the target in any octave.
    pub fn sang_it(&self) -> bool {
        self.sung.is_some_and(SungMark::is_it)
    }
}

impl Reader {
    /// Calls as students met them, in order of lessons' beginnings, calls and
    /// students.
    ///
    /// # Errors
    /// [`BookError::Spoilt`] for the first lesson that is, or when the
    /// book cannot be read.
    pub fn calls(&self, whose: Whose<'_>) -> Result<Vec<PersonCall>, BookError> {
        self.of_each(whose, Whole::calls)
    }

    /// Tries, in order of lessons' beginnings and of trying.
    ///
    /// # Errors
    /// As [`Reader::calls`].
    pub fn tries(&self, whose: Whose<'_>) -> Result<Vec<PersonTry>, BookError> {
        self.of_each(whose, Whole::tries)
    }

    fn of_each<T>(
        &self,
        whose: Whose<'_>,
        take: impl Fn(&Whole, Option<PersonId>) -> Vec<T>,
    ) -> Result<Vec<T>, BookError> {
        let of = match whose {
            Whose::Person(person) => Some(person),
            Whose::Class(_) | Whose::Lesson(_) => None,
        };
        let mut all = Vec::new();
        for lesson in self.lessons_of(whose)? {
            all.append(&mut take(&self.whole(lesson)?, of));
        }
        Ok(all)
    }

    /// Lessons, the earliest first. Read from the tables themselves: an index
    /// that is damaged hides none.
    pub fn lessons_of(&self, whose: Whose<'_>) -> Result<Vec<LessonId>, BookError> {
        let blob = |id: u128| Value::Blob(id.to_be_bytes().to_vec());
        let (condition, value) = match whose {
            Whose::Person(id) => (
                "EXISTS (SELECT 1 FROM seat WHERE seat.lesson = lesson.key
                 AND +seat.person = (SELECT key FROM person WHERE id = ?1))",
                blob(id.0),
            ),
            Whose::Class(name) => (
                "+lesson.class = (SELECT key FROM class WHERE folded = ?1)",
                Value::Text(folded(name)),
            ),
            Whose::Lesson(id) => ("lesson.id = ?1", blob(id.0)),
        };
        let sql = format!("SELECT id FROM lesson WHERE {condition} ORDER BY +started_ms, +id");
        list(&self.connection, &sql, [value], |row| row.get(0)).at(&self.path)
    }
}
