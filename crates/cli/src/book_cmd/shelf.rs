//! Which book is meant, opened for reading or for writing.

use std::path::{Path, PathBuf};

use fifthpeg_book::location::kept_copies;
use fifthpeg_book::{Book, BookError, OpenLesson, Reader, default_location};
use fifthpeg_core::text;
use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;

/// The book's file, whether it is there or not.
pub fn path(named: Option<&Path>) -> Result<PathBuf, Failure> {
    match named {
        Some(path) => Ok(path.to_owned()),
        None => default_location().ok_or_else(|| Failure::usage(BookError::NoDataFolder)),
    }
}

/// The file of a book that is there.
pub fn there(named: Option<&Path>) -> Result<PathBuf, Failure> {
    let path = path(named)?;
    if path.is_file() {
        return Ok(path);
    }
    Err(Failure::usage(format!(
        "there is no lesson book at {}: name one with --book",
        path.display()
    )))
}

/// Opens it for reading. One of an older version is brought up to date first,
/// as a host would do.
pub fn to_read(path: &Path) -> Result<Reader, Failure> {
    match Reader::open(path) {
        Err(BookError::Older { .. }) => to_write(path)?.reader().map_err(Failure::runtime),
        opened => opened.map_err(Failure::runtime),
    }
}

/// Opens it for writing. That one of an older version was brought up to date is
/// said on standard error.
pub fn to_write(path: &Path) -> Result<Book, Failure> {
    open(path).map_err(Failure::runtime)
}

fn open(path: &Path) -> Result<Book, BookError> {
    let before = kept_copies(path);
    let book = Book::open(path)?;
    for copy in kept_copies(path) {
        if !before.contains(&copy) {
            out::note(&format!(
                "note: the book was of an older version and was brought up to date; as it was, \
                 it stays at {}",
                copy.display()
            ));
        }
    }
    Ok(book)
}

/// Refuses what would make a lesson wait, or change it, while a host holds one
/// with this book.
pub fn no_host(book: &Book) -> Result<(), Failure> {
    let open = book.open_lessons().map_err(Failure::runtime)?;
    match open.iter().find(|lesson| lesson.runs) {
        None => Ok(()),
        Some(lesson) => Err(Failure::runtime(format!(
            "a host holds the lesson {} of {} with this book just now: end it there first",
            text::one_line(&lesson.name),
            text::one_line(&lesson.class)
        ))),
    }
}

/// A book to look at, with what is known of its open lessons if it may be
/// written.
pub struct Looked {
    /// For reading.
    pub reader: Reader,
    book: Option<Book>,
}

impl Looked {
    /// Lessons that have not ended; none are known of a book that may only be
    /// read.
    pub fn open_lessons(&self) -> Result<Vec<OpenLesson>, Failure> {
        let open = self.book.as_ref().map(Book::open_lessons);
        open.unwrap_or(Ok(Vec::new())).map_err(Failure::runtime)
    }
}

/// Opens a book to look at, also one that may not be written.
pub fn to_write_or_read(path: &Path) -> Result<Looked, Failure> {
    let book = match open(path) {
        Ok(book) => Some(book),
        Err(BookError::ReadOnly { .. }) => None,
        Err(other) => return Err(Failure::runtime(other)),
    };
    Ok(Looked {
        reader: to_read(path)?,
        book,
    })
}
