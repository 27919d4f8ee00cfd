//! `fifthpeg book`: looking after the lesson book.
//!
//! ```text
//! args -> shelf (which book) -> who (which person) -> people, lessons, notes
//!                            -> working            -> out_and_in, keeping
//! ```

mod keeping;
mod lessons;
mod notes;
mod out_and_in;
mod people;
mod removing;
mod shelf;
mod talk;
mod who;
mod working;

use fifthpeg_front::failure::Failure;

use crate::args::book::{BookArgs, BookCommand};

/// Does what is asked with the lesson book.
///
/// # Errors
/// When what is asked for makes no sense or cannot be done; the book is then as
/// it was.
pub fn run(args: &BookArgs) -> Result<(), Failure> {
    match &args.command {
        BookCommand::People {
            take_back_key: Some(name),
            at,
        } => people::take_back_key(at, name),
        BookCommand::People { at, .. } => people::list(at),
        BookCommand::Rename { name, new_name, at } => people::rename(at, name, new_name),
        BookCommand::Merge {
            name,
            other,
            at,
            yes,
        } => people::merge(at, name, other, *yes),
        BookCommand::Remove {
            name,
            at,
            yes,
            delete_copies,
        } => removing::remove(at, name, *yes, *delete_copies),
        BookCommand::Wipe(at) => removing::wipe(at),
        BookCommand::Lessons(at) => lessons::list(at),
        BookCommand::Close { lesson, at, yes } => lessons::close(at, lesson.as_deref(), *yes),
        BookCommand::Note {
            text,
            student,
            lesson,
            at,
        } => notes::write(at, text, student.as_deref(), lesson.as_deref()),
        BookCommand::Notes { delete, at } => notes::list(at, delete.as_deref()),
        BookCommand::Export {
            form,
            to,
            replace,
            book,
        } => out_and_in::export(book.as_deref(), *form, to, *replace),
        BookCommand::Import(taking) => out_and_in::import(taking),
        BookCommand::TakeIn(taking) => out_and_in::take_in(taking),
        BookCommand::Copy { to, replace, book } => keeping::copy(book.as_deref(), to, *replace),
        BookCommand::Check { book } => keeping::check(book.as_deref()),
    }
}
