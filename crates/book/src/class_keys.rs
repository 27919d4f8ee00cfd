//! Class keys: by which machine a person comes in without the passphrase. The
//! book has their public halves, with which nobody gets in.
//!
//! Whoever removes a person removes their keys with them, and whoever makes two
//! people one has both keys of one. Copies, exports and what is taken in carry
//! none.

use std::path::Path;

use fifthpeg_lesson::message::StudentId;
use rusqlite::{Connection, OptionalExtension, params};

use crate::error::OrBookError;
use crate::keys::lesson_key;
use crate::{Book, BookError, LessonId, PersonId, Reader};

/// How long a key holds that is not used: 90 days.
pub const UNUSED_MS: i64 = 90 * 24 * 3600 * 1000;

/// Whom a key lets in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyHolder {
    /// Who.
    pub person: PersonId,
    /// The name.
    pub name: String,
    /// The class, as the book writes it.
    pub class: String,
}

/// A key that holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyHeld {
    /// Whose.
    pub person: PersonId,
    /// When it was granted: UTC in milliseconds since 1970.
    pub granted_ms: i64,
    /// When it was last used.
    pub used_ms: i64,
}

impl Reader {
    /// Whom this key lets into a lesson of `class`, if it holds at `now_ms`.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn key_holder(
        &self,
        class: &str,
        public: [u8; 32],
        now_ms: i64,
    ) -> Result<Option<KeyHolder>, BookError> {
        self.connection
            .prepare_cached(
                "SELECT person.id, person.name, class.name FROM class_key
                 JOIN person ON person.key = class_key.person
                 JOIN class ON class.key = person.class
                 WHERE public = ?1 AND class.folded = ?2 AND used_ms > ?3",
            )
            .and_then(|mut found| {
                let holder = params![public, crate::names::folded(class), now_ms - UNUSED_MS];
                found
                    .query_row(holder, |row| {
                        Ok(KeyHolder {
                            person: row.get(0)?,
                            name: row.get(1)?,
                            class: row.get(2)?,
                        })
                    })
                    .optional()
            })
            .at(&self.path)
    }

    /// The keys that hold at `now_ms`, of everybody.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn class_keys(&self, now_ms: i64) -> Result<Vec<KeyHeld>, BookError> {
        self.connection
            .prepare_cached(
                "SELECT person.id, granted_ms, used_ms FROM class_key
                 JOIN person ON person.key = class_key.person
                 WHERE used_ms > ?1 ORDER BY granted_ms",
            )
            .and_then(|mut held| {
                held.query_map([now_ms - UNUSED_MS], |row| {
                    Ok(KeyHeld {
                        person: row.get(0)?,
                        granted_ms: row.get(1)?,
                        used_ms: row.get(2)?,
                    })
                })?
                .collect()
            })
            .at(&self.path)
    }
}

impl Book {
    /// Keeps the public half of a key for the person who sits there in a lesson.
    /// It takes the place of any that person had; tells whose it is.
    ///
    /// # Errors
    /// [`BookError::NoPerson`], or when the book cannot be written.
    pub fn grant_key(
        &mut self,
        (lesson, student): (LessonId, StudentId),
        public: [u8; 32],
        now_ms: i64,
    ) -> Result<(), BookError> {
        let path = self.path.clone();
        let step = self.connection.transaction().at(&path)?;
        let person = person_at(&step, lesson, student).at(&path)?;
        let person = person.ok_or(BookError::NoPerson)?;
        step.execute("DELETE FROM class_key WHERE person = ?1", [person])
            .at(&path)?;
        step.execute(
            "INSERT OR REPLACE INTO class_key (public, person, granted_ms, used_ms)
             VALUES (?1, ?2, ?3, ?3)",
            params![public, person, now_ms],
        )
        .at(&path)?;
        step.commit().at(&path)
    }

    /// A key was used, and holds for as long again; those too long unused end.
    ///
    /// # Errors
    /// When the book cannot be written.
    pub fn note_key_used(&mut self, public: [u8; 32], now_ms: i64) -> Result<(), BookError> {
        self.connection
            .execute(
                "UPDATE class_key SET used_ms = max(used_ms, ?2) WHERE public = ?1",
                params![public, now_ms],
            )
            .and_then(|_| end_old(&self.connection, now_ms))
            .at(&self.path)
    }

    /// Takes the keys of a person back; how many there were.
    ///
    /// # Errors
    /// When the book cannot be written.
    pub fn revoke_keys(&mut self, person: PersonId) -> Result<usize, BookError> {
        self.connection
            .execute(
                "DELETE FROM class_key WHERE person = (SELECT key FROM person WHERE id = ?1)",
                [person],
            )
            .at(&self.path)
    }

    /// The same for the person who sits there in a lesson.
    ///
    /// # Errors
    /// When the book cannot be written.
    pub fn revoke_keys_of(
        &mut self,
        (lesson, student): (LessonId, StudentId),
    ) -> Result<usize, BookError> {
        let path = self.path.clone();
        let Some(person) = person_at(&self.connection, lesson, student).at(&path)? else {
            return Ok(0);
        };
        self.connection
            .execute("DELETE FROM class_key WHERE person = ?1", [person])
            .at(&path)
    }
}

/// What was not used for too long holds no longer, and goes: with each lesson
/// that begins, and each key that is used.
pub(crate) fn end_old(connection: &Connection, now_ms: i64) -> rusqlite::Result<()> {
    connection
        .prepare_cached("DELETE FROM class_key WHERE used_ms <= ?1")?
        .execute([now_ms - UNUSED_MS])
        .map(drop)
}

fn person_at(
    connection: &Connection,
    lesson: LessonId,
    student: StudentId,
) -> rusqlite::Result<Option<i64>> {
    let Some(lesson) = lesson_key(connection, lesson)? else {
        return Ok(None);
    };
    connection
        .query_row(
            "SELECT person FROM seat WHERE lesson = ?1 AND student = ?2",
            params![lesson, student.0],
            |row| row.get(0),
        )
        .optional()
}

/// Takes all keys out of a copy of a book, so that nothing of them is left in
/// its file.
pub(crate) fn take_out(copy: &Path) -> rusqlite::Result<()> {
    let connection = Connection::open(copy)?;
    connection.pragma_update(None, "secure_delete", true)?;
    let had: usize = connection.execute("DELETE FROM class_key", [])?;
    if had > 0 {
        connection.execute_batch("VACUUM")?;
    }
    connection.close().map_err(|(_, e)| e)
}
