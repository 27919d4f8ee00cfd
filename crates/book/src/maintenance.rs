//! Looking after the file: whether it is sound, a safe copy of it, and what it
//! holds of one person.

use std::path::Path;

use fifthpeg_core::Cause;
use rusqlite::{Connection, OptionalExtension};

use crate::error::OrBookError;
use crate::location::onto_disk;
use crate::open::mark_anew;
use crate::reader::whole;
use crate::tables::{Of, each_row, sheets};
use crate::{BookError, PersonId, Reader, class_keys, rules};

/// Most faults that are listed.
const MOST_FAULTS: u32 = 20;

/// How much the book holds of one person.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Holdings {
    /// Lessons the person was in.
    pub lessons: u32,
    /// Calls the person had a part in.
    pub calls: u32,
    /// Answers given.
    pub answers: u32,
    /// Places and pitches tried.
    pub tries: u32,
    /// Hearings.
    pub hearings: u32,
    /// Notes sung.
    pub sung: u32,
    /// Notes that were written about the person.
    pub notes: u32,
    /// Names of lessons with the person in them that have not ended.
    pub open_lessons: Vec<String>,
}

/// Keys of all lessons, read from the table itself.
fn lessons(connection: &Connection) -> rusqlite::Result<Vec<i64>> {
    connection
        .prepare("SELECT key FROM lesson NOT INDEXED")?
        .query_map([], |row| row.get(0))?
        .collect()
}

/// What is wrong with a lesson, if anything.
fn spoilt(connection: &Connection, lesson: i64, path: &Path) -> Result<Option<String>, BookError> {
    match whole::whole(connection, lesson) {
        Ok(_) => Ok(None),
        Err(why) => match whole::spoilt(connection, lesson, why, path) {
            spoilt @ BookError::Spoilt { .. } => Ok(Some(spoilt.to_string())),
            other => Err(other),
        },
    }
}

/// What is wrong with the first lesson that is damaged or cannot be.
pub(crate) fn first_spoilt(
    connection: &Connection,
    path: &Path,
) -> Result<Option<String>, BookError> {
    for lesson in lessons(connection).at(path)? {
        let found = spoilt(connection, lesson, path)?;
        if found.is_some() {
            return Ok(found);
        }
    }
    Ok(None)
}

impl Reader {
    /// What is wrong with the file and with how its rows refer to each other,
    /// each in one line; nothing where it is sound. Reads all of it.
    ///
    /// # Errors
    /// When the book cannot be read, other than for damage.
    pub fn faults(&self) -> Result<Vec<String>, BookError> {
        let found = self.look_for_faults().at(&self.path).and_then(|faults| {
            let mut faults = faults;
            self.look_at_rows(&mut faults)?;
            Ok(faults)
        });
        match found {
            // Too damaged to be looked through to its end.
            Err(BookError::Damaged { what, .. }) => Ok(vec![what.to_string()]),
            other => other,
        }
    }

    /// Everything that reports and screens ask of the book, read.
    fn look_at_rows(&self, faults: &mut Vec<String>) -> Result<(), BookError> {
        for lesson in lessons(&self.connection).at(&self.path)? {
            if faults.len() >= MOST_FAULTS as usize {
                return Ok(());
            }
            faults.extend(spoilt(&self.connection, lesson, &self.path)?);
        }
        let lost = self.lost_lessons()?;
        if lost > 0 {
            faults.push(format!("lessons that are lost: {lost}"));
        }
        for sheet in sheets().iter().filter(|s| s.table.of == Of::Book) {
            each_row(&self.connection, sheet, |row| {
                for (column, value) in sheet.columns.iter().zip(&row) {
                    let fits = rules::value(column.kind, value);
                    faults.extend(
                        fits.err()
                            .map(|why| format!("a {}: {why}", sheet.table.name)),
                    );
                }
                Ok::<_, rusqlite::Error>(())
            })
            .at(&self.path)?;
        }
        Ok(())
    }

    /// Lessons whose rows are all lost: their seals alone are there.
    pub fn lost_lessons(&self) -> Result<u32, BookError> {
        self.connection
            .query_row(
                "SELECT count(*) FROM seal WHERE NOT EXISTS
                 (SELECT 1 FROM lesson WHERE lesson.key = seal.lesson)",
                [],
                |row| row.get(0),
            )
            .at(&self.path)
    }

    fn look_for_faults(&self) -> rusqlite::Result<Vec<String>> {
        let sql = format!("PRAGMA integrity_check({MOST_FAULTS})");
        let mut faults: Vec<String> = self
            .connection
            .prepare(&sql)?
            .query_map([], |row| row.get(0))?
            .collect::<rusqlite::Result<_>>()?;
        faults.retain(|line| line != "ok");
        let astray = self
            .connection
            .prepare("SELECT DISTINCT \"table\", parent FROM pragma_foreign_key_check")?
            .query_map([], |row| {
                let (of, to): (String, String) = (row.get(0)?, row.get(1)?);
                Ok(format!("a row of {of} belongs to a {to} that is not there"))
            })?
            .collect::<rusqlite::Result<Vec<String>>>()?;
        faults.extend(astray);
        Ok(faults)
    }

    /// Writes a whole copy of the book as it is at one moment, also while a
    /// lesson is being written, without what is left in its freed parts, and
    /// without class keys. There must be nothing at `to`, or an empty file.
    ///
    /// # Errors
    /// [`BookError::File`] where the copy cannot be made; half a copy may then
    /// be left.
    pub fn copy_to(&self, to: &Path) -> Result<(), BookError> {
        let failed = |why: Cause| BookError::file(to, why);
        let name = to
            .to_str()
            .ok_or_else(|| failed("its name is not text".into()))?;
        self.connection
            .execute("VACUUM INTO ?1", [name])
            .and_then(|_| class_keys::take_out(to))
            .map_err(|e| failed(e.into()))?;
        mark_anew(to).map_err(|e| failed(e.into()))?;
        onto_disk(to).map_err(|e| failed(e.into()))
    }

    /// How much the book holds of a person.
    ///
    /// # Errors
    /// [`BookError::NoPerson`], or when the book cannot be read.
    pub fn holdings(&self, person: PersonId) -> Result<Holdings, BookError> {
        let key: Option<i64> = self
            .connection
            .query_row(
                "SELECT key FROM person WHERE id = ?1
                 OR key = (SELECT person FROM alias WHERE id = ?1)",
                [person],
                |row| row.get(0),
            )
            .optional()
            .at(&self.path)?;
        self.held(key.ok_or(BookError::NoPerson)?).at(&self.path)
    }

    fn held(&self, person: i64) -> rusqlite::Result<Holdings> {
        let count = |sql: &str| {
            self.connection
                .query_row(sql, [person], |row| row.get::<_, u32>(0))
        };
        let rows = |table: &str| {
            count(&format!(
                "SELECT count(*) FROM seat JOIN {table} AS done
                 ON done.lesson = seat.lesson AND done.student = seat.student
                 WHERE seat.person = ?1"
            ))
        };
        let open_lessons = self
            .connection
            .prepare(
                "SELECT DISTINCT lesson.name FROM seat JOIN log ON log.lesson = seat.lesson
                 JOIN lesson ON lesson.key = seat.lesson WHERE seat.person = ?1",
            )?
            .query_map([person], |row| row.get(0))?
            .collect::<rusqlite::Result<_>>()?;
        Ok(Holdings {
            lessons: count("SELECT count(DISTINCT lesson) FROM seat WHERE person = ?1")?,
            calls: rows("part")?,
            answers: rows("answer")?,
            tries: rows("try")?,
            hearings: rows("hearing")?,
            sung: rows("sung")?,
            notes: count("SELECT count(*) FROM note WHERE person = ?1")?,
            open_lessons,
        })
    }
}
