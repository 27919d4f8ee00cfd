//! What a lesson that runs is told of earlier ones: whoever comes in is looked
//! up by name, with the latest calls.

use std::collections::BTreeMap;
use std::path::Path;

use fifthpeg_lesson::learning::figures::EARLIER_CALLS;
use fifthpeg_lesson::learning::{Evidence, StudentKey};
use fifthpeg_lesson::message::StudentId;
use rusqlite::params;

use super::Reader;
use super::lists::list;
use crate::error::OrBookError;
use crate::{BookError, LessonId, PersonId};

/// Most lessons whose records are kept in memory, so that a lesson is read once
/// for all who were there.
const MOST_KEPT: usize = 64;

/// Somebody the book knows.
#[derive(Debug, Clone, PartialEq)]
pub struct Recalled {
    /// Who.
    pub person: PersonId,
    /// The latest [`EARLIER_CALLS`] calls, the earliest first.
    pub records: Vec<Evidence>,
}

/// Looks people up for one lesson of a class.
#[derive(Debug)]
pub struct Recall {
    reader: Reader,
    class: String,
    lesson: LessonId,
    /// Everybody's records of lessons that have ended.
    kept: BTreeMap<LessonId, Vec<Evidence>>,
}

impl Recall {
    /// For the lesson `lesson` of `class`, which is being written.
    ///
    /// # Errors
    /// As [`Reader::open`].
    pub fn open(book: &Path, class: &str, lesson: LessonId) -> Result<Self, BookError> {
        Ok(Self {
            reader: Reader::open(book)?,
            class: class.to_owned(),
            lesson,
            kept: BTreeMap::new(),
        })
    }

    /// Reads the class's latest lessons, so that looking people up is quick.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn read_ahead(&mut self) -> Result<(), BookError> {
        let mut calls = 0;
        let lessons = self.reader.lessons(&self.class)?;
        for lesson in lessons.iter().rev().take(MOST_KEPT / 2) {
            if calls >= EARLIER_CALLS {
                break;
            }
            if lesson.id != self.lesson && lesson.ended_ms.is_some() {
                self.keep(lesson.id)?;
                calls += lesson.calls as usize;
            }
        }
        Ok(())
    }

    /// Everyone known in the class.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn people(&self) -> Result<Vec<super::lists::Person>, BookError> {
        self.reader.people(&self.class)
    }

    /// The class, as it was named.
    pub fn class(&self) -> &str {
        &self.class
    }

    /// Whom a class key lets in, if it holds.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn key_holder(
        &self,
        public: [u8; 32],
        now_ms: i64,
    ) -> Result<Option<crate::KeyHolder>, BookError> {
        self.reader.key_holder(&self.class, public, now_ms)
    }

    /// The class keys that hold.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn class_keys(&self, now_ms: i64) -> Result<Vec<crate::KeyHeld>, BookError> {
        self.reader.class_keys(now_ms)
    }

    /// The person of this name, who sits in the lesson as `student`; `None` for
    /// one who is new to the class. What the lesson itself has of this seat is
    /// left out, since the lesson knows it.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn of(&mut self, student: StudentId, name: &str) -> Result<Option<Recalled>, BookError> {
        let person = match self.reader.person(&self.class, name) {
            Ok(person) => person.id,
            Err(BookError::NoPerson) => return Ok(None),
            Err(e) => return Err(e),
        };
        let sql = "SELECT DISTINCT lesson.id, lesson.ended_ms IS NOT NULL FROM seat
             JOIN lesson ON lesson.key = seat.lesson JOIN person ON person.key = seat.person
             WHERE person.id = ?1 AND NOT (lesson.id = ?2 AND seat.student = ?3)
             ORDER BY lesson.started_ms DESC, lesson.id DESC";
        // Without this seat: looking for what it has had in a lesson that runs
        // would read all of the lesson for everyone who comes in.
        let seat = params![person, self.lesson, student.0];
        let lessons: Vec<(LessonId, bool)> = list(&self.reader.connection, sql, seat, |row| {
            Ok((row.get(0)?, row.get(1)?))
        })
        .at(&self.reader.path)?;
        let mut latest_first: Vec<Evidence> = Vec::new();
        for (lesson, ended) in lessons {
            if latest_first.len() >= EARLIER_CALLS {
                break;
            }
            let of_lesson = if ended {
                let key = StudentKey(person.0);
                let all = self.keep(lesson)?;
                all.iter().filter(|e| e.student == key).copied().collect()
            } else {
                self.of_open(lesson, student, person)?
            };
            latest_first.extend(of_lesson.into_iter().rev());
        }
        latest_first.truncate(EARLIER_CALLS);
        latest_first.reverse();
        Ok(Some(Recalled {
            person,
            records: latest_first,
        }))
    }

    /// A lesson that may still grow: this one, or another host's.
    fn of_open(
        &self,
        lesson: LessonId,
        student: StudentId,
        person: PersonId,
    ) -> Result<Vec<Evidence>, BookError> {
        let own = |seat| lesson == self.lesson && seat == student;
        let whole = self.reader.whole(lesson)?;
        let ruled = whole.ruled(|seat, id| id == person && !own(seat));
        Ok(ruled.into_iter().map(|(record, _)| record).collect())
    }

    fn keep(&mut self, lesson: LessonId) -> Result<&[Evidence], BookError> {
        if !self.kept.contains_key(&lesson) {
            let read = match self.reader.evidence(lesson) {
                // Reports and the check name it.
                Err(BookError::Spoilt { .. }) => Vec::new(),
                read => read?,
            };
            if self.kept.len() >= MOST_KEPT {
                self.kept.pop_first();
            }
            self.kept.insert(lesson, read);
        }
        Ok(self.kept.get(&lesson).map_or(&[], Vec::as_slice))
    }
}
