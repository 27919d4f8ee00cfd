//! What the host wrote beside a lesson or a person.

use rusqlite::{Connection, params};

use crate::error::OrBookError;
use crate::ids::{LessonId, NoteId, PersonId};
use crate::{Book, BookError};

/// A note of the host's: on a class, or more closely on a lesson, a call of it,
/// or a person.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Note {
    /// Its number in every copy of the book.
    pub id: NoteId,
    /// The class.
    pub class: String,
    /// The lesson it is about.
    pub lesson: Option<LessonId>,
    /// The call of that lesson.
    pub call: Option<u32>,
    /// The person it is about.
    pub person: Option<PersonId>,
    /// When it was written: UTC in milliseconds since 1970.
    pub unix_ms: i64,
    /// The note.
    pub text: String,
}

impl Note {
    /// A new note on a class.
    ///
    /// # Errors
    /// What the system says, if it gives no random number.
    pub fn new(class: &str, text: &str, unix_ms: i64) -> Result<Note, getrandom::Error> {
        Ok(Note {
            id: NoteId::random()?,
            class: class.to_owned(),
            lesson: None,
            call: None,
            person: None,
            unix_ms,
            text: text.to_owned(),
        })
    }
}

/// Writes a note; one that is there already gets the new text.
pub(crate) fn write(connection: &Connection, note: &Note) -> rusqlite::Result<()> {
    let class = crate::keys::class_key(connection, &note.class)?;
    connection
        .prepare_cached(
            "INSERT INTO note (id, class, lesson, call, person, unix_ms, text)
             VALUES (?1, ?2, (SELECT key FROM lesson WHERE id = ?3), ?4,
                     (SELECT key FROM person WHERE id = ?5), ?6, ?7)
             ON CONFLICT (id) DO UPDATE SET text = excluded.text",
        )?
        .execute(params![
            note.id,
            class,
            note.lesson,
            note.call,
            note.person,
            note.unix_ms,
            note.text
        ])
        .map(drop)
}

impl Book {
    /// Writes a note, or gives one that is there another text.
    ///
    /// # Errors
    /// [`BookError`].
    pub fn write_note(&mut self, note: &Note) -> Result<(), BookError> {
        write(&self.connection, note).at(&self.path)
    }

    /// Takes a note out; one that is not there is out already.
    ///
    /// # Errors
    /// [`BookError`].
    pub fn delete_note(&mut self, note: NoteId) -> Result<(), BookError> {
        let deleted = self
            .connection
            .execute("DELETE FROM note WHERE id = ?1", [note]);
        deleted.map(drop).at(&self.path)
    }
}
