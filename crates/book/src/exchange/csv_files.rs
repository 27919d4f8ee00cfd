//! As CSV: a folder with a file for each sheet, its columns named in the first
//! row.

use std::fs::File;
use std::path::{Path, PathBuf};

use fifthpeg_core::Cause;
use fifthpeg_core::text::hex;
use rusqlite::Connection;
use rusqlite::types::Value;

use super::import::Import;
use super::{Trouble, figure_text, from_text, wanting};
use crate::BookError;
use crate::tables::{Cell, Column, Sheet, each_row, sheets};

/// What a spreadsheet may take for the beginning of a formula (OWASP, "CSV
/// Injection"), and the same signs in full width, which some put into plain ones.
const FORMULA_SIGNS: [char; 8] = ['=', '+', '-', '@', '＝', '＋', '－', '＠'];
/// Where a reader of other CSV than ours begins another cell or row: in many
/// countries lists are separated by semicolons.
const SEPARATORS: [char; 5] = [';', '|', '\t', '\n', '\r'];

/// A text as it may stand in a cell: an apostrophe goes before each sign that
/// may begin a formula, at the beginning and behind what may be taken for a
/// separator. One at the beginning is always ours; behind a separator it is
/// where a formula sign follows.
pub fn guarded(text: String) -> String {
    let inner = inner(&text, |out, apostrophes| {
        out.push_str(apostrophes);
        out.push('\'');
    });
    let begins = inner.trim_start_matches(is_gap).starts_with(FORMULA_SIGNS);
    if begins || inner.starts_with('\'') || inner.starts_with(SEPARATORS) {
        format!("'{inner}")
    } else {
        inner
    }
}

/// The text that was guarded.
fn unguarded(text: &str) -> String {
    let text = text.strip_prefix('\'').unwrap_or(text);
    inner(text, |out, apostrophes| {
        let ours = apostrophes.strip_suffix('\'').unwrap_or(apostrophes);
        out.push_str(ours);
    })
}

/// What a reader may skip before a cell begins.
fn is_gap(c: char) -> bool {
    c.is_whitespace() || c == '"'
}

/// Goes through a text; wherever a separator is followed, perhaps behind spaces
/// and quotes, by a formula sign, `meet` writes the apostrophes before the sign.
fn inner(text: &str, meet: impl Fn(&mut String, &str)) -> String {
    let mut out = String::with_capacity(text.len() + 1);
    let mut rest = text;
    while let Some(at) = rest.find(SEPARATORS) {
        let separator = rest[at..].chars().next().map_or(1, char::len_utf8);
        let behind = &rest[at + separator..];
        let gap = behind.len() - behind.trim_start_matches(is_gap).len();
        out.push_str(&rest[..at + separator + gap]);
        let behind = &behind[gap..];
        let signs = behind.trim_start_matches('\'');
        rest = behind;
        if signs.starts_with(FORMULA_SIGNS) {
            meet(&mut out, &behind[..behind.len() - signs.len()]);
            rest = signs;
        }
    }
    out.push_str(rest);
    out
}

pub(super) fn name_of(sheet: &Sheet) -> String {
    format!("{}.csv", sheet.table.name)
}

fn file_of(folder: &Path, sheet: &Sheet) -> PathBuf {
    folder.join(name_of(sheet))
}

pub(super) fn export(connection: &Connection, book: &Path, folder: &Path) -> Result<(), BookError> {
    let trouble = |path: &Path, why: Cause| BookError::file(path, why);
    std::fs::create_dir_all(folder).map_err(|e| trouble(folder, e.into()))?;
    for sheet in sheets() {
        let path = file_of(folder, sheet);
        let file = File::create(&path).map_err(|e| trouble(&path, e.into()))?;
        let mut out = csv::Writer::from_writer(std::io::BufWriter::new(file));
        out.write_record(sheet.columns.iter().map(|c| c.name))
            .map_err(|e| trouble(&path, e.into()))?;
        each_row(connection, sheet, |row| {
            let cells = sheet.columns.iter().zip(row).map(|(c, v)| cell(c, v));
            out.write_record(cells).map_err(ExportTrouble::Csv)
        })
        .map_err(|e| match e {
            ExportTrouble::Csv(e) => trouble(&path, e.into()),
            ExportTrouble::Sqlite(e) => BookError::from_sqlite(e, book),
        })?;
        out.flush().map_err(|e| trouble(&path, e.into()))?;
    }
    Ok(())
}

enum ExportTrouble {
    Csv(csv::Error),
    Sqlite(rusqlite::Error),
}

impl From<rusqlite::Error> for ExportTrouble {
    fn from(error: rusqlite::Error) -> Self {
        ExportTrouble::Sqlite(error)
    }
}

fn cell(column: &Column, value: Value) -> String {
    match value {
        Value::Null => String::new(),
        Value::Integer(n) => n.to_string(),
        Value::Real(x) => figure_text(x),
        Value::Blob(bytes) => hex(&bytes),
        Value::Text(text) if column.kind.cell() == Cell::Text => guarded(text),
        Value::Text(text) => text,
    }
}

pub(super) fn import(folder: &Path, import: &mut Import<'_>) -> Result<(), Trouble> {
    for sheet in sheets() {
        let path = file_of(folder, sheet);
        let name = name_of(sheet);
        let bad = |why: Cause| Trouble::bad(why).at(|| format!("{name}: "));
        let file = File::open(&path).map_err(|e| bad(e.into()))?;
        let mut rows = csv::Reader::from_reader(std::io::BufReader::new(file));
        let header = rows.headers().map_err(|e| bad(e.into()))?.clone();
        // A spreadsheet may have put the columns into another order.
        let columns_at: Result<Vec<Option<usize>>, Trouble> = sheet
            .columns
            .iter()
            .map(|column| {
                let at = header.iter().position(|h| h == column.name);
                if at.is_none() {
                    wanting(column, None).map_err(|t| t.at(|| format!("{name}: column ")))?;
                }
                Ok(at)
            })
            .collect();
        let columns_at = columns_at?;
        for (number, row) in rows.records().enumerate() {
            let which = || format!("{name}, row {}: ", number + 2);
            let row = row.map_err(|e| Trouble::bad(e).at(which))?;
            let values: Result<Vec<Value>, Trouble> = sheet
                .columns
                .iter()
                .zip(&columns_at)
                .map(|(column, at)| match at {
                    Some(at) => value(column, row.get(*at).unwrap_or_default()),
                    None => wanting(column, None),
                })
                .collect();
            let taken = values.and_then(|values| import.take(sheet, values));
            taken.map_err(|t| t.at(which))?;
        }
    }
    Ok(())
}

fn value(column: &Column, text: &str) -> Result<Value, Trouble> {
    if column.kind.cell() == Cell::Text {
        return from_text(column, &unguarded(text));
    }
    from_text(column, text)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Whether a cell of this text, or a part of it that another reader takes
    /// for one, begins like a formula.
    fn is_formula(text: &str) -> bool {
        let mut cells = text.split(SEPARATORS);
        cells.any(|cell| cell.trim_start_matches(is_gap).starts_with(FORMULA_SIGNS))
    }

    #[test]
    fn what_begins_a_formula_is_guarded_and_nothing_else() {
        for (text, cell) in [
            ("Mia", "Mia"),
            ("=1+1", "'=1+1"),
            ("＝1+1", "'＝1+1"),
            ("  @x", "'  @x"),
            ("'Ole", "''Ole"),
            ("a;=1", "a;'=1"),
            ("a; \"＠x", "a; \"'＠x"),
            ("a;'=1", "a;''=1"),
            ("a; 'b'", "a; 'b'"),
            ("one\n- two", "one\n'- two"),
            ("\t=x", "'\t'=x"),
            ("1-2, -3", "1-2, -3"),
        ] {
            assert_eq!(guarded(text.to_owned()), cell);
            assert_eq!(unguarded(cell), text);
            assert!(!is_formula(cell), "{cell}");
        }
    }

    proptest! {
        #[test]
        fn any_text_is_safe_and_comes_back(
            parts in prop::collection::vec(
                prop::sample::select(vec![
                    "=", "+", "-", "@", "＝", "＋", "－", "＠", "'", "\"", ";", "|", ",", "\t",
                    "\n", "\r", " ", "a", "1", "\u{3000}", "é",
                ]),
                0..12,
            ),
            other in ".{0,12}",
        ) {
            for text in [parts.concat(), other] {
                let cell = guarded(text.clone());
                prop_assert!(!is_formula(&cell), "{cell:?}");
                prop_assert_eq!(unguarded(&cell), text);
            }
        }
    }
}
