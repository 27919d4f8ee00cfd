//! What reports, screens and the choice of practice ask of the book.

mod calls;
mod lists;
mod reaches;
mod recall;
mod standing;
pub mod whole;

use std::path::{Path, PathBuf};

use fifthpeg_core::NeckDescription;
use fifthpeg_lesson::LessonEvent;
use fifthpeg_lesson::message::StudentId;
use rusqlite::Connection;

use crate::error::OrBookError;
use crate::keys::lesson_key;
use crate::open::open_to_read;
use crate::record::Calendar;
use crate::{Book, BookError, LessonId, from_rows};

pub use calls::{GivenAnswer, PersonCall, PersonTry, Whose};
pub use lists::{Class, LessonSummary, Person};
pub use recall::{Recall, Recalled};
pub use standing::PersonStanding;
use whole::Whole;

/// A book open for reading alone. It sees what was stored when it asks, also
/// while a lesson is being written, and never makes a writer wait.
#[derive(Debug)]
pub struct Reader {
    pub(crate) path: PathBuf,
    pub(crate) connection: Connection,
}

impl Reader {
    /// Opens a book that is there; also one that may not be written.
    ///
    /// # Errors
    /// [`BookError`]: no book, newer, older, damaged, locked.
    pub fn open(path: &Path) -> Result<Reader, BookError> {
        Ok(Reader {
            path: path.to_owned(),
            connection: open_to_read(path)?,
        })
    }

    /// Everything that happened in a lesson, in order. People appear under the
    /// names they have in the book now, those removed from it not at all.
    ///
    /// # Errors
    /// [`BookError::NoLesson`], or when the book cannot be read.
    pub fn events(&self, lesson: LessonId) -> Result<Vec<LessonEvent>, BookError> {
        let key = self.key(lesson)?;
        from_rows::events(&self.connection, key).at(&self.path)
    }

    /// The neck of a lesson.
    ///
    /// # Errors
    /// [`BookError::NoLesson`], or when the book cannot be read.
    pub fn neck(&self, lesson: LessonId) -> Result<NeckDescription, BookError> {
        let key = self.key(lesson)?;
        from_rows::neck_of(&self.connection, key).at(&self.path)
    }

    /// Who sat where: each student's number in a lesson, with the person.
    ///
    /// # Errors
    /// [`BookError::NoLesson`], or when the book cannot be read.
    pub fn seats(&self, lesson: LessonId) -> Result<Vec<(StudentId, Person)>, BookError> {
        let key = self.key(lesson)?;
        lists::seats(&self.connection, key).at(&self.path)
    }

    /// A moment of a lesson in the calendar: UTC in milliseconds since 1970.
    ///
    /// # Errors
    /// [`BookError::NoLesson`], or when the book cannot be read.
    pub fn unix_ms(&self, lesson: LessonId, at: fifthpeg_lesson::Moment) -> Result<i64, BookError> {
        let key = self.key(lesson)?;
        let calendar = Calendar::of(&self.connection, key).at(&self.path)?;
        Ok(calendar.unix_ms(at))
    }

    /// A lesson, read whole.
    ///
    /// # Errors
    /// [`BookError::Spoilt`], [`BookError::NoLesson`], or what reading meets
    /// with.
    pub fn whole(&self, lesson: LessonId) -> Result<Whole, BookError> {
        let key = self.key(lesson)?;
        let read = whole::whole(&self.connection, key);
        read.map_err(|why| whole::spoilt(&self.connection, key, why, &self.path))
    }

    fn key(&self, lesson: LessonId) -> Result<i64, BookError> {
        lesson_key(&self.connection, lesson)
            .at(&self.path)?
            .ok_or(BookError::NoLesson)
    }
}

impl Book {
    /// A reader of this book.
    ///
    /// # Errors
    /// [`BookError`].
    pub fn reader(&self) -> Result<Reader, BookError> {
        Reader::open(&self.path)
    }
}
