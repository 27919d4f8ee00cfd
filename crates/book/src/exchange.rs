//! Taking the book's content out and in: as JSON, as CSV, and from another
//! teacher's book.
//!
//! All three carry the same sheets, one for each table, whose rows name
//! lessons and people by their random numbers. Taking a row in that is there
//! already does nothing, so anything can be taken in twice. What open lessons
//! are made again from is not carried: they can be taken up only where they
//! were held.

mod csv_files;
mod import;
mod json;

use std::path::Path;

use fifthpeg_core::Cause;
use rusqlite::types::Value;

use crate::error::OrBookError;
use crate::open::open_to_read;
use crate::tables::{Before, Cell, Column, OLDEST_EXPORT, each_row, sheets};
use crate::taken_as::TakenAs;
use crate::{Book, BookError, LessonId, Reader};
pub use csv_files::guarded;
use import::Import;

/// What was taken in.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct TakenIn {
    /// Lessons that were new to this book.
    pub lessons: u32,
    /// People who were new to this book.
    pub people: u32,
    /// Rows that were new to this book, of all kinds.
    pub rows: u64,
    /// People taken to be one with somebody of the same class and name here:
    /// class and name.
    pub joined: Vec<(String, String)>,
    /// People removed from the other book who are still in this one: class and
    /// name. Remove them here too, if that is what was asked for.
    pub removed_there: Vec<(String, String)>,
    /// Lessons left out, since they have not ended in this book.
    pub open_here: Vec<LessonId>,
}

impl Reader {
    /// Writes the book's content as JSON.
    ///
    /// # Errors
    /// [`BookError::File`], or when the book cannot be read.
    pub fn export_json(&self, path: &Path) -> Result<(), BookError> {
        json::export_file(&*self.snapshot()?, &self.path, path)
    }

    /// Writes the book's content as JSON to anything.
    ///
    /// # Errors
    /// [`BookError::File`], or when the book cannot be read.
    pub fn write_json(&self, out: impl std::io::Write) -> Result<(), BookError> {
        let to = Path::new("standard output");
        json::export(&*self.snapshot()?, &self.path, to, out)
    }

    /// Writes the book's content as CSV (RFC 4180), one file for each sheet,
    /// into a folder that is made if it is not there.
    ///
    /// A text that a spreadsheet would take for a formula gets an apostrophe
    /// in front, and loses it when it is taken in.
    ///
    /// # Errors
    /// [`BookError::File`], or when the book cannot be read.
    pub fn export_csv(&self, folder: &Path) -> Result<(), BookError> {
        csv_files::export(&*self.snapshot()?, &self.path, folder)
    }

    /// All of it as it is at one moment, also while a lesson is written.
    fn snapshot(&self) -> Result<rusqlite::Transaction<'_>, BookError> {
        self.connection.unchecked_transaction().at(&self.path)
    }
}

impl Book {
    /// From now on, taking in only tells what it would take in, and changes
    /// nothing.
    pub fn only_tell(&mut self) {
        self.only_tells = true;
    }

    /// From now on, what is taken in goes under these names.
    pub fn take_as(&mut self, names: TakenAs) {
        self.taken_as = names;
    }

    /// Takes in what [`Reader::export_json`] wrote: all of it or, where
    /// anything is wrong, nothing.
    ///
    /// # Errors
    /// [`BookError::BadImport`], [`BookError::File`], or what writing meets
    /// with.
    pub fn import_json(&mut self, path: &Path) -> Result<TakenIn, BookError> {
        let parsed = json::read(path)?;
        self.take_in(path, |import| json::import(&parsed, import))
    }

    /// Takes in what [`Reader::export_csv`] wrote: all of it or, where
    /// anything is wrong, nothing.
    ///
    /// # Errors
    /// [`BookError::BadImport`], [`BookError::File`], or what writing meets
    /// with.
    pub fn import_csv(&mut self, folder: &Path) -> Result<TakenIn, BookError> {
        self.take_in(folder, |import| csv_files::import(folder, import))
    }

    /// Takes in all of another book: another teacher's, or an older copy of
    /// this one. The other file is not changed.
    ///
    /// # Errors
    /// [`BookError`] of either file; then nothing was taken in.
    pub fn merge_book(&mut self, other: &Path) -> Result<TakenIn, BookError> {
        let reading = open_to_read(other)?;
        let reading = reading.unchecked_transaction().at(other)?;
        if let Some(fault) = crate::maintenance::first_spoilt(&reading, other)? {
            return Err(BookError::bad_import(other, fault));
        }
        self.take_in(other, |import| {
            for sheet in sheets() {
                each_row(&reading, sheet, |row| import.take(sheet, row))?;
            }
            Ok(())
        })
    }

    fn take_in(
        &mut self,
        from: &Path,
        fill: impl FnOnce(&mut Import<'_>) -> Result<(), Trouble>,
    ) -> Result<TakenIn, BookError> {
        let path = self.path.clone();
        let names = self.taken_as.clone();
        let step = self.connection.transaction().at(&path)?;
        let mut import = Import::new(&step, names);
        let filled = fill(&mut import).and_then(|()| import.done());
        let taken = match filled {
            Ok(taken) => taken,
            Err(Trouble::Bad(why)) => return Err(BookError::bad_import(from, why)),
            Err(Trouble::Sqlite(e)) => {
                // What does not fit the tables is the file's fault.
                return Err(match e.sqlite_error_code() {
                    None | Some(rusqlite::ErrorCode::ConstraintViolation) => {
                        BookError::bad_import(from, e)
                    }
                    Some(_) => BookError::from_sqlite(e, &path),
                });
            }
        };
        if self.only_tells {
            step.rollback().at(&path)?;
        } else {
            step.commit().at(&path)?;
        }
        Ok(taken)
    }
}

/// The names of the files that [`Reader::export_csv`] writes.
pub fn csv_files() -> Vec<String> {
    sheets().iter().map(csv_files::name_of).collect()
}

/// What stops taking in.
#[derive(Debug)]
enum Trouble {
    Bad(Cause),
    Sqlite(rusqlite::Error),
}

impl From<rusqlite::Error> for Trouble {
    fn from(error: rusqlite::Error) -> Self {
        Trouble::Sqlite(error)
    }
}

impl Trouble {
    fn bad(why: impl Into<Cause>) -> Self {
        Trouble::Bad(why.into())
    }

    /// What is bad, with where it stands in front.
    fn at(self, place: impl FnOnce() -> String) -> Self {
        match self {
            Trouble::Bad(why) => Trouble::Bad(why.told_as(|why| format!("{}{why}", place()))),
            other => other,
        }
    }
}

/// A value as text, for figures that are no numbers and for numbers in CSV.
fn figure_text(x: f64) -> String {
    format!("{x:?}")
}

fn unhex(column: &Column, text: &str) -> Result<Value, Trouble> {
    let number = Some(text).filter(|t| t.len() == 32);
    number
        .and_then(|t| u128::from_str_radix(t, 16).ok())
        .map(|n| Value::Blob(n.to_be_bytes().to_vec()))
        .ok_or_else(|| {
            Trouble::bad(format!(
                "{} {text} is not a number of 32 digits",
                column.name
            ))
        })
}

/// What stands for a column that a file does not have; files that do not say their
/// version may be of the oldest.
fn wanting(column: &Column, version: Option<u32>) -> Result<Value, Trouble> {
    let is_later = column.since > version.unwrap_or(OLDEST_EXPORT);
    match column.before {
        Before::Unknown if is_later => Ok(Value::Null),
        Before::Word(word) if is_later => Ok(Value::Text(word.to_owned())),
        _ => Err(Trouble::bad(format!("{} is wanting", column.name))),
    }
}

/// A text from a file, as what the column holds.
fn from_text(column: &Column, text: &str) -> Result<Value, Trouble> {
    let bad = || Trouble::bad(format!("{} {text} is no number", column.name));
    Ok(match column.kind.cell() {
        Cell::Text => Value::Text(text.to_owned()),
        _ if text.is_empty() => Value::Null,
        Cell::Word => Value::Text(text.to_owned()),
        Cell::Id => unhex(column, text)?,
        Cell::Whole => Value::Integer(text.parse().map_err(|_| bad())?),
        Cell::Figure => Value::Real(text.parse().map_err(|_| bad())?),
    })
}
