//! Each call as a student met it: what the reports show and the choice of
//! practice learns from.

use core::time::Duration;
use std::collections::BTreeMap;

use fifthpeg_core::{Pitch, Position};
use fifthpeg_lesson::marking::{Mark, Marking};
use fifthpeg_lesson::message::{Answer, CallId, Source, StudentId, Voice};
use fifthpeg_lesson::singing::SungMark;
use fifthpeg_lesson::{Moment, Picked};
use rusqlite::types::Value;
use rusqlite::{Connection, Row};

use super::Reader;
use super::lists::list;
use crate::error::OrBookError;
use crate::from_rows::{answer, mark, maybe_word, micros, moment, pitch, place, word};
use crate::names::folded;
use crate::record::Calendar;
use crate::{BookError, LessonId, PersonId};

/// Whose calls are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose<'a> {
    /// One person's, over all lessons.
    Person(PersonId),
    /// Everyone's of a class, over all lessons.
    Class(&'a str),
    /// Everyone's in one lesson.
    Lesson(LessonId),
}

/// One call as one student met it.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonCall {
    /// Who.
    pub person: PersonId,
    /// In which lesson.
    pub lesson: LessonId,
    /// Under which number there.
    pub student: StudentId,
    /// Which call.
    pub call: CallId,
    /// When it was made: UTC in milliseconds since 1970.
    pub unix_ms: i64,
    /// The target.
    pub pitch: Pitch,
    /// The place picked, if one was.
    pub place: Option<Position>,
    /// Where the target came from; `None` if it was written down before that
    /// was kept.
    pub picked: Option<Picked>,
    /// What counted as right.
    pub marking: Marking,
    /// The voice it was sounded in.
    pub voice: Voice,
    /// The student came in while it was open.
    pub late: bool,
    /// Found, revealed or closed: it counts. Not so while it is open.
    pub over: bool,
    /// The answers, oldest first.
    pub answers: Vec<GivenAnswer>,
    /// Hearings asked for beyond the free one.
    pub hearings: u32,
    /// Places and pitches tried.
    pub tries: u32,
    /// Of these, on the instrument.
    pub tries_played: u32,
    /// The sung note nearest to the target or an octave of it.
    pub sung: Option<SungMark>,
}

/// One answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GivenAnswer {
    /// Its serial.
    pub serial: u32,
    /// What was answered.
    pub answer: Answer,
    /// Where from.
    pub source: Source,
    /// The mark in full, with the kind of miss.
    pub mark: Mark,
    /// Response time on the student's clock, if known.
    pub response: Option<Duration>,
    /// How far it may be off either way.
    pub uncertainty: Duration,
}

/// One try.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PersonTry {
    /// Who.
    pub person: PersonId,
    /// In which lesson.
    pub lesson: LessonId,
    /// For which call.
    pub call: CallId,
    /// When, on that lesson's clock.
    pub at: Moment,
    /// What was tried.
    pub tried: Answer,
    /// Where from.
    pub source: Source,
}

impl PersonCall {
    /// The right answer, if there is one.
    pub fn right(&self) -> Option<&GivenAnswer> {
        self.answers.iter().find(|a| a.mark.is_right())
    }

    /// Whether it was found.
    pub fn found(&self) -> bool {
        self.right().is_some()
    }

    /// Whether it was found with the first answer.
    pub fn found_first(&self) -> bool {
        self.answers.first().is_some_and(|a| a.mark.is_right())
    }

    /// Response time of the right answer and how far it may be off.
    pub fn time(&self) -> Option<(Duration, Duration)> {
        let right = self.right()?;
        Some((right.response?, right.uncertainty))
    }

    /// Whether a sung note was the target in any octave.
    pub fn sang_it(&self) -> bool {
        self.sung.is_some_and(SungMark::is_it)
    }
}

impl Whose<'_> {
    /// Which index to look through a table by. Without being told, SQLite goes
    /// through whole lessons for one person, or a lesson's hearings for each
    /// call.
    fn index(&self, table: &str) -> String {
        match self {
            Whose::Person(_) => format!("{table} INDEXED BY {table}_student"),
            Whose::Class(_) | Whose::Lesson(_) => table.to_owned(),
        }
    }

    fn condition(&self) -> (&'static str, Value) {
        let blob = |id: u128| Value::Blob(id.to_be_bytes().to_vec());
        match self {
            // By its key, so that the index of seats by person is used.
            Whose::Person(id) => (
                "seat.person = (SELECT key FROM person WHERE id = ?1)",
                blob(id.0),
            ),
            Whose::Class(name) => (
                "seat.lesson IN (SELECT lesson.key FROM lesson JOIN class
                 ON class.key = lesson.class WHERE class.folded = ?1)",
                Value::Text(folded(name)),
            ),
            Whose::Lesson(id) => (
                "seat.lesson = (SELECT key FROM lesson WHERE id = ?1)",
                blob(id.0),
            ),
        }
    }
}

/// A call of one student: keys of lesson and call, and the student's number.
type PartKey = (i64, u32, u32);

fn part_key(row: &Row<'_>) -> rusqlite::Result<PartKey> {
    Ok((row.get("lesson")?, row.get("call")?, row.get("student")?))
}

impl Reader {
    /// Calls as students met them, in order of lessons' beginnings, calls and
    /// students.
    ///
    /// # Errors
    /// What reading meets with.
    pub fn calls(&self, whose: Whose<'_>) -> Result<Vec<PersonCall>, BookError> {
        calls(&self.connection, whose).at(&self.path)
    }

    /// Tries, in order of lessons' beginnings and of trying.
    ///
    /// # Errors
    /// What reading meets with.
    pub fn tries(&self, whose: Whose<'_>) -> Result<Vec<PersonTry>, BookError> {
        let (condition, value) = whose.condition();
        let sql = format!(
            "SELECT person.id AS person_id, lesson.id AS lesson_id, try.* FROM seat
             JOIN {table} ON try.lesson = seat.lesson AND try.student = seat.student
             JOIN lesson ON lesson.key = seat.lesson JOIN person ON person.key = seat.person
             WHERE {condition} ORDER BY lesson.started_ms, lesson.id, try.seq",
            table = whose.index("try")
        );
        list(&self.connection, &sql, [value], |row| {
            Ok(PersonTry {
                person: row.get("person_id")?,
                lesson: row.get("lesson_id")?,
                call: CallId(row.get("call")?),
                at: moment(row, "at_us")?,
                tried: answer(row)?,
                source: word(row, "source")?,
            })
        })
        .at(&self.path)
    }
}

fn calls(connection: &Connection, whose: Whose<'_>) -> rusqlite::Result<Vec<PersonCall>> {
    let (condition, value) = whose.condition();
    let mut answers = answers(connection, whose)?;
    let mut sung = sung(connection, whose)?;
    let mut calendars: BTreeMap<i64, Calendar> = BTreeMap::new();
    let sql = format!(
        "SELECT part.*, person.id AS person_id, lesson.id AS lesson_id, call.at_us AS at_us,
            call.pitch AS pitch, call.string AS string, call.fret AS fret,
            call.picked AS picked, call.marking AS marking, call.voice AS voice,
            EXISTS (SELECT 1 FROM stage WHERE stage.lesson = part.lesson
                    AND stage.call = part.call) AS ended,
            (SELECT count(*) FROM hearing INDEXED BY hearing_student WHERE hearing.lesson = part.lesson
             AND hearing.student = part.student AND hearing.call = part.call
             AND what = 'asked') AS hearings,
            (SELECT count(*) FROM try INDEXED BY try_student WHERE try.lesson = part.lesson
             AND try.student = part.student AND try.call = part.call) AS tries,
            (SELECT count(*) FROM try INDEXED BY try_student WHERE try.lesson = part.lesson
             AND try.student = part.student AND try.call = part.call
             AND source = 'instrument') AS played
         FROM seat JOIN {part} ON part.lesson = seat.lesson AND part.student = seat.student
         JOIN call ON call.lesson = part.lesson AND call.call = part.call
         JOIN lesson ON lesson.key = seat.lesson JOIN person ON person.key = seat.person
         WHERE {condition} ORDER BY lesson.started_ms, lesson.id, part.call, part.student",
        part = whose.index("part")
    );
    list(connection, &sql, [value], |row| {
        let key = part_key(row)?;
        let calendar = match calendars.get(&key.0) {
            Some(known) => known,
            None => {
                let read = Calendar::of(connection, key.0)?;
                calendars.entry(key.0).or_insert(read)
            }
        };
        let answers = answers.remove(&key).unwrap_or_default();
        let found = answers.iter().any(|a: &GivenAnswer| a.mark.is_right());
        Ok(PersonCall {
            person: row.get("person_id")?,
            lesson: row.get("lesson_id")?,
            student: StudentId(key.2),
            call: CallId(key.1),
            unix_ms: calendar.unix_ms(moment(row, "at_us")?),
            pitch: pitch(row, "pitch")?,
            place: place(row)?,
            picked: maybe_word(row, "picked")?,
            marking: word(row, "marking")?,
            voice: word(row, "voice")?,
            late: row.get("late")?,
            over: found || row.get("ended")?,
            answers,
            hearings: row.get("hearings")?,
            tries: row.get("tries")?,
            tries_played: row.get("played")?,
            sung: sung.remove(&key),
        })
    })
}

fn answers(
    connection: &Connection,
    whose: Whose<'_>,
) -> rusqlite::Result<BTreeMap<PartKey, Vec<GivenAnswer>>> {
    let (condition, value) = whose.condition();
    let sql = format!(
        "SELECT answer.* FROM seat
         JOIN {table} ON answer.lesson = seat.lesson AND answer.student = seat.student
         WHERE {condition} ORDER BY answer.lesson, answer.seq",
        table = whose.index("answer")
    );
    let mut all: BTreeMap<PartKey, Vec<GivenAnswer>> = BTreeMap::new();
    let mut statement = connection.prepare_cached(&sql)?;
    let mut rows = statement.query([value])?;
    while let Some(row) = rows.next()? {
        all.entry(part_key(row)?).or_default().push(GivenAnswer {
            serial: row.get("serial")?,
            answer: answer(row)?,
            source: word(row, "source")?,
            mark: mark(row)?,
            response: micros(row, "response_us")?,
            uncertainty: micros(row, "uncertainty_us")?.unwrap_or_default(),
        });
    }
    Ok(all)
}

fn sung(
    connection: &Connection,
    whose: Whose<'_>,
) -> rusqlite::Result<BTreeMap<PartKey, SungMark>> {
    // The last of several rows with one key stays: the nearest.
    let (condition, value) = whose.condition();
    let sql = format!(
        "SELECT sung.* FROM seat
         JOIN {table} ON sung.lesson = seat.lesson AND sung.student = seat.student
         WHERE {condition} ORDER BY abs(cents) DESC, seq DESC",
        table = whose.index("sung")
    );
    let nearest = list(connection, &sql, [value], |row| {
        let mark = SungMark {
            octaves: row.get("octaves")?,
            cents: row.get::<_, f64>("cents")? as f32,
            exact: row.get("exact")?,
        };
        Ok((part_key(row)?, mark))
    })?;
    Ok(nearest.into_iter().collect())
}
