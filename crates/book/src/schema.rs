//! The versions of the book's tables, and how one becomes the next.

use rusqlite::Connection;

/// Marks a file as a lesson book: "5peg" (SQLite file format, section 1.3.11,
/// "Application ID").
pub(crate) const APPLICATION_ID: i32 = 0x3570_6567;

/// Each version's step from the one before. A step once shipped is never
/// changed.
const STEPS: [&str; 4] = [
    include_str!("schema/v1.sql"),
    include_str!("schema/v2.sql"),
    include_str!("schema/v3.sql"),
    include_str!("schema/v4.sql"),
];

/// From this version on, lessons that have ended are sealed.
const SEALED: usize = 4;

/// The version of the tables that this program writes.
pub const VERSION: u32 = STEPS.len() as u32;

/// The version of the tables; nought in an empty file.
pub(crate) fn version(connection: &Connection) -> rusqlite::Result<u32> {
    connection.pragma_query_value(None, "user_version", |row| row.get(0))
}

/// Takes the steps that are wanting. To be called within a transaction.
pub(crate) fn bring_up(connection: &Connection) -> rusqlite::Result<()> {
    let from = version(connection)? as usize;
    for step in STEPS.iter().skip(from) {
        connection.execute_batch(step)?;
    }
    if from < SEALED {
        crate::seal::seal_all(connection)?;
    }
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
