//! Classes, people, lessons and notes.

use fifthpeg_lesson::message::StudentId;
use rusqlite::{Connection, Params, Row, params};

use super::Reader;
use crate::error::OrBookError;
use crate::names::folded;
use crate::{BookError, LessonId, Note, PersonId, stored};

/// A class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Class {
    /// Its name.
    pub name: String,
    /// People known in it.
    pub people: u32,
    /// Lessons it had.
    pub lessons: u32,
    /// When the last of them began: UTC in milliseconds since 1970.
    pub last_ms: Option<i64>,
}

/// A person, known by a name within a class.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Person {
    /// The person's number in every copy of the book.
    pub id: PersonId,
    /// The class.
    pub class: String,
    /// The name.
    pub name: String,
    /// Lessons the person came to.
    pub lessons: u32,
    /// When the last of them began: UTC in milliseconds since 1970.
    pub last_ms: Option<i64>,
}

/// A lesson in one line.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LessonSummary {
    /// The lesson's number in every copy of the book.
    pub id: LessonId,
    /// The class.
    pub class: String,
    /// The lesson's name.
    pub name: String,
    /// Whether somebody practised alone.
    pub alone: bool,
    /// The neck's name.
    pub neck: String,
    /// When it began: UTC in milliseconds since 1970.
    pub started_ms: i64,
    /// When it ended; `None` while it is open, or if its host was killed and
    /// never came back.
    pub ended_ms: Option<i64>,
    /// Students who had a seat in it, without those removed from the book.
    pub students: u32,
    /// Calls made.
    pub calls: u32,
    /// Parts that students had in these calls.
    pub parts: u32,
    /// Of these, found.
    pub found: u32,
    /// The reach at its end, as it is typed.
    pub reach: String,
}

const PERSON: &str = "person.id, class.name, person.name,
    (SELECT count(DISTINCT lesson) FROM seat WHERE seat.person = person.key),
    (SELECT max(started_ms) FROM seat JOIN lesson ON lesson.key = seat.lesson
     WHERE seat.person = person.key)";

fn person(row: &Row<'_>) -> rusqlite::Result<Person> {
    Ok(Person {
        id: row.get(0)?,
        class: row.get(1)?,
        name: row.get(2)?,
        lessons: row.get(3)?,
        last_ms: row.get(4)?,
    })
}

pub(super) fn list<T>(
    connection: &Connection,
    sql: &str,
    params: impl Params,
    read: impl FnMut(&Row<'_>) -> rusqlite::Result<T>,
) -> rusqlite::Result<Vec<T>> {
    connection
        .prepare_cached(sql)?
        .query_map(params, read)?
        .collect()
}

pub(super) fn seats(
    connection: &Connection,
    lesson: i64,
) -> rusqlite::Result<Vec<(StudentId, Person)>> {
    let sql = format!(
        "SELECT {PERSON}, seat.student FROM seat JOIN person ON person.key = seat.person
         JOIN class ON class.key = person.class WHERE seat.lesson = ?1 ORDER BY seat.student"
    );
    list(connection, &sql, [lesson], |row| {
        Ok((StudentId(row.get(5)?), person(row)?))
    })
}

impl Reader {
    /// Every class, by name.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn classes(&self) -> Result<Vec<Class>, BookError> {
        let sql = "SELECT name, (SELECT count(*) FROM person WHERE person.class = class.key),
                (SELECT count(*) FROM lesson WHERE lesson.class = class.key),
                (SELECT max(started_ms) FROM lesson WHERE lesson.class = class.key)
            FROM class ORDER BY folded";
        list(&self.connection, sql, [], |row| {
            Ok(Class {
                name: row.get(0)?,
                people: row.get(1)?,
                lessons: row.get(2)?,
                last_ms: row.get(3)?,
            })
        })
        .at(&self.path)
    }

    /// Everyone known in a class, by name.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn people(&self, class: &str) -> Result<Vec<Person>, BookError> {
        let sql = format!(
            "SELECT {PERSON} FROM person JOIN class ON class.key = person.class
             WHERE class.folded = ?1 ORDER BY person.folded"
        );
        list(&self.connection, &sql, [folded(class)], person).at(&self.path)
    }

    /// The person of that name in a class.
    ///
    /// # Errors
    /// [`BookError::NoPerson`], or when the book cannot be read.
    pub fn person(&self, class: &str, name: &str) -> Result<Person, BookError> {
        let sql = format!(
            "SELECT {PERSON} FROM person JOIN class ON class.key = person.class
             WHERE class.folded = ?1 AND person.folded = ?2"
        );
        let found = list(
            &self.connection,
            &sql,
            [folded(class), folded(name)],
            person,
        );
        found.at(&self.path)?.pop().ok_or(BookError::NoPerson)
    }

    /// The lessons of a class, the earliest first.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn lessons(&self, class: &str) -> Result<Vec<LessonSummary>, BookError> {
        self.summaries("class.folded = ?1", params![folded(class)])
    }

    /// One lesson in one line.
    ///
    /// # Errors
    /// [`BookError::NoLesson`], or when the book cannot be read.
    pub fn lesson(&self, id: LessonId) -> Result<LessonSummary, BookError> {
        let mut found = self.summaries("lesson.id = ?1", params![id])?;
        found.pop().ok_or(BookError::NoLesson)
    }

    fn summaries(&self, which: &str, params: impl Params) -> Result<Vec<LessonSummary>, BookError> {
        let sql = format!(
            "SELECT lesson.id, class.name, lesson.name, neck.neck, started_ms, ended_ms,
                (SELECT count(*) FROM seat WHERE seat.lesson = lesson.key),
                (SELECT count(*) FROM call WHERE call.lesson = lesson.key),
                (SELECT count(*) FROM part WHERE part.lesson = lesson.key),
                (SELECT count(*) FROM answer WHERE answer.lesson = lesson.key AND correct = 1),
                (SELECT reach FROM rules WHERE rules.lesson = lesson.key ORDER BY seq DESC LIMIT 1),
                lesson.held = 'alone'
             FROM lesson JOIN class ON class.key = lesson.class JOIN neck ON neck.key = lesson.neck
             WHERE {which} ORDER BY started_ms, lesson.id"
        );
        list(&self.connection, &sql, params, |row| {
            let neck: String = row.get(3)?;
            Ok(LessonSummary {
                id: row.get(0)?,
                class: row.get(1)?,
                name: row.get(2)?,
                // What is wrong with it is said by whoever reads the lesson.
                neck: stored::read_neck(&neck).map_or_else(|_| String::new(), |n| n.name),
                started_ms: row.get(4)?,
                ended_ms: row.get(5)?,
                students: row.get(6)?,
                calls: row.get(7)?,
                parts: row.get(8)?,
                found: row.get(9)?,
                reach: row.get::<_, Option<String>>(10)?.unwrap_or_default(),
                alone: row.get::<_, Option<bool>>(11)?.unwrap_or_default(),
            })
        })
        .at(&self.path)
    }

    /// The notes on a class, its lessons and its people, the earliest first.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn notes(&self, class: &str) -> Result<Vec<Note>, BookError> {
        let sql = "SELECT note.id, class.name, lesson.id, call, person.id, unix_ms, text
             FROM note JOIN class ON class.key = note.class
             LEFT JOIN lesson ON lesson.key = note.lesson
             LEFT JOIN person ON person.key = note.person
             WHERE class.folded = ?1 ORDER BY unix_ms, note.id";
        list(&self.connection, sql, [folded(class)], |row| {
            Ok(Note {
                id: row.get(0)?,
                class: row.get(1)?,
                lesson: row.get(2)?,
                call: row.get(3)?,
                person: row.get(4)?,
                unix_ms: row.get(5)?,
                text: row.get(6)?,
            })
        })
        .at(&self.path)
    }
}
