//! The keys that classes and lessons have in this file.

use rusqlite::{Connection, OptionalExtension};

use crate::LessonId;
use crate::names::folded;

/// The class of that name, made if there is none.
pub(crate) fn class_key(connection: &Connection, name: &str) -> rusqlite::Result<i64> {
    let folded = folded(name);
    connection
        .prepare_cached("INSERT INTO class (name, folded) VALUES (?1, ?2) ON CONFLICT DO NOTHING")?
        .execute([name, &folded])?;
    connection
        .prepare_cached("SELECT key FROM class WHERE folded = ?1")?
        .query_row([folded], |row| row.get(0))
}

pub(crate) fn lesson_key(connection: &Connection, id: LessonId) -> rusqlite::Result<Option<i64>> {
    connection
        .query_row("SELECT key FROM lesson WHERE id = ?1", [id], |row| {
            row.get(0)
        })
        .optional()
}
