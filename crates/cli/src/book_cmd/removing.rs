//! Taking one person out wholly, and saying what that does not reach.

use std::path::{Path, PathBuf};

use fifthpeg_book::location::kept_copies;
use fifthpeg_book::reader::Person;
use fifthpeg_book::{Book, BookError, Holdings, Removed};
use fifthpeg_core::text::{count, one_line};
use fifthpeg_front::failure::Failure;

use super::talk::{say, sure};
use super::working::work;
use super::{shelf, who};
use crate::args::book::Where;

/// What no command on this machine can find.
const NOT_REACHED: &str = "not reached: reports, exports, copies, practice tracks and homework \
                           that were saved or sent, the books of other teachers, and backups of \
                           this machine; look for them and delete them by hand";

/// Removes a person, after asking.
pub fn remove(at: &Where, name: &str, yes: bool, delete_copies: bool) -> Result<(), Failure> {
    let path = shelf::there(at.book.as_deref())?;
    let reader = shelf::to_read(&path)?;
    let person = who::find(&reader, at, name)?;
    let held = reader.holdings(person.id).map_err(Failure::runtime)?;
    drop(reader);
    let book = shelf::to_write(&path)?;
    shelf::no_host(&book)?;
    if let Some(lesson) = held.open_lessons.first() {
        return Err(in_open_lesson(&person, lesson));
    }
    say(&before(&person, &held, &path, delete_copies))?;
    if !sure(yes, "This cannot be taken back.")? {
        return Ok(());
    }
    let id = person.id;
    let removed = work("removing", grows(&path), move || {
        let mut book = book;
        // A lesson may have begun while the question stood.
        shelf::no_host(&book)?;
        let removed = book
            .remove_person(id)
            .map_err(|error| failed(&book, id, error))?;
        if delete_copies {
            book.delete_copies().map_err(|why| {
                Failure::runtime(why)
                    .told(|why| format!("removed from the book, but a copy stays: {why}"))
            })?;
        }
        Ok(removed)
    })?;
    say(&after(&person, &removed, delete_copies))
}

/// A removal stands even if the file could not be written anew behind it.
fn failed(book: &Book, id: fifthpeg_book::PersonId, error: BookError) -> Failure {
    let gone = book.reader().and_then(|reader| reader.holdings(id));
    match gone {
        Err(BookError::NoPerson) if !matches!(error, BookError::NoPerson) => {
            Failure::runtime(error).told(|why| {
                format!(
                    "the person is removed, but what is left in freed parts of the file could not \
                     be wiped ({why}): then say fifthpeg book wipe"
                )
            })
        }
        _ => Failure::runtime(error),
    }
}

fn in_open_lesson(person: &Person, lesson: &str) -> Failure {
    Failure::runtime(format!(
        "{} is still in the lesson {}, which has not ended: start its host again and end it, \
         or say fifthpeg book close, then remove",
        one_line(&person.name),
        one_line(lesson)
    ))
}

/// The file and what SQLite writes beside it meanwhile.
fn grows(path: &Path) -> Vec<PathBuf> {
    let mut beside = path.as_os_str().to_owned();
    beside.push("-wal");
    vec![beside.into()]
}

fn before(person: &Person, held: &Holdings, path: &Path, delete_copies: bool) -> Vec<String> {
    let kinds = [
        (held.lessons, "lesson", "lessons"),
        (held.calls, "call", "calls"),
        (held.answers, "answer", "answers"),
        (held.tries, "try", "tries"),
        (held.hearings, "hearing", "hearings"),
        (held.sung, "sung note", "sung notes"),
        (held.notes, "note of yours", "notes of yours"),
    ]
    .map(|(number, one, more)| format!("{number} {}", if number == 1 { one } else { more }));
    let mut lines = vec![format!(
        "to be removed: {} of {}, with the person's part in {}",
        one_line(&person.name),
        one_line(&person.class),
        kinds.join(", ")
    )];
    for copy in kept_copies(path) {
        lines.push(format!(
            "an older copy of the book, with everybody's names then: {} ({})",
            copy.display(),
            if delete_copies {
                "to be deleted"
            } else {
                "it stays; --delete-copies deletes it"
            }
        ));
    }
    lines
}

fn after(person: &Person, removed: &Removed, delete_copies: bool) -> Vec<String> {
    let mut lines = vec![format!(
        "removed {} of {}; a random number alone stays, so that an older copy does not bring \
         the person back",
        one_line(&person.name),
        one_line(&person.class)
    )];
    if removed.notes_changed > 0 {
        lines.push(format!(
            "the name was taken out of {} on others",
            count(removed.notes_changed as usize, "note")
        ));
    }
    for name in &removed.still_named {
        lines.push(format!(
            "the name still stands in that of a class, a lesson or somebody else: {}",
            one_line(name)
        ));
    }
    for copy in &removed.copies {
        lines.push(if delete_copies {
            format!("deleted {}", copy.display())
        } else {
            format!(
                "not reached: {} still holds the name; delete it by hand",
                copy.display()
            )
        });
    }
    lines.push(NOT_REACHED.to_owned());
    lines
}

/// Writes the file anew.
pub fn wipe(at: &Where) -> Result<(), Failure> {
    let path = shelf::there(at.book.as_deref())?;
    let mut book = shelf::to_write(&path)?;
    shelf::no_host(&book)?;
    let shown = path.display().to_string();
    work("writing anew", grows(&path), move || {
        book.scrub().map_err(Failure::runtime)
    })?;
    say(&[format!(
        "written anew: {shown} holds nothing that was removed from it"
    )])
}
