//! The versions of the book's tables, and how one becomes the next.

use rusqlite::Connection;

pub use crate::columns::VERSION;
use crate::{seal, tables};

/// Marks a file as a lesson book: "5peg" (SQLite file format, section 1.3.11,
/// "Application ID").
pub(crate) const APPLICATION_ID: i32 = 0x3570_6567;

/// What stands beside the tables, since which version. A step once shipped is
/// never changed.
const BESIDE: &[(u32, &str)] = &[
    (1, "CREATE INDEX alias_person ON alias (person)"),
    (1, "CREATE INDEX lesson_class ON lesson (class, started_ms)"),
    (1, "CREATE INDEX seat_person ON seat (person)"),
    (1, "CREATE INDEX part_student ON part (lesson, student)"),
    (1, "CREATE INDEX stage_call ON stage (lesson, call)"),
    (
        1,
        "CREATE INDEX hearing_student ON hearing (lesson, student, call, what)",
    ),
    (1, "CREATE INDEX try_student ON try (lesson, student, call)"),
    // An answer counts once, however often it was sent.
    (
        1,
        "CREATE UNIQUE INDEX answer_student ON answer (lesson, student, call, serial)",
    ),
    (
        2,
        "CREATE INDEX sung_student ON sung (lesson, student, call)",
    ),
    (2, "CREATE INDEX note_class ON note (class, unix_ms)"),
    (2, "CREATE INDEX note_lesson ON note (lesson)"),
    (2, "CREATE INDEX note_person ON note (person)"),
    (4, "INSERT INTO mark (one, mark) VALUES (1, randomblob(16))"),
    (4, "CREATE INDEX class_key_person ON class_key (person)"),
    (5, HELD_BEFORE),
];

/// How lessons were held that do not say so: until version 5 practice alone had
/// one place and was called after who played. That is read here and nowhere else.
pub(crate) const HELD_BEFORE: &str = "UPDATE lesson SET held = CASE
        WHEN name LIKE '%, solo' AND (SELECT count(*) FROM seat WHERE seat.lesson = lesson.key) <= 1
        THEN 'alone' ELSE 'class' END
    WHERE held IS NULL";

/// From this version on, lessons that have ended are sealed.
const SEALED: u32 = 4;

/// The version of the tables; nought in an empty file.
pub(crate) fn version(connection: &Connection) -> rusqlite::Result<u32> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Takes the steps that are wanting. To be called within a transaction.
pub(crate) fn bring_up(connection: &Connection) -> rusqlite::Result<()> {
    let from = version(connection)?;
    // A column more changes every seal: what was whole before is sealed anew.
    let sealed = match (SEALED..VERSION).contains(&from) {
        true => seal::of_all(connection, from)?,
        false => Vec::new(),
    };
    for version in from + 1..=VERSION {
        connection.execute_batch(&tables::step(version))?;
        for (_, beside) in BESIDE.iter().filter(|(since, _)| *since == version) {
            connection.execute_batch(beside)?;
        }
    }
    if from < SEALED {
        seal::seal_all(connection)?;
    }
    seal::renew(connection, &sealed)?;
    connection.pragma_update(None, "application_id", APPLICATION_ID)?;
    connection.pragma_update(None, "user_version", VERSION)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every table is STRICT, and every foreign key has an index of its own to
    /// look from.
    #[test]
    fn tables_are_strict_and_their_keys_hold() {
        let connection = Connection::open_in_memory().unwrap();
        bring_up(&connection).unwrap();
        assert_eq!(version(&connection).unwrap(), VERSION);
        let loose: i64 = connection
            .query_row(
                "SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND type = 'table'
                 AND name NOT LIKE 'sqlite_%' AND strict = 0",
                [],
                |row| row.get(0),
            )
            .unwrap();
        assert_eq!(loose, 0);
        let mut wrong = connection.prepare("PRAGMA foreign_key_check").unwrap();
        assert!(wrong.query([]).unwrap().next().unwrap().is_none());
        // Taking the steps again changes nothing.
        bring_up(&connection).unwrap();
    }
}
