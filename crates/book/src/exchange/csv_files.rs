//! As CSV: a folder with a file for each sheet, its columns named in the first
//! row.

use std::fs::File;
use std::path::{Path, PathBuf};

use rusqlite::Connection;
use rusqlite::types::Value;

use super::import::Import;
use super::sheet_list::{Column, Kind, Sheet, sheets};
use super::{Trouble, each_row, figure_text, from_text, hex};
use crate::BookError;

/// What a spreadsheet may take for a formula; the apostrophe is there so that
/// one in front is always ours (OWASP, "CSV Injection").
const FORMULA_SIGNS: [char; 7] = ['=', '+', '-', '@', '\t', '\r', '\''];

/// A text as it may stand in a cell.
pub(crate) fn guarded(text: String) -> String {
    if text.starts_with(FORMULA_SIGNS) {
        format!("'{text}")
    } else {
        text
    }
}

pub(super) fn name_of(sheet: &Sheet) -> String {
    format!("{}.csv", sheet.name)
}

fn file_of(folder: &Path, sheet: &Sheet) -> PathBuf {
    folder.join(name_of(sheet))
}

pub(super) fn export(connection: &Connection, book: &Path, folder: &Path) -> Result<(), BookError> {
    let trouble = |path: &Path, why: String| BookError::File {
        path: path.to_owned(),
        why,
    };
    std::fs::create_dir_all(folder).map_err(|e| trouble(folder, e.to_string()))?;
    for sheet in sheets() {
        let path = file_of(folder, &sheet);
        let file = File::create(&path).map_err(|e| trouble(&path, e.to_string()))?;
        let mut out = csv::Writer::from_writer(std::io::BufWriter::new(file));
        out.write_record(sheet.columns.iter().map(|c| c.name))
            .map_err(|e| trouble(&path, e.to_string()))?;
        each_row(connection, &sheet, |row| {
            let cells = sheet.columns.iter().zip(row).map(|(c, v)| cell(c, v));
            out.write_record(cells).map_err(ExportTrouble::Csv)
        })
        .map_err(|e| match e {
            ExportTrouble::Csv(e) => trouble(&path, e.to_string()),
            ExportTrouble::Sqlite(e) => BookError::from_sqlite(&e, book),
        })?;
        out.flush().map_err(|e| trouble(&path, e.to_string()))?;
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
        Value::Text(text) if column.kind == Kind::Text => guarded(text),
        Value::Text(text) => text,
    }
}

pub(super) fn import(folder: &Path, import: &mut Import<'_>) -> Result<(), Trouble> {
    for sheet in sheets() {
        let path = file_of(folder, &sheet);
        let name = name_of(&sheet);
        let bad = |why: String| Trouble::Bad(format!("{name}: {why}"));
        let file = File::open(&path).map_err(|e| bad(e.to_string()))?;
        let mut rows = csv::Reader::from_reader(std::io::BufReader::new(file));
        let header = rows.headers().map_err(|e| bad(e.to_string()))?.clone();
        // A spreadsheet may have put the columns into another order.
        let places: Result<Vec<Option<usize>>, Trouble> = sheet
            .columns
            .iter()
            .map(|column| {
                let place = header.iter().position(|h| h == column.name);
                if place.is_none() && !column.is_later {
                    return Err(bad(format!("column {} is wanting", column.name)));
                }
                Ok(place)
            })
            .collect();
        let places = places?;
        for (number, row) in rows.records().enumerate() {
            let bad = |why: String| Trouble::Bad(format!("{name}, row {}: {why}", number + 2));
            let row = row.map_err(|e| bad(e.to_string()))?;
            let values: Result<Vec<Value>, Trouble> = sheet
                .columns
                .iter()
                .zip(&places)
                .map(|(column, place)| {
                    let text = place.and_then(|place| row.get(place));
                    value(column, text.unwrap_or_default())
                })
                .collect();
            let taken = values.and_then(|values| import.take(&sheet, values));
            taken.map_err(|t| match t {
                Trouble::Bad(why) => bad(why),
                other => other,
            })?;
        }
    }
    Ok(())
}

fn value(column: &Column, text: &str) -> Result<Value, Trouble> {
    let text = match text.strip_prefix('\'') {
        Some(rest) if column.kind == Kind::Text => rest,
        _ => text,
    };
    from_text(column, text)
}
