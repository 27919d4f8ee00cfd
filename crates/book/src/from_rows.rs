//! Rows of the book, as what happened in a lesson.

use core::time::Duration;
use std::collections::BTreeMap;

use fifthpeg_core::{NeckDescription, Pitch, PitchClass, Position};
use fifthpeg_lesson::marking::{Mark, Miss, MissKind};
use fifthpeg_lesson::message::{Answer, CallId, StudentId, Tone};
use fifthpeg_lesson::singing::SungMark;
use fifthpeg_lesson::{LessonEvent, Moment};
use fifthpeg_vocab::Choice;
use rusqlite::types::{FromSql, Type};
use rusqlite::{Connection, Row};

use crate::columns::{ANSWER, CALL, HEARING, PRESENCE, RULES, STAGE, SUNG, TRY, TURN};
use crate::stored;

/// A host's clock counts from its start, or goes on where another left off: in
/// a hundred years it does not come so far.
pub(crate) const LAST_MOMENT: Moment = Moment::from_micros(100 * 366 * 24 * 60 * 60 * 1_000_000);

/// A value that no program of ours writes.
pub(crate) fn strange(column: &str) -> rusqlite::Error {
    rusqlite::Error::InvalidColumnType(0, column.to_owned(), Type::Null)
}

pub(crate) fn moment(row: &Row<'_>, column: &str) -> rusqlite::Result<Moment> {
    let at = Moment::from_micros(row.get::<_, i64>(column)? as u64);
    Some(at)
        .filter(|at| *at <= LAST_MOMENT)
        .ok_or_else(|| strange(column))
}

pub(crate) fn word<T: Choice>(row: &Row<'_>, column: &str) -> rusqlite::Result<T> {
    let text: String = row.get(column)?;
    T::from_word(&text).map_err(|_| strange(column))
}

/// A word that may be wanting.
pub(crate) fn maybe_word<T: Choice>(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<T>> {
    let text: Option<String> = row.get(column)?;
    text.map(|text| T::from_word(&text).map_err(|_| strange(column)))
        .transpose()
}

pub(crate) fn student(row: &Row<'_>) -> rusqlite::Result<StudentId> {
    row.get("student").map(StudentId)
}

fn call(row: &Row<'_>) -> rusqlite::Result<CallId> {
    row.get("call").map(CallId)
}

pub(crate) fn pitch(row: &Row<'_>, column: &str) -> rusqlite::Result<Pitch> {
    Pitch::new(row.get(column)?).ok_or_else(|| strange(column))
}

pub(crate) fn place(row: &Row<'_>) -> rusqlite::Result<Option<Position>> {
    let string: Option<u8> = row.get("string")?;
    let fret: Option<u8> = row.get("fret")?;
    Ok(string
        .zip(fret)
        .map(|(string, fret)| Position { string, fret }))
}

pub(crate) fn answer(row: &Row<'_>) -> rusqlite::Result<Answer> {
    if let Some(at) = place(row)? {
        return Ok(Answer::Place(at));
    }
    if row.get::<_, Option<u8>>("pitch")?.is_some() {
        return pitch(row, "pitch").map(Answer::Pitch);
    }
    let class = PitchClass::new(row.get("name")?).ok_or_else(|| strange("name"))?;
    Ok(Answer::Class(class))
}

pub(crate) fn mark(row: &Row<'_>) -> rusqlite::Result<Mark> {
    if row.get("correct")? {
        return Ok(Mark::Right);
    }
    let size = || row.get::<_, u8>("miss_size");
    let kind = match row.get::<_, Option<String>>("miss")?.as_deref() {
        None => None,
        Some("octave") => Some(MissKind::Octave { octaves: size()? }),
        Some("neighbour") => Some(MissKind::Neighbour),
        Some("whole-tone") => Some(MissKind::WholeTone),
        Some("other-place") => Some(MissKind::OtherPlace),
        Some("other-place-octave") => Some(MissKind::OtherPlaceOctave { octaves: size()? }),
        Some("interval") => Some(MissKind::Interval { semitones: size()? }),
        Some("further") => Some(MissKind::Further),
        Some("far") => Some(MissKind::Far),
        Some(_) => return Err(strange("miss")),
    };
    let side = match row.get::<_, Option<String>>("miss_side")? {
        None => None,
        Some(side) => Some(Choice::from_word(&side).map_err(|_| strange("miss_side"))?),
    };
    Ok(Mark::Missed(Miss { kind, side }))
}

pub(crate) fn micros(row: &Row<'_>, column: &str) -> rusqlite::Result<Option<Duration>> {
    let micros: Option<i64> = row.get(column)?;
    micros
        .map(|us| {
            u64::try_from(us)
                .map(Duration::from_micros)
                .map_err(|_| strange(column))
        })
        .transpose()
}

/// Everything that happened in a lesson, in order. People appear under the
/// names they have in the book now; those removed from it not at all.
pub(crate) fn events(connection: &Connection, lesson: i64) -> rusqlite::Result<Vec<LessonEvent>> {
    let mut reading = Reading {
        connection,
        lesson,
        events: BTreeMap::new(),
    };
    reading.rules()?;
    reading.coming_and_going()?;
    let tones = reading.calls()?;
    reading.stages()?;
    reading.hearings(&tones)?;
    reading.tries()?;
    reading.answers()?;
    Ok(reading.events.into_values().collect())
}

struct Reading<'c> {
    connection: &'c Connection,
    lesson: i64,
    events: BTreeMap<i64, LessonEvent>,
}

impl Reading<'_> {
    fn each(
        &mut self,
        select: &str,
        mut event: impl FnMut(&Row<'_>, Moment) -> rusqlite::Result<LessonEvent>,
    ) -> rusqlite::Result<()> {
        let mut statement = self.connection.prepare_cached(select)?;
        let mut rows = statement.query([self.lesson])?;
        while let Some(row) = rows.next()? {
            let event = event(row, moment(row, "at_us")?)?;
            self.events.insert(row.get("seq")?, event);
        }
        Ok(())
    }

    fn one<T: FromSql>(&self, select: &str) -> rusqlite::Result<T> {
        let mut statement = self.connection.prepare_cached(select)?;
        statement.query_row([self.lesson], |row| row.get(0))
    }

    fn rules(&mut self) -> rusqlite::Result<()> {
        let seed: i64 = self.one("SELECT seed FROM lesson WHERE key = ?1")?;
        let neck: NeckDescription = neck_of(self.connection, self.lesson)?;
        self.each(&RULES.select(), |row, at| {
            let text: String = row.get("rules")?;
            let rules = stored::read_rules(&text, neck.clone()).map_err(|_| strange("rules"))?;
            let rules = Box::new(rules);
            Ok(match row.get::<_, i64>("seq")? {
                0 => LessonEvent::Began {
                    at,
                    rules,
                    seed: seed as u64,
                },
                _ => LessonEvent::RulesChanged { at, rules },
            })
        })
    }

    fn coming_and_going(&mut self) -> rusqlite::Result<()> {
        let mut names = BTreeMap::new();
        {
            let mut statement = self.connection.prepare_cached(
                "SELECT seat.student, person.name FROM seat JOIN person ON person.key = seat.person
                 WHERE seat.lesson = ?1",
            )?;
            let mut rows = statement.query([self.lesson])?;
            while let Some(row) = rows.next()? {
                names.insert(row.get::<_, u32>(0)?, row.get::<_, String>(1)?);
            }
        }
        self.each(&PRESENCE.select(), |row, at| {
            let id = student(row)?;
            let what: String = row.get("what")?;
            let joined = |returning| LessonEvent::Joined {
                at,
                student: id,
                name: names.get(&id.0).cloned().unwrap_or_default(),
                returning,
            };
            Ok(match what.as_str() {
                "joined" => joined(false),
                "returned" => joined(true),
                _ => LessonEvent::Left {
                    at,
                    student: id,
                    leaving: Choice::from_word(&what).map_err(|_| strange("what"))?,
                },
            })
        })?;
        self.each(&TURN.select(), |row, at| {
            let student: Option<u32> = row.get("student")?;
            Ok(LessonEvent::Turn {
                at,
                student: student.map(StudentId),
            })
        })
    }

    /// Gives back the tone of each call.
    fn calls(&mut self) -> rusqlite::Result<BTreeMap<CallId, Tone>> {
        let mut present: BTreeMap<CallId, Vec<StudentId>> = BTreeMap::new();
        {
            let mut statement = self.connection.prepare_cached(
                "SELECT call, student FROM part WHERE lesson = ?1 AND late = 0
                 ORDER BY call, student",
            )?;
            let mut rows = statement.query([self.lesson])?;
            while let Some(row) = rows.next()? {
                present.entry(call(row)?).or_default().push(student(row)?);
            }
        }
        let mut tones = BTreeMap::new();
        self.each(&CALL.select(), |row, at| {
            let id = call(row)?;
            let tone = Tone {
                frequency_hz: row.get("frequency_hz")?,
                voice: word(row, "voice")?,
                pluck_seed: row.get("pluck_seed")?,
            };
            tones.insert(id, tone);
            Ok(LessonEvent::CallMade {
                at,
                call: id,
                pitch: pitch(row, "pitch")?,
                place: place(row)?,
                marking: word(row, "marking")?,
                tone,
                start: moment(row, "start_us")?,
                picked: maybe_word(row, "picked")?,
                caller: row.get::<_, Option<u32>>("caller")?.map(StudentId),
                present: present.remove(&id).unwrap_or_default(),
            })
        })?;
        Ok(tones)
    }

    fn stages(&mut self) -> rusqlite::Result<()> {
        self.each(&STAGE.select(), |row, at| {
            Ok(match row.get::<_, String>("what")?.as_str() {
                "revealed" => LessonEvent::Revealed {
                    at,
                    call: call(row)?,
                },
                "closed" => LessonEvent::Closed {
                    at,
                    call: call(row)?,
                },
                "ended" => LessonEvent::Ended { at },
                _ => return Err(strange("what")),
            })
        })
    }

    fn hearings(&mut self, tones: &BTreeMap<CallId, Tone>) -> rusqlite::Result<()> {
        self.each(&HEARING.select(), |row, at| {
            let call = call(row)?;
            let what: String = row.get("what")?;
            Ok(match what.as_str() {
                "again" => LessonEvent::SoundedAgain {
                    at,
                    call,
                    start: moment(row, "start_us")?,
                },
                "speakers" => LessonEvent::HostSound {
                    at,
                    call,
                    tone: *tones.get(&call).ok_or_else(|| strange("call"))?,
                    start: moment(row, "start_us")?,
                },
                "sounded" => LessonEvent::Sounded {
                    at,
                    student: student(row)?,
                    call,
                },
                "free" | "asked" => LessonEvent::Heard {
                    at,
                    student: student(row)?,
                    call,
                    free: what == "free",
                },
                _ => return Err(strange("what")),
            })
        })
    }

    fn tries(&mut self) -> rusqlite::Result<()> {
        self.each(&TRY.select(), |row, at| {
            Ok(LessonEvent::Tried {
                at,
                student: student(row)?,
                call: call(row)?,
                tried: answer(row)?,
                source: word(row, "source")?,
            })
        })?;
        self.each(&SUNG.select(), |row, at| {
            // SQLite keeps what is no number as nothing.
            let spread: Option<f64> = row.get("spread_cents")?;
            Ok(LessonEvent::Sung {
                at,
                student: student(row)?,
                call: call(row)?,
                frequency_hz: row.get("frequency_hz")?,
                spread_cents: spread.unwrap_or(f64::NAN) as f32,
                sung: SungMark {
                    octaves: row.get("octaves")?,
                    cents: row.get::<_, f64>("cents")? as f32,
                    exact: row.get("exact")?,
                },
            })
        })
    }

    fn answers(&mut self) -> rusqlite::Result<()> {
        self.each(&ANSWER.select(), |row, at| {
            Ok(LessonEvent::Answered {
                at,
                student: student(row)?,
                call: call(row)?,
                serial: row.get("serial")?,
                answer: answer(row)?,
                source: word(row, "source")?,
                mark: mark(row)?,
                response: micros(row, "response_us")?,
                uncertainty: micros(row, "uncertainty_us")?.unwrap_or_default(),
            })
        })
    }
}

/// The neck of a lesson.
pub(crate) fn neck_of(connection: &Connection, lesson: i64) -> rusqlite::Result<NeckDescription> {
    let text: String = connection
        .prepare_cached(
            "SELECT neck.neck FROM lesson JOIN neck ON neck.key = lesson.neck WHERE lesson.key = ?1",
        )?
        .query_row([lesson], |row| row.get(0))?;
    stored::read_neck(&text).map_err(|_| strange("neck"))
}
