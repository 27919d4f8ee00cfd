//! Who is in the book, another name for somebody, and two entries made one.

use fifthpeg_book::reader::Person;
use fifthpeg_book::{Book, BookError, PersonId, Reader};
use fifthpeg_core::text::{count, one_line};
use fifthpeg_front::failure::Failure;
use fifthpeg_report::asked::local_offset;
use fifthpeg_report::dates::Date;

use super::talk::{columns, say, sure};
use super::{shelf, who};
use crate::args::book::Where;
use fifthpeg_link::clock::unix_ms;

/// Digits of a person's number that are shown.
const DIGITS: usize = 8;

/// Lists everyone.
pub fn list(at: &Where) -> Result<(), Failure> {
    let book = shelf::to_read(&shelf::there(at.book.as_deref())?)?;
    let people = who::everyone(&book, at.class.as_deref())?;
    if people.is_empty() {
        return say(&["nobody is in the lesson book".to_owned()]);
    }
    let held = book.class_keys(unix_ms()).map_err(Failure::runtime)?;
    let used = |person: PersonId| {
        let last = held.iter().filter(|key| key.person == person);
        last.map(|key| key.used_ms).max()
    };
    let rows: Vec<[String; 6]> = people
        .iter()
        .map(|person| {
            [
                one_line(&person.class),
                one_line(&person.name),
                person.lessons.to_string(),
                day(person.last_ms),
                used(person.id).map_or_else(|| "-".to_owned(), |ms| day(Some(ms))),
                number(person.id),
            ]
        })
        .collect();
    let mut lines = columns(
        [
            "class",
            "name",
            "lessons",
            "last seen",
            "class key used",
            "number",
        ],
        &rows,
    );
    for (one, other) in who::alike(&people) {
        lines.push(format!(
            "alike: {} and {} of {}; if they are one person: fifthpeg book merge",
            one_line(&one.name),
            one_line(&other.name),
            one_line(&one.class)
        ));
    }
    say(&lines)
}

/// Takes somebody's class key back.
pub fn take_back_key(at: &Where, name: &str) -> Result<(), Failure> {
    let path = shelf::there(at.book.as_deref())?;
    let person = who::find(&shelf::to_read(&path)?, at, name)?;
    let mut book = shelf::to_write(&path)?;
    let taken = book.revoke_keys(person.id).map_err(Failure::runtime)?;
    let (name, class) = (one_line(&person.name), one_line(&person.class));
    say(&[if taken > 0 {
        format!(
            "the class key of {name} of {class} is taken back: the passphrase is asked for; the \
             machine keeps a file that opens nothing (fifthpeg join --forget-keys deletes it)"
        )
    } else {
        format!("{name} of {class} has no class key")
    }])
}

/// A day as it is here, or that there was none.
pub fn day(unix_ms: Option<i64>) -> String {
    unix_ms.map_or_else(
        || "never".to_owned(),
        |ms| Date::at(ms, &local_offset).iso(),
    )
}

fn number(id: PersonId) -> String {
    id.to_string().chars().take(DIGITS).collect()
}

/// Gives somebody another name.
pub fn rename(at: &Where, name: &str, new_name: &str) -> Result<(), Failure> {
    let path = shelf::there(at.book.as_deref())?;
    let person = who::find(&shelf::to_read(&path)?, at, name)?;
    let mut book = shelf::to_write(&path)?;
    book.rename_person(person.id, new_name)
        .map_err(|error| match error {
            BookError::NameTaken => Failure::usage(format!(
                "{} has somebody called {} already: choose another name, or say \
                 fifthpeg book merge if they are one person",
                one_line(&person.class),
                one_line(new_name)
            )),
            other => Failure::runtime(other),
        })?;
    let mut lines = vec![
        format!(
            "{} of {} is called {} from now on, in every lesson",
            one_line(&person.name),
            one_line(&person.class),
            one_line(new_name)
        ),
        format!(
            "the next time, type {} to join: another name makes another entry",
            one_line(new_name)
        ),
    ];
    lines.extend(still_shown(&book, person.id)?);
    say(&lines)
}

/// What a lesson that has not ended does with it.
fn still_shown(book: &Book, person: PersonId) -> Result<Option<String>, Failure> {
    let reader = book.reader().map_err(Failure::runtime)?;
    let open = reader
        .holdings(person)
        .map_err(Failure::runtime)?
        .open_lessons;
    Ok(open.first().map(|lesson| {
        format!(
            "the lesson {}, which has not ended, shows the old name until it does; nothing of it \
             is lost",
            one_line(lesson)
        )
    }))
}

/// Makes two entries one.
pub fn merge(at: &Where, name: &str, other: &str, yes: bool) -> Result<(), Failure> {
    let path = shelf::there(at.book.as_deref())?;
    let reader = shelf::to_read(&path)?;
    let stays = who::find(&reader, at, name)?;
    let goes = who::find(&reader, at, other)?;
    if stays.id == goes.id {
        return Err(Failure::usage(
            "these are one entry already: give the two names that book people shows",
        ));
    }
    if stays.class != goes.class {
        return Err(Failure::usage(format!(
            "{} is in {} and {} in {}: only two entries of one class can be made one",
            one_line(&stays.name),
            one_line(&stays.class),
            one_line(&goes.name),
            one_line(&goes.class)
        )));
    }
    let together = sat_together(&reader, &stays, &goes)?;
    drop(reader);
    let mut question = format!(
        "{} of {} ({}) will be part of {} ({}), which cannot be taken apart again.",
        one_line(&goes.name),
        one_line(&goes.class),
        count(goes.lessons as usize, "lesson"),
        one_line(&stays.name),
        count(stays.lessons as usize, "lesson")
    );
    if together > 0 {
        question.push_str(&format!(
            " Both were in {}: look twice whether they are one person.",
            match together {
                1 => "the same lesson".to_owned(),
                n => format!("{n} of the same lessons"),
            }
        ));
    }
    if !sure(yes, &question)? {
        return Ok(());
    }
    let mut book = shelf::to_write(&path)?;
    book.merge_people(stays.id, goes.id)
        .map_err(Failure::runtime)?;
    let now = book
        .reader()
        .and_then(|r| r.person(&stays.class, &stays.name));
    let now = now.map_err(Failure::runtime)?;
    let mut lines = vec![format!(
        "{} of {} has done what {} did: {}",
        one_line(&now.name),
        one_line(&now.class),
        one_line(&goes.name),
        count(now.lessons as usize, "lesson")
    )];
    lines.extend(still_shown(&book, now.id)?);
    say(&lines)
}

/// In how many lessons both had a place.
fn sat_together(book: &Reader, one: &Person, other: &Person) -> Result<usize, Failure> {
    let mut together = 0;
    for lesson in book.lessons(&one.class).map_err(Failure::runtime)? {
        let seats = book.seats(lesson.id).map_err(Failure::runtime)?;
        let sits = |who: &Person| seats.iter().any(|(_, person)| person.id == who.id);
        together += usize::from(sits(one) && sits(other));
    }
    Ok(together)
}
