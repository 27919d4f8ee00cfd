//! The sheets: what of each table is carried, and in which order.

use crate::event_tables::EVENT_TABLES;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// A random number of 128 bits.
    Id,
    Whole,
    Figure,
    /// A text that may be empty, but not wanting.
    Text,
    /// A text that may be wanting, but not empty.
    Word,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Column {
    pub name: &'static str,
    pub kind: Kind,
    /// What an export of version 2 does not have.
    pub is_later: bool,
}

#[derive(Debug)]
pub(crate) struct Sheet {
    pub name: &'static str,
    pub columns: Vec<Column>,
    /// Gives the columns of every row, in order.
    pub select: String,
    /// Gives those of one lesson, by its key in this file, read from the table
    /// itself; `None` for what belongs to no lesson, or only points at one.
    pub of_one: Option<String>,
}

/// Every sheet, each before those that refer to it.
pub(crate) fn sheets() -> Vec<Sheet> {
    let mut sheets =
        vec![
        sheet("class", &["name"], "name FROM class ORDER BY folded"),
        sheet("removed", &["id"], "id FROM removed ORDER BY id"),
        sheet(
            "person",
            &["id", "class", "name"],
            "id, class.name, person.name FROM person JOIN class ON class.key = person.class
             ORDER BY class.folded, person.folded, id",
        ),
        sheet(
            "alias",
            &["id", "person"],
            "alias.id, person.id FROM alias JOIN person ON person.key = alias.person
             ORDER BY alias.id",
        ),
        sheet(
            "lesson",
            &[
                "id", "class", "neck", "name", "seed", "began_us", "started_ms", "ended_ms",
            ],
            "lesson.id, class.name, neck.neck, lesson.name, seed, began_us, started_ms, ended_ms
             FROM lesson JOIN class ON class.key = lesson.class
             JOIN neck ON neck.key = lesson.neck ORDER BY started_ms, lesson.id",
        )
        .with_one(
            "lesson.id, class.name, neck.neck, lesson.name, seed, began_us, started_ms, ended_ms
             FROM lesson JOIN class ON class.key = lesson.class
             JOIN neck ON neck.key = lesson.neck WHERE lesson.key = ?1",
        ),
        of_lesson("sitting", &["lesson", "from_us", "unix_ms"], "from_us"),
        sheet(
            "seat",
            &["lesson", "student", "person"],
            "lesson.id, seat.student, person.id FROM seat JOIN lesson ON lesson.key = seat.lesson
             JOIN person ON person.key = seat.person
             ORDER BY lesson.started_ms, lesson.id, seat.student",
        )
        .with_one(
            "seat.student, person.id FROM seat JOIN person ON person.key = seat.person
             WHERE seat.lesson = ?1 ORDER BY seat.student",
        ),
    ];
    for table in EVENT_TABLES {
        let columns: Vec<_> = ["lesson", "seq", "at_us"]
            .iter()
            .chain(table.columns)
            .copied()
            .collect();
        sheets.push(of_lesson(table.name, &columns, "seq"));
    }
    sheets.push(of_lesson(
        "part",
        &["lesson", "call", "student", "late"],
        "call, sheet.student",
    ));
    sheets.push(sheet(
        "note",
        &["id", "class", "lesson", "call", "person", "unix_ms", "text"],
        "note.id, class.name, lesson.id, call, person.id, unix_ms, text FROM note
         JOIN class ON class.key = note.class LEFT JOIN lesson ON lesson.key = note.lesson
         LEFT JOIN person ON person.key = note.person ORDER BY unix_ms, note.id",
    ));
    sheets
}

/// A table whose rows belong to a lesson, as it is but for the lesson's number.
fn of_lesson(name: &'static str, columns: &[&'static str], order: &str) -> Sheet {
    let rest: Vec<String> = columns
        .iter()
        .skip(1)
        .map(|c| format!("sheet.{c}"))
        .collect();
    let select = format!(
        "lesson.id, {} FROM {name} AS sheet JOIN lesson ON lesson.key = sheet.lesson
         ORDER BY lesson.started_ms, lesson.id, sheet.{order}",
        rest.join(", ")
    );
    let one = format!(
        "{} FROM {name} AS sheet WHERE sheet.lesson = ?1 ORDER BY sheet.{order}",
        rest.join(", ")
    );
    sheet(name, columns, &select).with_one(&one)
}

impl Sheet {
    fn with_one(mut self, select: &str) -> Self {
        self.of_one = Some(format!("SELECT {select}"));
        self
    }
}

fn sheet(name: &'static str, columns: &[&'static str], select: &str) -> Sheet {
    let column = |column: &&'static str| Column {
        name: column,
        kind: kind(name, column),
        is_later: matches!((name, *column), ("call", "picked")),
    };
    Sheet {
        name,
        columns: columns.iter().map(column).collect(),
        select: format!("SELECT {select}"),
        of_one: None,
    }
}

fn kind(sheet: &str, column: &str) -> Kind {
    match column {
        "id" | "lesson" | "person" => Kind::Id,
        // Of a try or answer it is the number of a note name.
        "name" if matches!(sheet, "try" | "answer") => Kind::Whole,
        "name" | "text" | "class" | "neck" | "reach" | "rules" => Kind::Text,
        "what" | "picked" | "marking" | "voice" | "source" | "miss" | "miss_side" => Kind::Word,
        "frequency_hz" | "spread_cents" | "cents" => Kind::Figure,
        _ => Kind::Whole,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::schema::bring_up;
    use std::collections::BTreeSet;

    /// Every table that is not left out on purpose is carried whole.
    #[test]
    fn nothing_is_forgotten() {
        let connection = rusqlite::Connection::open_in_memory().unwrap();
        bring_up(&connection).unwrap();
        let all = |sql: &str| -> BTreeSet<String> {
            let mut statement = connection.prepare(sql).unwrap();
            let names = statement.query_map([], |row| row.get(0)).unwrap();
            names.map(Result::unwrap).collect()
        };
        let tables = all("SELECT name FROM pragma_table_list WHERE schema = 'main'
             AND name NOT LIKE 'sqlite_%'");
        let carried: BTreeSet<String> = sheets().iter().map(|s| s.name.to_owned()).collect();
        // Necks go with their lessons; logs stay where the lesson was held.
        // A file's mark and its lessons' seals are its own, and so are class keys.
        let left_out = ["neck", "log", "input", "mark", "seal", "class_key"].map(str::to_owned);
        assert_eq!(&carried | &BTreeSet::from(left_out), tables);
        for sheet in sheets() {
            let columns = all(&format!(
                "SELECT name FROM pragma_table_info('{}') WHERE name NOT IN ('key', 'folded')",
                sheet.name
            ));
            let carried = sheet.columns.iter().map(|c| c.name.to_owned()).collect();
            assert_eq!(columns, carried, "{}", sheet.name);
            let statement = connection.prepare(&sheet.select).unwrap();
            assert_eq!(statement.column_count(), sheet.columns.len());
        }
    }
}
