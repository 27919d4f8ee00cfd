//! Seals: what a lesson came to once nothing more is written of it, so that a
//! row of it that is damaged or lost is noticed.
//!
//! Whoever changes the rows of a sealed lesson (two people made one, one
//! removed, rows taken in) asks [`is_whole`] before and gives that to
//! [`renew`]: what was damaged before stays known as damaged.

use rusqlite::{Connection, OptionalExtension, params};

use crate::columns::{TABLES, VERSION};
use crate::to_rows::Fnv;

/// How it stands with a lesson's rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Seal {
    /// As they were when the lesson ended.
    Whole,
    /// Not so; or the seal itself is lost.
    Broken,
    /// The lesson may still grow.
    Open,
}

/// How many rows a lesson has in all tables, and their digest, as a version of
/// the book makes them.
fn of(connection: &Connection, lesson: i64, version: u32) -> rusqlite::Result<(i64, i64)> {
    let (mut count, mut hash) = (0, Fnv::OF_NOTHING);
    for table in TABLES {
        let Some(select) = table.sealed(version) else {
            continue;
        };
        hash.take(table.name.as_bytes());
        let mut statement = connection.prepare_cached(&select)?;
        let columns = statement.column_count();
        let mut rows = statement.query([lesson])?;
        while let Some(row) = rows.next()? {
            count += 1;
            for column in 0..columns {
                hash.take_value(row.get_ref(column)?);
            }
        }
    }
    Ok((count, hash.0 as i64))
}

/// How it stands with a lesson, by its key.
pub(crate) fn look(connection: &Connection, lesson: i64) -> rusqlite::Result<Seal> {
    look_at(connection, lesson, VERSION)
}

fn look_at(connection: &Connection, lesson: i64, version: u32) -> rusqlite::Result<Seal> {
    let open: bool = connection
        .prepare_cached("SELECT EXISTS (SELECT 1 FROM log WHERE lesson = ?1)")?
        .query_row([lesson], |row| row.get(0))?;
    if open {
        return Ok(Seal::Open);
    }
    let sealed: Option<(i64, i64)> = connection
        .prepare_cached("SELECT rows, digest FROM seal WHERE lesson = ?1")?
        .query_row([lesson], |row| Ok((row.get(0)?, row.get(1)?)))
        .optional()?;
    Ok(if sealed == Some(of(connection, lesson, version)?) {
        Seal::Whole
    } else {
        Seal::Broken
    })
}

/// Whether a lesson's rows may be changed and sealed anew: not if something is
/// wrong with them already.
pub(crate) fn is_whole(connection: &Connection, lesson: i64) -> rusqlite::Result<bool> {
    look(connection, lesson).map(|seal| seal != Seal::Broken)
}

/// Seals a lesson as it is now, if nothing more is written of it.
pub(crate) fn seal(connection: &Connection, lesson: i64) -> rusqlite::Result<()> {
    let (rows, digest) = of(connection, lesson, VERSION)?;
    connection
        .prepare_cached(
            "INSERT OR REPLACE INTO seal (lesson, rows, digest) SELECT ?1, ?2, ?3
             WHERE NOT EXISTS (SELECT 1 FROM log WHERE lesson = ?1)",
        )?
        .execute(params![lesson, rows, digest])
        .map(drop)
}

/// Seals those lessons anew that were whole before.
pub(crate) fn renew(connection: &Connection, lessons: &[(i64, bool)]) -> rusqlite::Result<()> {
    for (lesson, was_whole) in lessons {
        if *was_whole {
            seal(connection, *lesson)?;
        }
    }
    Ok(())
}

/// The lessons in which a person has a seat, each with whether it is whole.
pub(crate) fn of_person(
    connection: &Connection,
    person: i64,
) -> rusqlite::Result<Vec<(i64, bool)>> {
    let lessons: Vec<i64> = connection
        .prepare_cached("SELECT DISTINCT lesson FROM seat WHERE person = ?1")?
        .query_map([person], |row| row.get(0))?
        .collect::<rusqlite::Result<_>>()?;
    lessons
        .into_iter()
        .map(|lesson| Ok((lesson, is_whole(connection, lesson)?)))
        .collect()
}

fn all(connection: &Connection) -> rusqlite::Result<Vec<i64>> {
    connection
        .prepare("SELECT key FROM lesson")?
        .query_map([], |row| row.get(0))?
        .collect()
}

/// Every lesson, each with whether it is whole as an older version sealed it.
pub(crate) fn of_all(connection: &Connection, version: u32) -> rusqlite::Result<Vec<(i64, bool)>> {
    let is_whole = |lesson| look_at(connection, lesson, version).map(|seal| seal != Seal::Broken);
    let lessons = all(connection)?.into_iter();
    lessons
        .map(|lesson| Ok((lesson, is_whole(lesson)?)))
        .collect()
}

/// Seals every lesson that nothing more is written of.
pub(crate) fn seal_all(connection: &Connection) -> rusqlite::Result<()> {
    let mut lessons = all(connection)?.into_iter();
    lessons.try_for_each(|lesson| seal(connection, lesson))
}
