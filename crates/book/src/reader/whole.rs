//! One lesson as it stands in the book, read whole and once: what reports,
//! homework and `book check` go by. What is damaged, lost, or not as a lesson
//! can be is an error of that lesson alone.

use std::collections::BTreeMap;

use fifthpeg_core::text::one_line;
use fifthpeg_core::{Neck, NeckDescription, Reach, ReachSpec, Reference};
use fifthpeg_lesson::LessonEvent;
use fifthpeg_lesson::message::{CallId, StudentId};
use fifthpeg_lesson::singing::SungMark;
use rusqlite::{Connection, ErrorCode};

use super::calls::{GivenAnswer, PersonCall, PersonTry};
use super::lists::list;
use crate::record::Calendar;
use crate::seal::{self, Seal};
use crate::{BookError, LessonId, PersonId, from_rows, rules};

/// A lesson, read.
#[derive(Debug)]
pub struct Whole {
    /// Which lesson.
    pub id: LessonId,
    /// Its name.
    pub name: String,
    /// Whether somebody practised alone.
    pub alone: bool,
    /// When it began: UTC in milliseconds since 1970.
    pub started_ms: i64,
    /// When it ended, if it has.
    pub ended_ms: Option<i64>,
    /// The neck it began on.
    pub neck: NeckDescription,
    /// Every reach that it had, in order, each as often as it was set.
    pub reaches: Vec<ReachSpec>,
    /// What came of it.
    pub events: Vec<LessonEvent>,
    /// Whose each place was.
    pub seats: BTreeMap<StudentId, PersonId>,
    /// Who had a part in which call, and whether late.
    pub parts: BTreeMap<(CallId, StudentId), bool>,
    pub(crate) calendar: Calendar,
}

/// Why a lesson cannot be read.
#[derive(Debug)]
pub(crate) enum Unreadable {
    /// Something is wrong with what is there.
    Spoilt(String),
    /// The file cannot be read just now.
    Trouble(rusqlite::Error),
}

impl From<rusqlite::Error> for Unreadable {
    fn from(error: rusqlite::Error) -> Self {
        use rusqlite::Error as E;
        match (&error, error.sqlite_error_code()) {
            (E::InvalidColumnType(_, column, _), _) => {
                Unreadable::Spoilt(format!("{column} is not what a lesson has there"))
            }
            (_, None | Some(ErrorCode::DatabaseCorrupt)) => Unreadable::Spoilt(error.to_string()),
            _ => Unreadable::Trouble(error),
        }
    }
}

/// Reads the lesson of this key. What has ended is as it was then, and what is
/// there is as a lesson can be.
pub(crate) fn whole(connection: &Connection, lesson: i64) -> Result<Whole, Unreadable> {
    if seal::look(connection, lesson)? == Seal::Broken {
        return Err(Unreadable::Spoilt(
            "part of it is damaged or lost".to_owned(),
        ));
    }
    read(connection, lesson)
}

/// The same of a lesson that is not sealed yet.
pub(crate) fn read(connection: &Connection, lesson: i64) -> Result<Whole, Unreadable> {
    let (id, name, started_ms, ended_ms, alone) = connection.query_row(
        "SELECT id, name, began_us, started_ms, ended_ms, held = 'alone' FROM lesson WHERE key = ?1",
        [lesson],
        |row| {
            from_rows::moment(row, "began_us")?;
            let alone: Option<bool> = row.get(5)?;
            let alone = alone.unwrap_or_default();
            Ok((row.get(0)?, row.get(1)?, row.get(3)?, row.get(4)?, alone))
        },
    )?;
    let seats = list(
        connection,
        "SELECT seat.student, person.id FROM seat JOIN person ON person.key = seat.person
         WHERE seat.lesson = ?1",
        [lesson],
        |row| Ok((StudentId(row.get(0)?), row.get(1)?)),
    )?;
    let parts = list(
        connection,
        "SELECT call, student, late FROM part WHERE lesson = ?1 ORDER BY call, student",
        [lesson],
        |row| Ok(((CallId(row.get(0)?), StudentId(row.get(1)?)), row.get(2)?)),
    )?;
    let reaches = list(
        connection,
        "SELECT reach FROM rules WHERE lesson = ?1 ORDER BY seq",
        [lesson],
        |row| {
            let reach: String = row.get(0)?;
            reach.parse().map_err(|_| from_rows::strange("reach"))
        },
    )?;
    let whole = Whole {
        id,
        name,
        alone,
        started_ms,
        ended_ms,
        neck: from_rows::neck_of(connection, lesson)?,
        reaches,
        events: from_rows::events(connection, lesson)?,
        seats: seats.into_iter().collect(),
        parts: parts.into_iter().collect(),
        calendar: Calendar::of(connection, lesson)?,
    };
    fits(&whole).map_err(Unreadable::Spoilt)?;
    Ok(whole)
}

impl Whole {
    /// The calls as students met them, in order of calls and students; of one
    /// person, or of everybody.
    pub fn calls(&self, of: Option<PersonId>) -> Vec<PersonCall> {
        let mut calls: BTreeMap<(CallId, StudentId), PersonCall> = BTreeMap::new();
        let wanted = |student: &StudentId| {
            let person = self.seats.get(student).copied();
            person.filter(|person| of.is_none_or(|of| of == *person))
        };
        for event in &self.events {
            match event {
                LessonEvent::CallMade {
                    at,
                    call,
                    pitch,
                    place,
                    marking,
                    tone,
                    picked,
                    ..
                } => {
                    let parts = self
                        .parts
                        .range((*call, StudentId(0))..=(*call, StudentId(u32::MAX)));
                    for (key, late) in parts {
                        let Some(person) = wanted(&key.1) else {
                            continue;
                        };
                        let met = PersonCall {
                            person,
                            lesson: self.id,
                            student: key.1,
                            call: *call,
                            unix_ms: self.calendar.unix_ms(*at),
                            pitch: *pitch,
                            place: *place,
                            picked: *picked,
                            marking: *marking,
                            voice: tone.voice,
                            late: *late,
                            over: false,
                            answers: Vec::new(),
                            hearings: 0,
                            tries: 0,
                            tries_played: 0,
                            sung: None,
                        };
                        calls.insert(*key, met);
                    }
                }
                LessonEvent::Revealed { call, .. } | LessonEvent::Closed { call, .. } => {
                    let of_call = (*call, StudentId(0))..=(*call, StudentId(u32::MAX));
                    calls
                        .range_mut(of_call)
                        .for_each(|(_, met)| met.over = true);
                }
                other => {
                    if let Some(key) = whose(other)
                        && let Some(met) = calls.get_mut(&key)
                    {
                        met.take(other);
                    }
                }
            }
        }
        calls.into_values().collect()
    }

    /// What was tried, in order; by one person, or by everybody.
    pub fn tries(&self, of: Option<PersonId>) -> Vec<PersonTry> {
        let tries = self.events.iter().filter_map(|event| match event {
            LessonEvent::Tried {
                at,
                student,
                call,
                tried,
                source,
            } => {
                let person = self.seats.get(student).copied()?;
                of.is_none_or(|of| of == person).then_some(PersonTry {
                    person,
                    lesson: self.id,
                    call: *call,
                    at: *at,
                    tried: *tried,
                    source: *source,
                })
            }
            _ => None,
        });
        tries.collect()
    }
}

/// Which student's call something happened in.
fn whose(event: &LessonEvent) -> Option<(CallId, StudentId)> {
    match event {
        LessonEvent::Answered { call, student, .. }
        | LessonEvent::Heard { call, student, .. }
        | LessonEvent::Tried { call, student, .. }
        | LessonEvent::Sung { call, student, .. } => Some((*call, *student)),
        _ => None,
    }
}

impl PersonCall {
    fn take(&mut self, event: &LessonEvent) {
        use fifthpeg_lesson::message::Source;
        match event {
            LessonEvent::Answered {
                serial,
                answer,
                source,
                mark,
                response,
                uncertainty,
                ..
            } => {
                self.over |= mark.is_right();
                self.answers.push(GivenAnswer {
                    serial: *serial,
                    answer: *answer,
                    source: *source,
                    mark: *mark,
                    response: *response,
                    uncertainty: *uncertainty,
                });
            }
            LessonEvent::Heard { free: false, .. } => {
                self.hearings = self.hearings.saturating_add(1);
            }
            LessonEvent::Tried { source, .. } => {
                self.tries = self.tries.saturating_add(1);
                self.tries_played += u32::from(*source == Source::Instrument);
            }
            LessonEvent::Sung { sung, .. } => {
                let away = |mark: SungMark| mark.cents.abs();
                if self.sung.is_none_or(|nearest| away(*sung) < away(nearest)) {
                    self.sung = Some(*sung);
                }
            }
            _ => {}
        }
    }
}

/// As an error of the book.
pub(crate) fn spoilt(
    connection: &Connection,
    lesson: i64,
    why: Unreadable,
    path: &std::path::Path,
) -> BookError {
    let why = match why {
        Unreadable::Spoilt(why) => why,
        Unreadable::Trouble(error) => return BookError::from_sqlite(error, path),
    };
    // The lesson's own row may be what is damaged.
    let named = connection.query_row(
        "SELECT name, started_ms FROM lesson WHERE key = ?1",
        [lesson],
        |row| Ok((row.get(0)?, row.get(1)?)),
    );
    let (lesson, started_ms): (String, i64) = named.unwrap_or_default();
    BookError::Spoilt {
        lesson: one_line(&lesson),
        started_ms,
        why: one_line(&why),
    }
}

/// Whether everything in a lesson is as a lesson can be.
fn fits(whole: &Whole) -> rules::Fits {
    rules::ensure(
        fifthpeg_core::text::may_be_shown(&whole.name),
        "its name cannot be shown",
    )?;
    rules::time(whole.started_ms)?;
    whole.ended_ms.map_or(Ok(()), rules::time)?;
    whole.calendar.times().try_for_each(rules::time)?;
    let neck = Neck::build(whole.neck.clone()).map_err(|e| e.to_string())?;
    // Where a host was killed at once, nothing is written of its lesson.
    let begins = |first: &LessonEvent| matches!(first, LessonEvent::Began { .. });
    rules::ensure(
        whole.events.first().is_none_or(begins),
        "it does not begin with its rules",
    )?;
    for reach in &whole.reaches {
        Reach::resolve(&neck, reach).map_err(|e| e.to_string())?;
    }
    let mut reference = Reference::default();
    for event in &whole.events {
        match event {
            LessonEvent::Began { rules, .. } | LessonEvent::RulesChanged { rules, .. } => {
                reference = rules::rules(rules, &neck)?;
            }
            _ => rules::happened(event, &neck, reference)?,
        }
    }
    Ok(())
}
