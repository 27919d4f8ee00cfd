//! Finds in the lesson book what a report was asked for.

use std::path::Path;

use fifthpeg_book::{Book, BookError, Reader, default_location};
use fifthpeg_front::failure::Failure;
use fifthpeg_front::out;

use crate::ask::{Ask, AskError, Subject};

/// Opens the lesson book named, or the usual one, for reading. An older one is
/// brought up to date first.
///
/// # Errors
/// One sentence when there is none, or it cannot be read.
pub fn open_book(named: Option<&Path>) -> Result<Reader, Failure> {
    let path = match named {
        Some(path) => path.to_owned(),
        None => default_location().ok_or_else(|| Failure::usage(BookError::NoDataFolder))?,
    };
    if !path.exists() {
        return Err(Failure::usage(format!(
            "there is no lesson book at {}: name one with --book",
            path.display()
        )));
    }
    match Reader::open(&path) {
        // Opened for writing once, it is brought up to date, and a copy kept.
        Err(BookError::Older { .. }) => Book::open(&path).and_then(|book| book.reader()),
        opened => opened,
    }
    .map_err(Failure::runtime)
}

/// Finds in the book what is asked for. Where neither a class nor a student was
/// named, it is the one class that had more than practice alone, which is said on
/// standard error.
///
/// # Errors
/// One sentence when it is not there.
pub fn find(ask: &Ask, book: &Reader) -> Result<Subject, Failure> {
    let failed = |error| match error {
        AskError::Book(_) => Failure::runtime(error),
        _ => Failure::usage(error),
    };
    match ask.find(book, &local_offset) {
        Err(which @ AskError::WhichClass { .. }) if ask.student.is_none() => {
            let (class, others) = usual_class(book)?.ok_or_else(|| failed(which))?;
            let ask = Ask {
                class: Some(class.clone()),
                ..ask.clone()
            };
            let subject = ask.find(book, &local_offset).map_err(failed)?;
            out::note(&format!(
                "note: this is about {class}; the lesson book also has practice alone in {others}: \
                 name it with --class to have it instead"
            ));
            Ok(subject)
        }
        found => found.map_err(failed),
    }
}

/// The one class that had lessons, and the names of the
/// others; `None` where there are several, or none.
fn usual_class(book: &Reader) -> Result<Option<(String, String)>, Failure> {
    let (mut held, mut others) = (Vec::new(), Vec::new());
    for class in book.classes().map_err(Failure::runtime)? {
        let lessons = book.lessons(&class.name).map_err(Failure::runtime)?;
        // One without any is as one of practice alone: nothing is to be told of it.
        let group = match lessons.iter().all(|lesson| lesson.alone) {
            true => &mut others,
            false => &mut held,
        };
        group.push(class.name);
    }
    Ok(match held.as_slice() {
        [one] => Some((one.clone(), others.join(", "))),
        _ => None,
    })
}

/// Seconds that clocks here are before UTC, at a time in UTC.
pub fn local_offset(unix_ms: i64) -> i32 {
    let zone = jiff::tz::TimeZone::system();
    jiff::Timestamp::from_millisecond(unix_ms).map_or(0, |at| zone.to_offset(at).seconds())
}
