//! The lessons in the book, and those that were left open.

use fifthpeg_book::reader::LessonSummary;
use fifthpeg_book::{Book, LessonId, OpenLesson, Reader};
use fifthpeg_core::text::{count, one_line};
use fifthpeg_front::failure::Failure;
use fifthpeg_report::ask::{Ask, AskError};
use fifthpeg_report::asked::local_offset;
use fifthpeg_report::dates::Date;

use super::shelf;
use super::talk::{columns, say, sure};
use crate::args::book::Where;
use crate::join_cmd;
use crate::lesson_book::forget_passphrases;

fn of_classes(book: &Reader, at: &Where) -> Result<Vec<LessonSummary>, Failure> {
    let classes = match &at.class {
        Some(_) => vec![class(book, at)?],
        None => {
            let all = book.classes().map_err(Failure::runtime)?;
            all.into_iter().map(|class| class.name).collect()
        }
    };
    let mut lessons = Vec::new();
    for class in classes {
        lessons.extend(book.lessons(&class).map_err(Failure::runtime)?);
    }
    lessons.sort_by_key(|lesson| lesson.started_ms);
    Ok(lessons)
}

/// The class that is meant.
pub fn class(book: &Reader, at: &Where) -> Result<String, Failure> {
    let ask = Ask {
        class: at.class.clone(),
        ..Ask::default()
    };
    Ok(ask.find(book, &local_offset).map_err(asked)?.class)
}

/// The lesson that is meant, in its class.
pub fn lesson(book: &Reader, at: &Where, which: &str) -> Result<LessonId, Failure> {
    let ask = Ask {
        class: at.class.clone(),
        lesson: Some(which.to_owned()),
        ..Ask::default()
    };
    let found = ask.find(book, &local_offset).map_err(asked)?;
    found
        .lesson
        .ok_or_else(|| Failure::usage("say which lesson with --lesson"))
}

fn asked(error: AskError) -> Failure {
    match error {
        AskError::Book(_) => Failure::runtime(error),
        AskError::Empty => Failure::usage("the lesson book is empty: hold a lesson first"),
        _ => Failure::usage(error),
    }
}

/// A moment as it is here.
pub fn moment(unix_ms: i64) -> String {
    let date = Date::at(unix_ms, &local_offset);
    format!("{} {}", date.iso(), date.time())
}

/// Lists them, the earliest first.
pub fn list(at: &Where) -> Result<(), Failure> {
    let book = shelf::to_write_or_read(&shelf::there(at.book.as_deref())?)?;
    let open = book.open_lessons()?;
    let lessons = of_classes(&book.reader, at)?;
    if lessons.is_empty() {
        return say(&["no lesson is in the lesson book".to_owned()]);
    }
    let rows: Vec<[String; 8]> = lessons
        .iter()
        .map(|lesson| {
            [
                moment(lesson.started_ms),
                one_line(&lesson.class),
                one_line(&lesson.name),
                if lesson.alone { "alone" } else { "class" }.to_owned(),
                lesson.students.to_string(),
                lesson.calls.to_string(),
                format!("{} of {}", lesson.found, lesson.parts),
                state(lesson, &open).to_owned(),
            ]
        })
        .collect();
    let headings = [
        "began", "class", "lesson", "held", "students", "calls", "found", "ended",
    ];
    let mut lines = columns(headings, &rows);
    let left = lessons.iter().filter(|l| is_left(l, &open)).count();
    if left > 0 {
        lines.push(format!(
            "{} not ended: start the host again under the same name to go on, or say fifthpeg \
             book close",
            if left == 1 {
                "1 lesson has".to_owned()
            } else {
                format!("{left} lessons have")
            }
        ));
    }
    say(&lines)
}

fn state(lesson: &LessonSummary, open: &[OpenLesson]) -> &'static str {
    match (lesson.ended_ms, open.iter().find(|o| o.id == lesson.id)) {
        (Some(_), _) => "yes",
        (None, Some(open)) if open.runs => "held just now",
        (None, Some(_)) => "left open",
        // What it could be gone on from stayed where it was held.
        (None, None) => "open where it came from",
    }
}

fn is_left(lesson: &LessonSummary, open: &[OpenLesson]) -> bool {
    lesson.ended_ms.is_none() && !open.iter().any(|o| o.id == lesson.id && o.runs)
}

/// Ends lessons that were left open.
pub fn close(at: &Where, which: Option<&str>, yes: bool) -> Result<(), Failure> {
    let path = shelf::there(at.book.as_deref())?;
    let mut book = shelf::to_write(&path)?;
    let left = to_close(&book, at, which)?;
    if left.is_empty() {
        return say(&["no lesson was left open".to_owned()]);
    }
    let mut lines: Vec<String> = vec!["left open:".to_owned()];
    lines.extend(left.iter().map(|lesson| {
        format!(
            "{} {} of {}, {}, {}",
            moment(lesson.started_ms),
            one_line(&lesson.name),
            one_line(&lesson.class),
            count(lesson.students as usize, "student"),
            count(lesson.calls as usize, "call")
        )
    }));
    say(&lines)?;
    let question = "What was written stays, but nobody can go on with what is closed.";
    if !sure(yes, question)? {
        return Ok(());
    }
    for lesson in &left {
        book.give_up(lesson.id).map_err(Failure::runtime)?;
    }
    let state = join_cmd::state_folder();
    forget_passphrases(&book, state.as_deref()).map_err(Failure::runtime)?;
    say(&[format!("closed {}", count(left.len(), "lesson"))])
}

fn to_close(book: &Book, at: &Where, which: Option<&str>) -> Result<Vec<LessonSummary>, Failure> {
    let open = book.open_lessons().map_err(Failure::runtime)?;
    let reader = book.reader().map_err(Failure::runtime)?;
    let Some(which) = which else {
        let mut left = of_classes(&reader, at)?;
        left.retain(|lesson| is_left(lesson, &open));
        return Ok(left);
    };
    let id = lesson(&reader, at, which)?;
    let lesson = reader.lesson(id).map_err(Failure::runtime)?;
    if lesson.ended_ms.is_some() {
        return Err(Failure::usage(format!(
            "the lesson of {} has ended already: fifthpeg book lessons shows which have not",
            moment(lesson.started_ms)
        )));
    }
    if !is_left(&lesson, &open) {
        return Err(Failure::runtime(format!(
            "a host holds the lesson {} just now: end it there",
            one_line(&lesson.name)
        )));
    }
    Ok(vec![lesson])
}
