//! As JSON: one object with the sheets by name, each a list of rows, each an
//! object with the columns by name. One row stands on one line.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::{BufReader, BufWriter, Write};
use std::path::Path;

use fifthpeg_core::text::{hex, plain_json};
use rusqlite::Connection;
use rusqlite::types::Value;
use serde::Deserialize;
use serde_json::{Map, Value as Json};

use super::import::Import;
use super::{Trouble, figure_text, from_text, wanting};
use crate::BookError;
use crate::columns::VERSION;
use crate::error::OrBookError;
use crate::tables::{Cell, Column, OLDEST_EXPORT, each_row, sheets};

const NAME: &str = "fifthpeg lesson book";

/// A file as read.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Parsed {
    name: String,
    version: u32,
    sheets: BTreeMap<String, Vec<Map<String, Json>>>,
}

pub(super) fn export_file(
    connection: &Connection,
    book: &Path,
    to: &Path,
) -> Result<(), BookError> {
    let file = File::create(to).map_err(|e| BookError::file(to, e))?;
    export(connection, book, to, BufWriter::new(file))
}

/// Writes to anything, which is called `to` in errors.
pub(super) fn export(
    connection: &Connection,
    book: &Path,
    to: &Path,
    mut out: impl Write,
) -> Result<(), BookError> {
    let trouble = |e: std::io::Error| BookError::file(to, e);
    let opening = format!("{{\"name\": \"{NAME}\", \"version\": {VERSION}, \"sheets\": {{");
    out.write_all(opening.as_bytes()).map_err(trouble)?;
    for (n, sheet) in sheets().iter().enumerate() {
        let comma = if n == 0 { "" } else { "," };
        write!(out, "{comma}\n\"{}\": [", sheet.table.name).map_err(trouble)?;
        let mut first = true;
        let mut failed = None;
        each_row(connection, sheet, |row| {
            let line = plain_json(&row_json(&sheet.columns, row).to_string());
            let comma = if first { "\n" } else { ",\n" };
            first = false;
            if failed.is_none() {
                failed = write!(out, "{comma}{line}").err();
            }
            Ok::<_, rusqlite::Error>(())
        })
        .at(book)?;
        if let Some(e) = failed {
            return Err(trouble(e));
        }
        out.write_all(b"]").map_err(trouble)?;
    }
    out.write_all(b"\n}}\n").map_err(trouble)?;
    out.flush().map_err(trouble)
}

fn row_json(columns: &[&Column], row: Vec<Value>) -> Json {
    let fields = columns.iter().zip(row).map(|(column, value)| {
        let value = match value {
            Value::Null => Json::Null,
            Value::Integer(n) => n.into(),
            // JSON has no word for what is no number.
            Value::Real(x) if !x.is_finite() => figure_text(x).into(),
            Value::Real(x) => x.into(),
            Value::Text(text) => text.into(),
            Value::Blob(bytes) => hex(&bytes).into(),
        };
        (column.name.to_owned(), value)
    });
    Json::Object(fields.collect())
}

pub(super) fn read(path: &Path) -> Result<Parsed, BookError> {
    let file = File::open(path).map_err(|e| BookError::file(path, e))?;
    let parsed: Parsed = serde_json::from_reader(BufReader::new(file))
        .map_err(|e| BookError::bad_import(path, e))?;
    let bad = |why: String| BookError::bad_import(path, why);
    if parsed.name != NAME {
        return Err(bad("it is not from a lesson book".to_owned()));
    }
    if !(OLDEST_EXPORT..=VERSION).contains(&parsed.version) {
        return Err(bad(format!(
            "it is of version {}, and this program reads versions {OLDEST_EXPORT} to {VERSION}",
            parsed.version
        )));
    }
    Ok(parsed)
}

pub(super) fn import(parsed: &Parsed, import: &mut Import<'_>) -> Result<(), Trouble> {
    for sheet in sheets() {
        let rows = parsed
            .sheets
            .get(sheet.table.name)
            .map_or(&[][..], Vec::as_slice);
        for (number, fields) in rows.iter().enumerate() {
            let which = || format!("row {} of {}: ", number + 1, sheet.table.name);
            let field = |c: &&'static Column| match fields.get(c.name) {
                Some(value) => field(c, value),
                None => wanting(c, Some(parsed.version)),
            };
            let row: Result<Vec<Value>, Trouble> = sheet.columns.iter().map(field).collect();
            row.and_then(|row| import.take(sheet, row))
                .map_err(|t| t.at(which))?;
        }
    }
    Ok(())
}

fn field(column: &Column, value: &Json) -> Result<Value, Trouble> {
    let bad = || Trouble::bad(format!("{} is not what it should be", column.name));
    Ok(match (value, column.kind.cell()) {
        (Json::Null, _) => Value::Null,
        (Json::String(text), Cell::Text | Cell::Word) => Value::Text(text.clone()),
        (Json::String(text), Cell::Id | Cell::Figure) => from_text(column, text)?,
        (Json::Number(n), Cell::Whole) => Value::Integer(n.as_i64().ok_or_else(bad)?),
        (Json::Number(n), Cell::Figure) => Value::Real(n.as_f64().ok_or_else(bad)?),
        _ => return Err(bad()),
    })
}
