//! Reading what an open lesson is made again from.

use fifthpeg_lesson::Moment;
use rusqlite::{Connection, OptionalExtension};

/// What an open lesson is made again from.
pub(crate) struct Log {
    pub format: u32,
    pub setup: String,
    pub events: i64,
    pub digest: u64,
    pub last: Moment,
    pub began: Moment,
    pub class: (i64, String),
    pub inputs: Vec<(Moment, String)>,
}

/// The log of a lesson; `None` once it has ended.
pub(crate) fn read_log(connection: &Connection, key: i64) -> rusqlite::Result<Option<Log>> {
    let as_moment = |us: i64| Moment::from_micros(us as u64);
    let log = connection
        .query_row(
            "SELECT log.format, log.setup, log.events, log.digest, log.last_us, lesson.began_us,
                    class.key, class.name
             FROM log JOIN lesson ON lesson.key = log.lesson JOIN class ON class.key = lesson.class
             WHERE log.lesson = ?1",
            [key],
            |row| {
                Ok(Log {
                    format: row.get(0)?,
                    setup: row.get(1)?,
                    events: row.get(2)?,
                    digest: row.get::<_, i64>(3)? as u64,
                    last: as_moment(row.get(4)?),
                    began: as_moment(row.get(5)?),
                    class: (row.get(6)?, row.get(7)?),
                    inputs: Vec::new(),
                })
            },
        )
        .optional()?;
    let Some(mut log) = log else {
        return Ok(None);
    };
    let mut statement =
        connection.prepare("SELECT at_us, input FROM input WHERE lesson = ?1 ORDER BY number")?;
    let inputs = statement.query_map([key], |row| Ok((as_moment(row.get(0)?), row.get(1)?)))?;
    log.inputs = inputs.collect::<rusqlite::Result<_>>()?;
    Ok(Some(log))
}
