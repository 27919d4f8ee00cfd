//! Writing down what a lesson took in and what came of it.

use std::collections::BTreeMap;

use fifthpeg_lesson::input::GivenInput;
use fifthpeg_lesson::message::{CallId, StudentId};
use fifthpeg_lesson::{LessonEvent, Moment};
use rusqlite::{Connection, OptionalExtension, params};

use crate::ids::PersonId;
use crate::names::{folded, kept};
use crate::notes::Note;
use crate::to_rows::{EventRow, digest, event_row, moment};
use crate::{LessonId, seal, stored};

/// What is stored at once: everything of it, or nothing.
#[derive(Debug, Clone, Default)]
pub struct Batch {
    /// What the lesson was given, in order. A refused join can be left out.
    pub inputs: Vec<GivenInput>,
    /// What came of it, in order; every event of a lesson exactly once, from
    /// its first.
    pub events: Vec<LessonEvent>,
    /// The host's notes.
    pub notes: Vec<Note>,
}

/// How far a lesson is written down.
#[derive(Debug, Clone)]
pub(crate) struct WrittenSoFar {
    /// The lesson's number in this file.
    pub key: i64,
    pub id: LessonId,
    pub class: i64,
    pub inputs: i64,
    pub events: i64,
    pub digest: u64,
    pub last: Moment,
    pub ended: bool,
    /// It is sealed as it is.
    pub sealed: bool,
}

/// Writes one batch, within a transaction of the caller's, which also has
/// [`note_progress`] in it.
pub(crate) fn write(
    connection: &Connection,
    progress: &mut WrittenSoFar,
    batch: &Batch,
) -> rusqlite::Result<()> {
    for GivenInput { at, input } in &batch.inputs {
        progress.last = progress.last.max(*at);
        if !progress.ended {
            connection
                .prepare_cached(
                    "INSERT INTO input (lesson, number, at_us, input) VALUES (?1, ?2, ?3, ?4)",
                )?
                .execute(params![
                    progress.key,
                    progress.inputs,
                    moment(*at),
                    stored::write_input(input)
                ])?;
        }
        progress.inputs += 1;
    }
    for event in &batch.events {
        write_event(connection, progress, event)?;
    }
    for note in &batch.notes {
        crate::notes::write(connection, note)?;
    }
    Ok(())
}

/// Writes how far a lesson is written down: once in a transaction, after its
/// batches.
pub(crate) fn note_progress(
    connection: &Connection,
    progress: &mut WrittenSoFar,
) -> rusqlite::Result<()> {
    if progress.ended {
        // Its log is gone.
        if !progress.sealed {
            seal::seal(connection, progress.key)?;
            progress.sealed = true;
        }
        return Ok(());
    }
    connection
        .prepare_cached("UPDATE log SET events = ?2, digest = ?3, last_us = ?4 WHERE lesson = ?1")?
        .execute(params![
            progress.key,
            progress.events,
            progress.digest as i64,
            moment(progress.last)
        ])
        .map(drop)
}

fn write_event(
    connection: &Connection,
    progress: &mut WrittenSoFar,
    event: &LessonEvent,
) -> rusqlite::Result<()> {
    let row = event_row(event);
    if let LessonEvent::Joined {
        student,
        name,
        returning: false,
        ..
    } = event
    {
        seat(connection, progress, *student, name)?;
    }
    if let Some(row) = &row {
        insert(connection, progress, row)?;
        progress.digest = digest(progress.digest, row);
        progress.last = progress.last.max(row.at);
    }
    progress.events += 1;
    progress.sealed = false;
    match event {
        LessonEvent::KnownAs {
            student,
            name,
            person,
            before,
            ..
        } => {
            let known = Known {
                name,
                person: person.map(|key| PersonId(key.0)),
                before: *before,
            };
            known_as(connection, progress, *student, &known)
        }
        LessonEvent::Joined { student, .. } => late_part(connection, progress.key, *student),
        LessonEvent::CallMade { call, present, .. } => {
            for student in present {
                part(connection, progress.key, *call, *student)?;
            }
            Ok(())
        }
        LessonEvent::Ended { at } => end(connection, progress, *at),
        _ => Ok(()),
    }
}

fn insert(
    connection: &Connection,
    progress: &WrittenSoFar,
    row: &EventRow,
) -> rusqlite::Result<()> {
    let mut statement = connection.prepare_cached(&row.table.insert())?;
    statement.raw_bind_parameter(1, progress.key)?;
    statement.raw_bind_parameter(2, progress.events)?;
    statement.raw_bind_parameter(3, moment(row.at))?;
    for (column, value) in row.values.iter().enumerate() {
        statement.raw_bind_parameter(column + 4, value)?;
    }
    statement.raw_execute().map(drop)
}

/// Gives a student the place of the person of that name in the class, who is
/// new to the book if nobody there has it.
fn seat(
    connection: &Connection,
    progress: &WrittenSoFar,
    student: StudentId,
    name: &str,
) -> rusqlite::Result<()> {
    let person = person(connection, progress.class, name)?;
    connection
        .prepare_cached("INSERT INTO seat (lesson, student, person) VALUES (?1, ?2, ?3)")?
        .execute(params![progress.key, student.0, person])
        .map(drop)
}

/// Who a student is, as the host said.
struct Known<'a> {
    name: &'a str,
    person: Option<PersonId>,
    before: Option<StudentId>,
}

/// Gives a student's place to the person it is. An entry that the place alone
/// made goes: one person is one entry in a class.
fn known_as(
    connection: &Connection,
    progress: &WrittenSoFar,
    student: StudentId,
    known: &Known<'_>,
) -> rusqlite::Result<()> {
    let of_seat = |student: StudentId| {
        connection
            .prepare_cached("SELECT person FROM seat WHERE lesson = ?1 AND student = ?2")?
            .query_row(params![progress.key, student.0], |row| row.get::<_, i64>(0))
            .optional()
    };
    let by_number = |id: PersonId| {
        connection
            .prepare_cached(
                "SELECT key FROM person WHERE class = ?2 AND (id = ?1
                 OR key = (SELECT person FROM alias WHERE id = ?1))",
            )?
            .query_row(params![id, progress.class], |row| row.get::<_, i64>(0))
            .optional()
    };
    // Whoever was removed or renamed meanwhile is found all the same, or new.
    let mut is = known.before.map(of_seat).transpose()?.flatten();
    if is.is_none() {
        is = known.person.map(by_number).transpose()?.flatten();
    }
    let is = match is {
        Some(is) => is,
        None => person(connection, progress.class, known.name)?,
    };
    let Some(was) = of_seat(student)?.filter(|was| *was != is) else {
        return Ok(());
    };
    // Places that were said to be one before stay one.
    connection
        .prepare_cached("UPDATE seat SET person = ?3 WHERE lesson = ?1 AND person = ?2")?
        .execute(params![progress.key, was, is])?;
    let stays: bool = connection
        .prepare_cached(
            "SELECT EXISTS (SELECT 1 FROM seat WHERE person = ?1)
                 OR EXISTS (SELECT 1 FROM note WHERE person = ?1)",
        )?
        .query_row([was], |row| row.get(0))?;
    if stays {
        return Ok(());
    }
    crate::people::take_over(connection, is, was)
}

fn person(connection: &Connection, class: i64, name: &str) -> rusqlite::Result<i64> {
    let known: Option<i64> = connection
        .prepare_cached("SELECT key FROM person WHERE class = ?1 AND folded = ?2")?
        .query_row(params![class, folded(name)], |row| row.get(0))
        .optional()?;
    if let Some(known) = known {
        return Ok(known);
    }
    let id = PersonId::random().map_err(no_randomness)?;
    connection
        .prepare_cached("INSERT INTO person (id, class, name, folded) VALUES (?1, ?2, ?3, ?4)")?
        .execute(params![id, class, name, folded(name)])?;
    Ok(connection.last_insert_rowid())
}

fn part(
    connection: &Connection,
    lesson: i64,
    call: CallId,
    student: StudentId,
) -> rusqlite::Result<()> {
    connection
        .prepare_cached("INSERT INTO part (lesson, call, student, late) VALUES (?1, ?2, ?3, 0)")?
        .execute(params![lesson, call.0, student.0])
        .map(drop)
}

/// Who comes in while a call is open has a part in it, unless they made it.
fn late_part(connection: &Connection, lesson: i64, student: StudentId) -> rusqlite::Result<()> {
    connection
        .prepare_cached(
            "INSERT INTO part (lesson, call, student, late)
             SELECT lesson, call, ?2, 1 FROM call
             WHERE lesson = ?1 AND call = (SELECT max(call) FROM call WHERE lesson = ?1)
             AND caller IS NOT ?2
             AND NOT EXISTS (SELECT 1 FROM stage
                             WHERE stage.lesson = call.lesson AND stage.call = call.call)
             ON CONFLICT DO NOTHING",
        )?
        .execute(params![lesson, student.0])
        .map(drop)
}

/// The lesson is over: its rows say all that its log does, and the log holds
/// the keys of places and names as they were typed.
fn end(connection: &Connection, progress: &mut WrittenSoFar, at: Moment) -> rusqlite::Result<()> {
    let ended = wall_ms(connection, progress.key, at)?;
    connection.execute(
        "UPDATE lesson SET ended_ms = ?2 WHERE key = ?1",
        params![progress.key, ended],
    )?;
    connection.execute("DELETE FROM log WHERE lesson = ?1", [progress.key])?;
    progress.ended = true;
    Ok(())
}

/// How a lesson's moments lie in the calendar.
#[derive(Debug, Clone, Default)]
pub(crate) struct Calendar(BTreeMap<Moment, i64>);

impl Calendar {
    /// Of a lesson that begins.
    pub fn beginning(at: Moment, unix_ms: i64) -> Self {
        Self(BTreeMap::from([(at, unix_ms)]))
    }

    /// The times of day in it: UTC in milliseconds since 1970.
    pub fn times(&self) -> impl Iterator<Item = i64> {
        self.0.values().copied()
    }

    /// Writes it for a lesson of this key.
    pub fn write(&self, connection: &Connection, lesson: i64) -> rusqlite::Result<()> {
        for (from, unix_ms) in &self.0 {
            connection.execute(
                "INSERT INTO sitting (lesson, from_us, unix_ms) VALUES (?1, ?2, ?3)
                 ON CONFLICT DO UPDATE SET unix_ms = excluded.unix_ms",
                params![lesson, moment(*from), unix_ms],
            )?;
        }
        Ok(())
    }

    pub fn of(connection: &Connection, lesson: i64) -> rusqlite::Result<Self> {
        let mut statement =
            connection.prepare_cached("SELECT from_us, unix_ms FROM sitting WHERE lesson = ?1")?;
        let mut rows = statement.query([lesson])?;
        let mut sittings = BTreeMap::new();
        while let Some(row) = rows.next()? {
            let from = crate::from_rows::moment(row, "from_us")?;
            sittings.insert(from, row.get(1)?);
        }
        Ok(Self(sittings))
    }

    /// UTC in milliseconds since 1970.
    pub fn unix_ms(&self, at: Moment) -> i64 {
        let sitting = self
            .0
            .range(..=at)
            .next_back()
            .or_else(|| self.0.iter().next());
        let Some((from, unix_ms)) = sitting else {
            return 0;
        };
        let us = i128::from(at.micros()) - i128::from(from.micros());
        let ms = i64::try_from(us.div_euclid(1000)).unwrap_or(i64::MAX);
        unix_ms.saturating_add(ms)
    }
}

pub(crate) fn wall_ms(connection: &Connection, lesson: i64, at: Moment) -> rusqlite::Result<i64> {
    Calendar::of(connection, lesson).map(|calendar| calendar.unix_ms(at))
}

/// The name as the book keeps it, or as it is where a lesson let in what the
/// book would not.
pub(crate) fn kept_or_same(name: &str) -> String {
    kept(name).unwrap_or_else(|_| name.to_owned())
}

/// The system gives no random numbers: like a disk that does not write.
pub(crate) fn no_randomness(error: getrandom::Error) -> rusqlite::Error {
    rusqlite::Error::ToSqlConversionFailure(Box::new(error))
}
