//! The teacher's own notes.

use fifthpeg_book::Note;
use fifthpeg_core::text::{one_line, shown};
use fifthpeg_front::failure::Failure;

use super::lessons::{class, lesson, moment};
use super::talk::say;
use super::{shelf, who};
use crate::args::book::Where;

/// Digits of a note's number that are shown and typed.
const DIGITS: usize = 8;
/// Longest note: some paragraphs.
const MOST_CHARS: usize = 4000;

/// Writes a note.
pub fn write(
    at: &Where,
    note: &str,
    student: Option<&str>,
    which: Option<&str>,
) -> Result<(), Failure> {
    let length = note.chars().count();
    if note.trim().is_empty() || length > MOST_CHARS {
        return Err(Failure::usage(format!(
            "a note has 1 to {MOST_CHARS} letters, and this has {length}: write it in quotes"
        )));
    }
    let path = shelf::there(at.book.as_deref())?;
    let reader = shelf::to_read(&path)?;
    let person = student
        .map(|name| who::find(&reader, at, name))
        .transpose()?;
    // Somebody's class is the note's.
    let at = Where {
        class: person
            .as_ref()
            .map_or(at.class.clone(), |p| Some(p.class.clone())),
        ..at.clone()
    };
    let class = class(&reader, &at)?;
    let lesson = which.map(|which| lesson(&reader, &at, which)).transpose()?;
    let mut made = Note::new(&class, note, fifthpeg_link::clock::unix_ms()).map_err(|why| {
        Failure::runtime(why).told(|why| {
            format!("this system has no random numbers to give ({why}): start it again")
        })
    })?;
    made.lesson = lesson;
    made.person = person.as_ref().map(|p| p.id);
    drop(reader);
    let mut book = shelf::to_write(&path)?;
    book.write_note(&made).map_err(Failure::runtime)?;
    say(&[format!(
        "written down as {}; it goes into no report about one student",
        number(&made)
    )])
}

fn number(note: &Note) -> String {
    note.id.to_string().chars().take(DIGITS).collect()
}

/// Lists the notes, or deletes one.
pub fn list(at: &Where, delete: Option<&str>) -> Result<(), Failure> {
    let path = shelf::there(at.book.as_deref())?;
    let reader = shelf::to_read(&path)?;
    let classes = match &at.class {
        Some(_) => vec![class(&reader, at)?],
        None => {
            let all = reader.classes().map_err(Failure::runtime)?;
            all.into_iter().map(|c| c.name).collect()
        }
    };
    let people = who::everyone(&reader, None)?;
    let mut notes = Vec::new();
    for class in &classes {
        notes.extend(reader.notes(class).map_err(Failure::runtime)?);
    }
    if let Some(digits) = delete {
        drop(reader);
        return take_out(&path, &notes, digits);
    }
    if notes.is_empty() {
        return say(&["no note is in the lesson book".to_owned()]);
    }
    let mut lines = Vec::new();
    for note in &notes {
        let mut about = vec![one_line(&note.class)];
        let person = people.iter().find(|p| Some(p.id) == note.person);
        about.extend(person.map(|p| one_line(&p.name)));
        if let Some(id) = note.lesson {
            let lesson = reader.lesson(id).map_err(Failure::runtime)?;
            about.push(format!("lesson of {}", moment(lesson.started_ms)));
        }
        about.extend(note.call.map(|call| format!("call {call}")));
        lines.push(format!(
            "{} {} ({}): {}",
            number(note),
            moment(note.unix_ms),
            about.join(", "),
            one_line(&note.text)
        ));
    }
    say(&lines)
}

fn take_out(path: &std::path::Path, notes: &[Note], digits: &str) -> Result<(), Failure> {
    let wanted = digits.to_lowercase();
    let fits = |note: &&Note| digits.len() >= 4 && note.id.to_string().starts_with(&wanted);
    let found: Vec<&Note> = notes.iter().filter(fits).collect();
    let [note] = found.as_slice() else {
        return Err(Failure::usage(format!(
            "\"{}\" is not the number of one note: fifthpeg book notes shows the numbers",
            shown(digits)
        )));
    };
    let mut book = shelf::to_write(path)?;
    book.delete_note(note.id).map_err(Failure::runtime)?;
    say(&[format!("deleted {}", number(note))])
}
