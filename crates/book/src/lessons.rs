//! Beginning a lesson in the book, taking one up again after the host was
//! killed, and giving one up.

use std::time::Duration;

use fifthpeg_core::Cause;
use fifthpeg_lesson::input::GivenInput;
use fifthpeg_lesson::{Lesson, LessonEvent, LessonSetup, Moment};
use rusqlite::{Connection, OptionalExtension, params};

use crate::error::OrBookError;
use crate::keys::{class_key, lesson_key};
use crate::lock::LessonLock;
use crate::log::read_log;
use crate::names::kept;
use crate::origin::Origin;
use crate::record::{Calendar, WrittenSoFar};
use crate::to_rows::{NO_ROWS, digest, event_row, moment};
use crate::{Book, BookError, LessonId, seal, stored};

/// How much later than its last moment, and than any start it named then, a
/// lesson goes on: so that no start lies ahead that nobody will hear.
const GOES_ON_AFTER: Duration = Duration::from_millis(1);

/// This program's version, as lessons are marked with it.
const PROGRAM: &str = env!("CARGO_PKG_VERSION");

/// A lesson that is being written down. While it exists, no other program can
/// take the lesson up.
#[derive(Debug)]
pub struct RunningLesson {
    pub(crate) progress: WrittenSoFar,
    pub(crate) lock: LessonLock,
    pub(crate) origin: Origin,
}

impl RunningLesson {
    /// The lesson's number in every copy of the book.
    pub fn id(&self) -> LessonId {
        self.progress.id
    }

    /// Notes the port that the lesson is held at, beside the book, so that it
    /// can be held there again after its host was killed.
    pub fn note_port(&self, port: u16) {
        self.lock.note_port(port);
    }

    /// The port noted last, if any.
    pub fn noted_port(&self) -> Option<u16> {
        self.lock.noted_port()
    }
}

/// A lesson taken up again.
#[derive(Debug)]
pub struct Resumed {
    /// As it was when the last batch was stored, but for its messages. Those
    /// connected then are still taken to be: see [`Lesson::connected`].
    pub lesson: Lesson,
    /// What it was made from.
    pub setup: LessonSetup,
    /// The class.
    pub class: String,
    /// What happened so far, in order.
    pub events: Vec<LessonEvent>,
    /// The host's clock must read this now, and go on from here.
    pub goes_on: Moment,
    /// To be given to the [`crate::Writer`].
    pub running: RunningLesson,
}

/// A lesson that has not ended.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpenLesson {
    /// Which.
    pub id: LessonId,
    /// The class.
    pub class: String,
    /// The lesson's name.
    pub name: String,
    /// When it began: UTC in milliseconds since 1970.
    pub started_ms: i64,
    /// When the last was written of it.
    pub last_ms: i64,
    /// Students who have a place in it.
    pub students: u32,
    /// Calls made.
    pub calls: u32,
    /// Another program holds it just now.
    pub runs: bool,
}

impl Book {
    /// Begins a lesson of `class`, which is made if the book has none of that
    /// name. `began` is the moment the lesson was made with, `unix_ms` the
    /// same in UTC, in milliseconds since 1970.
    ///
    /// The lesson's own first events come with the first batch.
    ///
    /// # Errors
    /// [`BookError`].
    pub fn begin(
        &mut self,
        class: &str,
        setup: &LessonSetup,
        began: Moment,
        unix_ms: i64,
    ) -> Result<RunningLesson, BookError> {
        let path = self.path.clone();
        let class = kept(class)?;
        let id = LessonId::random().map_err(|e| BookError::Strange {
            path: path.clone(),
            why: e.into(),
        })?;
        let lock = LessonLock::take(&path, id)?;
        let step = self.connection.transaction().at(&path)?;
        let begun = crate::class_keys::end_old(&step, unix_ms)
            .and_then(|()| insert_lesson(&step, id, &class, setup, began, unix_ms));
        let progress = begun.and_then(|p| step.commit().map(|()| p));
        match progress {
            Ok(progress) => Ok(RunningLesson {
                progress,
                lock,
                origin: Origin {
                    class,
                    setup: setup.clone(),
                    began,
                    started_ms: unix_ms,
                    calendar: Calendar::beginning(began, unix_ms),
                    inputs: Vec::new(),
                },
            }),
            Err(e) => {
                lock.let_go();
                Err(BookError::from_sqlite(e, &path))
            }
        }
    }

    /// The lessons that have not ended, and can be made again from what is
    /// kept; the latest first.
    ///
    /// # Errors
    /// [`BookError`].
    pub fn open_lessons(&self) -> Result<Vec<OpenLesson>, BookError> {
        let mut lessons = open_lessons(&self.connection).at(&self.path)?;
        for lesson in &mut lessons {
            lesson.runs = LessonLock::is_taken(&self.path, lesson.id);
        }
        Ok(lessons)
    }

    /// Takes up a lesson whose host was killed. `unix_ms` is now, in UTC.
    ///
    /// # Errors
    /// [`BookError::NoLesson`], [`BookError::LessonEnded`],
    /// [`BookError::LessonRuns`]; [`BookError::CannotResume`] where another
    /// version of the program wrote it and this one would make another lesson
    /// of it. The rows written of it stay.
    pub fn resume(&mut self, id: LessonId, unix_ms: i64) -> Result<Resumed, BookError> {
        let lock = LessonLock::take(&self.path, id)?;
        let Kept {
            lesson,
            setup,
            class,
            events,
            progress,
            began,
            inputs,
        } = match self.make_again(id) {
            Ok(kept) => kept,
            Err(why) => {
                lock.let_go();
                return Err(why);
            }
        };
        let goes_on = progress.last + setup.lead + GOES_ON_AFTER;
        self.connection
            .execute(
                "INSERT INTO sitting (lesson, from_us, unix_ms) VALUES (?1, ?2, ?3)
                 ON CONFLICT DO UPDATE SET unix_ms = excluded.unix_ms",
                params![progress.key, moment(goes_on), unix_ms],
            )
            .at(&self.path)?;
        let started_ms = self
            .connection
            .query_row(
                "SELECT started_ms FROM lesson WHERE key = ?1",
                [progress.key],
                |row| row.get(0),
            )
            .at(&self.path)?;
        let origin = Origin {
            class: class.clone(),
            setup: setup.clone(),
            began,
            started_ms,
            calendar: Calendar::of(&self.connection, progress.key).at(&self.path)?,
            inputs,
        };
        Ok(Resumed {
            lesson,
            setup,
            class,
            events,
            goes_on,
            running: RunningLesson {
                progress,
                lock,
                origin,
            },
        })
    }

    /// Makes a lesson again from its log and compares it with what was written
    /// of it, without taking it up.
    ///
    /// # Errors
    /// As [`Book::resume`].
    pub fn check_log(&self, id: LessonId) -> Result<Lesson, BookError> {
        self.make_again(id).map(|kept| kept.lesson)
    }

    /// Ends a lesson that will not be taken up again, at the last moment
    /// written of it.
    ///
    /// # Errors
    /// [`BookError::NoLesson`], [`BookError::LessonRuns`].
    pub fn give_up(&mut self, id: LessonId) -> Result<(), BookError> {
        let lock = LessonLock::take(&self.path, id)?;
        let step = self.connection.transaction().at(&self.path)?;
        let key = lesson_key(&step, id).at(&self.path)?;
        let Some(key) = key else {
            lock.let_go();
            return Err(BookError::NoLesson);
        };
        (|| {
            let last = last_moment(&step, key)?;
            let ended = Calendar::of(&step, key)?.unix_ms(last);
            step.execute(
                "UPDATE lesson SET ended_ms = coalesce(ended_ms, ?2) WHERE key = ?1",
                params![key, ended],
            )?;
            step.execute("DELETE FROM log WHERE lesson = ?1", [key])?;
            seal::seal(&step, key)
        })()
        .at(&self.path)?;
        step.commit().at(&self.path)?;
        lock.let_go();
        Ok(())
    }

    /// The version of the program that began a lesson, if it was kept.
    fn program_of(&self, key: i64) -> rusqlite::Result<Option<String>> {
        let sql = "SELECT program FROM lesson WHERE key = ?1";
        self.connection.query_row(sql, [key], |row| row.get(0))
    }

    fn make_again(&self, id: LessonId) -> Result<Kept, BookError> {
        let Some(key) = lesson_key(&self.connection, id).at(&self.path)? else {
            return Err(BookError::NoLesson);
        };
        let log = read_log(&self.connection, key).at(&self.path)?;
        let log = log.ok_or(BookError::LessonEnded)?;
        let program = self.program_of(key).at(&self.path)?;
        let other = program.filter(|version| version != PROGRAM);
        let cannot = |why: Cause| BookError::CannotResume {
            why: match &other {
                Some(version) => why.told_as(|why| format!("{why} (version {version} began it)")),
                None => why,
            },
        };
        if log.format != stored::FORMAT {
            return Err(cannot("another version of the program wrote it".into()));
        }
        let setup = stored::read_setup(&log.setup).map_err(|e| cannot(e.into()))?;
        let mut inputs = Vec::with_capacity(log.inputs.len());
        for (at, text) in &log.inputs {
            let input = stored::read_input(text).map_err(|e| cannot(e.into()))?;
            inputs.push(GivenInput { at: *at, input });
        }
        let given = inputs.len() as i64;
        let mut lesson = Lesson::replay(setup.clone(), log.began, inputs.iter().cloned())
            .map_err(|e| cannot(e.into()))?;
        let (mut events, mut made) = (Vec::new(), NO_ROWS);
        // A lesson whose first batch never came has no events written.
        while let Some(event) = lesson.poll_event() {
            if let Some(row) = event_row(&event) {
                made = digest(made, &row);
            }
            events.push(event);
        }
        let fresh = given == 0 && log.events == 0;
        if !fresh && (events.len() as i64 != log.events || made != log.digest) {
            return Err(cannot(
                "this version of the program would go on with another lesson than was held".into(),
            ));
        }
        if fresh {
            // So that its first event is there to be written.
            lesson = Lesson::replay(setup.clone(), log.began, []).map_err(|e| cannot(e.into()))?;
            events.clear();
        }
        Ok(Kept {
            lesson,
            setup,
            class: log.class.1,
            events,
            progress: WrittenSoFar {
                key,
                id,
                class: log.class.0,
                inputs: given,
                events: log.events,
                digest: log.digest,
                last: log.last,
                ended: false,
                sealed: false,
            },
            began: log.began,
            inputs,
        })
    }
}

/// A lesson made again.
struct Kept {
    lesson: Lesson,
    setup: LessonSetup,
    class: String,
    events: Vec<LessonEvent>,
    progress: WrittenSoFar,
    began: Moment,
    inputs: Vec<GivenInput>,
}

pub(crate) fn insert_lesson(
    connection: &Connection,
    id: LessonId,
    class: &str,
    setup: &LessonSetup,
    began: Moment,
    unix_ms: i64,
) -> rusqlite::Result<WrittenSoFar> {
    let class = class_key(connection, class)?;
    let neck = stored::write_neck(&setup.rules.neck);
    connection.execute(
        "INSERT INTO neck (neck) VALUES (?1) ON CONFLICT DO NOTHING",
        [&neck],
    )?;
    connection.execute(
        "INSERT INTO lesson (id, class, neck, name, seed, began_us, started_ms, program, held)
         VALUES (?1, ?2, (SELECT key FROM neck WHERE neck = ?3), ?4, ?5, ?6, ?7, ?8, ?9)",
        params![
            id,
            class,
            neck,
            crate::record::kept_or_same(&setup.rules.lesson),
            setup.seed as i64,
            moment(began),
            unix_ms,
            PROGRAM,
            if setup.alone { "alone" } else { "class" }
        ],
    )?;
    let key = connection.last_insert_rowid();
    connection.execute(
        "INSERT INTO sitting (lesson, from_us, unix_ms) VALUES (?1, ?2, ?3)",
        params![key, moment(began), unix_ms],
    )?;
    connection.execute(
        "INSERT INTO log (lesson, format, setup, events, digest, last_us)
         VALUES (?1, ?2, ?3, 0, ?4, ?5)",
        params![
            key,
            stored::FORMAT,
            stored::write_setup(setup),
            NO_ROWS as i64,
            moment(began)
        ],
    )?;
    Ok(WrittenSoFar {
        key,
        id,
        class,
        inputs: 0,
        events: 0,
        digest: NO_ROWS,
        last: began,
        ended: false,
        sealed: false,
    })
}

fn last_moment(connection: &Connection, key: i64) -> rusqlite::Result<Moment> {
    let logged: Option<i64> = connection
        .query_row("SELECT last_us FROM log WHERE lesson = ?1", [key], |row| {
            row.get(0)
        })
        .optional()?;
    let us = match logged {
        Some(us) => us,
        // Of a lesson from another book there is no log.
        None => connection.query_row(
            "SELECT max(coalesce((SELECT max(at_us) FROM answer WHERE lesson = ?1), 0),
                        coalesce((SELECT max(at_us) FROM call WHERE lesson = ?1), 0),
                        began_us) FROM lesson WHERE key = ?1",
            [key],
            |row| row.get(0),
        )?,
    };
    Ok(Moment::from_micros(us as u64))
}

fn open_lessons(connection: &Connection) -> rusqlite::Result<Vec<OpenLesson>> {
    let mut statement = connection.prepare(
        "SELECT lesson.key, lesson.id, class.name, lesson.name, lesson.started_ms, log.last_us,
                (SELECT count(*) FROM seat WHERE seat.lesson = lesson.key),
                (SELECT count(*) FROM call WHERE call.lesson = lesson.key)
         FROM lesson JOIN log ON log.lesson = lesson.key JOIN class ON class.key = lesson.class
         WHERE lesson.ended_ms IS NULL ORDER BY lesson.started_ms DESC, lesson.key DESC",
    )?;
    let mut rows = statement.query([])?;
    let mut lessons = Vec::new();
    while let Some(row) = rows.next()? {
        let last = Moment::from_micros(row.get::<_, i64>(5)? as u64);
        lessons.push(OpenLesson {
            id: row.get(1)?,
            class: row.get(2)?,
            name: row.get(3)?,
            started_ms: row.get(4)?,
            last_ms: Calendar::of(connection, row.get(0)?)?.unix_ms(last),
            students: row.get(6)?,
            calls: row.get(7)?,
            runs: false,
        });
    }
    Ok(lessons)
}
