//! What a table of the book is, and the texts that are made from its rows.

use std::fmt::Write as _;
use std::sync::LazyLock;

use rusqlite::Connection;
use rusqlite::types::Value;

use crate::columns::TABLES;

/// The oldest exports that are taken in.
pub(crate) const OLDEST_EXPORT: u32 = 2;
/// A lesson that an older program left open is known again by what this
/// version already kept: whoever kept less is not taken up.
const KNOWN_AGAIN_BY: u32 = 2;

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Kind {
    /// The row's own number in this file. Stays in it.
    Key,
    /// Bytes of this file's own. Stay in it.
    Bytes,
    /// A random number of 128 bits.
    Id,
    Whole,
    /// A time of day: UTC in milliseconds since 1970.
    Date,
    Figure,
    /// A text that may be empty, but not wanting.
    Text,
    /// A name, tidied.
    Name,
    /// What two spellings of the name before it have in common. Made from it.
    Folded,
    /// What a teacher wrote.
    Prose,
    /// A text that may be wanting, but not empty: one of a few words.
    Word,
    /// The class, the neck, the lesson, the person of that key; in sheets the
    /// class's name, the neck as text, the others' random numbers.
    Class,
    Neck,
    Lesson,
    Person,
    /// A student's number in the lesson. Such a row goes with the student's seat.
    Student,
}

impl Kind {
    fn sql(self) -> &'static str {
        match self {
            Kind::Id | Kind::Bytes => "BLOB",
            Kind::Figure => "REAL",
            Kind::Text | Kind::Name | Kind::Folded | Kind::Prose | Kind::Word => "TEXT",
            Kind::Key | Kind::Whole | Kind::Date | Kind::Student => "INTEGER",
            Kind::Class | Kind::Neck | Kind::Lesson | Kind::Person => "INTEGER",
        }
    }

    /// How it stands in a sheet.
    pub fn cell(self) -> Cell {
        match self {
            Kind::Id | Kind::Bytes | Kind::Lesson | Kind::Person => Cell::Id,
            Kind::Key | Kind::Whole | Kind::Date | Kind::Student => Cell::Whole,
            Kind::Figure => Cell::Figure,
            Kind::Text | Kind::Name | Kind::Folded | Kind::Prose => Cell::Text,
            Kind::Class | Kind::Neck => Cell::Text,
            Kind::Word => Cell::Word,
        }
    }

    /// The table that it points into, and what stands for that row in sheets.
    fn points_at(self) -> Option<(&'static str, &'static str)> {
        match self {
            Kind::Class => Some(("class", "name")),
            Kind::Neck => Some(("neck", "neck")),
            Kind::Lesson => Some(("lesson", "id")),
            Kind::Person => Some(("person", "id")),
            _ => None,
        }
    }
}

/// What stands in a sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Cell {
    /// 32 digits.
    Id,
    Whole,
    Figure,
    /// A text that may be empty, but not wanting.
    Text,
    /// A text that may be wanting, but not empty.
    Word,
}

/// What it means that an export from before a column does not have it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Before {
    /// The column was always there.
    Never,
    /// It is not known.
    Unknown,
    /// This word.
    Word(&'static str),
}

/// One column.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Column {
    pub name: &'static str,
    pub kind: Kind,
    pub needed: bool,
    /// What its values are held against, behind its name.
    pub check: &'static str,
    /// What else the database is told of it.
    pub sql: &'static str,
    /// The first version that has it.
    pub since: u32,
    pub before: Before,
    /// In the words of docs/privacy.md, what it tells of a person; empty if nothing.
    #[cfg_attr(not(test), expect(dead_code, reason = "the page is held against it"))]
    pub personal: &'static str,
}

/// A column that always has a value.
pub(crate) const fn needed(name: &'static str, kind: Kind) -> Column {
    Column {
        needed: true,
        ..maybe(name, kind)
    }
}

/// A column whose value may be wanting.
pub(crate) const fn maybe(name: &'static str, kind: Kind) -> Column {
    Column {
        name,
        kind,
        needed: false,
        check: "",
        sql: "",
        since: 1,
        before: Before::Never,
        personal: "",
    }
}

impl Column {
    pub const fn check(self, check: &'static str) -> Self {
        Self { check, ..self }
    }

    pub const fn sql(self, sql: &'static str) -> Self {
        Self { sql, ..self }
    }

    pub const fn since(self, since: u32, before: Before) -> Self {
        Self {
            since,
            before,
            ..self
        }
    }

    pub const fn personal(self, personal: &'static str) -> Self {
        Self { personal, ..self }
    }

    /// As the database is told of it.
    fn declared(&self) -> String {
        let mut out = format!("{} {}", self.name, self.kind.sql());
        if self.needed {
            out.push_str(" NOT NULL");
        }
        if let Before::Word(word) = self.before {
            let _ = write!(out, " DEFAULT '{word}'");
        }
        if !self.sql.is_empty() {
            let _ = write!(out, " {}", self.sql);
        }
        if !self.check.is_empty() {
            let _ = write!(out, " CHECK ({} {})", self.name, self.check);
        }
        out
    }

    /// Whether the lesson that a row belongs to is known again by it.
    pub fn is_known_by(&self) -> bool {
        self.since <= KNOWN_AGAIN_BY
    }

    fn is_carried(&self) -> bool {
        !matches!(self.kind, Kind::Key | Kind::Bytes | Kind::Folded)
    }

    /// Where a sheet's row has it from.
    fn carried(&self) -> String {
        match self.kind.points_at() {
            Some((table, column)) => format!("{table}.{column}"),
            None => format!("sheet.{}", self.name),
        }
    }

    fn join(&self) -> Option<String> {
        let (table, _) = self.kind.points_at()?;
        let left = if self.needed { "" } else { "LEFT " };
        Some(format!(
            " {left}JOIN {table} ON {table}.key = sheet.{}",
            self.name
        ))
    }
}

/// Where a table's rows belong.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Of {
    /// To this file alone: they are never carried.
    File,
    /// To the book.
    Book,
    /// To one lesson, and are under its seal.
    Lesson,
}

/// One table.
#[derive(Debug)]
pub(crate) struct Table {
    pub name: &'static str,
    /// The first version that has it.
    pub since: u32,
    pub of: Of,
    pub columns: &'static [Column],
    /// What holds for several columns together, as the database is told.
    pub keys: &'static str,
    /// The order of its rows in a sheet; within one lesson, where they are of one.
    pub order: &'static str,
}

/// A table that was there from the first, each row of which has a key of its own.
pub(crate) const fn table(
    name: &'static str,
    of: Of,
    order: &'static str,
    columns: &'static [Column],
) -> Table {
    Table {
        name,
        since: 1,
        of,
        columns,
        keys: "",
        order,
    }
}

impl Table {
    pub const fn keys(self, keys: &'static str) -> Self {
        Self { keys, ..self }
    }

    pub const fn since(self, since: u32) -> Self {
        Self { since, ..self }
    }

    /// Makes the table as version `version` had it.
    fn create(&self) -> String {
        let columns = self.columns.iter().filter(|c| c.since <= self.since);
        let mut parts: Vec<String> = columns.map(Column::declared).collect();
        if !self.keys.is_empty() {
            parts.push(self.keys.to_owned());
        }
        // Where the rows have a number of their own it is the table's.
        let is_number = |c: &Column| c.sql.starts_with("PRIMARY KEY") && c.kind.sql() == "INTEGER";
        let numbered = self.columns.iter().any(is_number);
        let rowid = if numbered { "" } else { ", WITHOUT ROWID" };
        format!(
            "CREATE TABLE {} (\n    {}\n) STRICT{rowid};\n",
            self.name,
            parts.join(",\n    ")
        )
    }

    /// Puts one row in: a parameter for each column, in order.
    pub fn insert(&self) -> String {
        let places = vec!["?"; self.columns.len()].join(", ");
        let names = self.names(|_| true);
        format!("INSERT INTO {} ({names}) VALUES ({places})", self.name)
    }

    /// The rows of one lesson in order.
    pub fn select(&self) -> String {
        let names = self.names(|_| true);
        format!(
            "SELECT {names} FROM {} AS sheet WHERE lesson = ?1 ORDER BY {}",
            self.name, self.order
        )
    }

    pub fn names(&self, of: impl Fn(&Column) -> bool) -> String {
        let names: Vec<&str> = self
            .columns
            .iter()
            .filter(|c| of(c))
            .map(|c| c.name)
            .collect();
        names.join(", ")
    }

    /// Gives the rows of one lesson, by its key in this file, as its seal is made
    /// from them, with the columns that a version has; `None` for what is under no
    /// seal. Read from the table itself: an index that is damaged hides nothing.
    pub fn sealed(&self, version: u32) -> Option<String> {
        if self.of != Of::Lesson || self.since > version {
            return None;
        }
        let own = if self.name == "lesson" {
            "key"
        } else {
            "lesson"
        };
        let of = |c: &&Column| c.is_carried() && c.kind != Kind::Lesson && c.since <= version;
        let columns: Vec<&Column> = self.columns.iter().filter(of).collect();
        Some(format!(
            "{} WHERE sheet.{own} = ?1 ORDER BY {}",
            self.from(&columns),
            self.order
        ))
    }

    fn from(&self, columns: &[&Column]) -> String {
        let carried: Vec<String> = columns.iter().map(|c| c.carried()).collect();
        let joins: String = columns.iter().filter_map(|c| c.join()).collect();
        format!(
            "SELECT {} FROM {} AS sheet{joins}",
            carried.join(", "),
            self.name
        )
    }
}

/// What of a table is carried, and in which order.
#[derive(Debug)]
pub(crate) struct Sheet {
    pub table: &'static Table,
    pub columns: Vec<&'static Column>,
    /// Gives the columns of every row, in order.
    pub select: String,
}

impl Sheet {
    /// The place of a column in a row.
    pub fn index(&self, column: &str) -> Option<usize> {
        self.columns.iter().position(|c| c.name == column)
    }
}

/// Every sheet, each before those that refer to it.
pub(crate) fn sheets() -> &'static [Sheet] {
    static SHEETS: LazyLock<Vec<Sheet>> = LazyLock::new(|| {
        let carried = TABLES.iter().filter(|table| table.of != Of::File);
        carried.map(|table| sheet(table)).collect()
    });
    &SHEETS
}

fn sheet(table: &'static Table) -> Sheet {
    let columns: Vec<&Column> = table.columns.iter().filter(|c| c.is_carried()).collect();
    let by_lesson = columns.iter().any(|c| c.kind == Kind::Lesson && c.needed);
    let by = if by_lesson {
        "lesson.started_ms, lesson.id, "
    } else {
        ""
    };
    Sheet {
        table,
        select: format!("{} ORDER BY {by}{}", table.from(&columns), table.order),
        columns,
    }
}

/// What a version has that the one before had not, as the database is told.
pub(crate) fn step(version: u32) -> String {
    let mut out = String::new();
    for table in TABLES {
        if table.since == version {
            out.push_str(&table.create());
        }
        if table.since < version {
            for column in table.columns.iter().filter(|c| c.since == version) {
                let declared = column.declared();
                let _ = writeln!(out, "ALTER TABLE {} ADD COLUMN {declared};", table.name);
            }
        }
    }
    out
}

/// Gives each row of a sheet, in the sheet's order.
pub(crate) fn each_row<E: From<rusqlite::Error>>(
    connection: &Connection,
    sheet: &Sheet,
    mut give: impl FnMut(Vec<Value>) -> Result<(), E>,
) -> Result<(), E> {
    let mut statement = connection.prepare(&sheet.select)?;
    let mut rows = statement.query([])?;
    while let Some(row) = rows.next()? {
        let values: rusqlite::Result<Vec<Value>> = (0..sheet.columns.len())
            .map(|column| row.get(column))
            .collect();
        give(values?)?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::columns::VERSION;
    use crate::schema::bring_up;

    #[test]
    fn rows_agree_with_the_database_and_each_other() {
        let connection = rusqlite::Connection::open_in_memory().unwrap();
        bring_up(&connection).unwrap();
        let all = |sql: &str| -> BTreeSet<(String, bool)> {
            let mut statement = connection.prepare(sql).unwrap();
            let names = statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)));
            names.unwrap().map(Result::unwrap).collect()
        };
        let there = all(
            "SELECT name, false FROM pragma_table_list WHERE schema = 'main'
             AND name NOT LIKE 'sqlite_%'",
        );
        let rows = TABLES.iter().map(|t| (t.name.to_owned(), false));
        assert_eq!(rows.collect::<BTreeSet<_>>(), there);
        let mut latest = 0;
        for table in TABLES {
            let of = format!("pragma_table_info('{}')", table.name);
            let there = all(&format!("SELECT name, \"notnull\" AND NOT pk FROM {of}"));
            let keys = all(&format!("SELECT name, true FROM {of} WHERE pk"));
            let rows = table.columns.iter().map(|c| {
                let is_key = keys.contains(&(c.name.to_owned(), true));
                (c.name.to_owned(), c.needed && !is_key)
            });
            assert_eq!(rows.collect::<BTreeSet<_>>(), there, "{}", table.name);
            for column in table.columns {
                let later = column.since > 1;
                assert_eq!(column.before != Before::Never, later, "{column:?}");
                latest = latest.max(column.since).max(table.since);
            }
        }
        assert_eq!(latest, VERSION);
        for sheet in sheets() {
            let statement = connection.prepare(&sheet.select).unwrap();
            assert_eq!(statement.column_count(), sheet.columns.len());
        }
    }

    /// Whoever makes the book keep more of people says so there.
    #[test]
    fn what_is_personal_stands_in_the_page_on_privacy() {
        let page = include_str!("../../../docs/privacy.md");
        for column in TABLES.iter().flat_map(|table| table.columns) {
            let of_people = [Kind::Person, Kind::Name, Kind::Prose, Kind::Student];
            let must = of_people.contains(&column.kind);
            assert!(!must || !column.personal.is_empty(), "{column:?}");
            assert!(page.contains(column.personal), "{column:?}");
        }
    }
}
