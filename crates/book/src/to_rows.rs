//! What happened in a lesson, as a row of the book.

use fifthpeg_core::Position;
use fifthpeg_lesson::marking::{Mark, Miss, MissKind};
use fifthpeg_lesson::message::{Answer, CallId, StudentId};
use fifthpeg_lesson::{LessonEvent, Moment};
use rusqlite::types::{Value, ValueRef};

use crate::columns::{ANSWER, CALL, HEARING, PRESENCE, RULES, STAGE, SUNG, TRY, TURN};
use crate::stored;
use crate::tables::Table;
use fifthpeg_vocab::Choice;

/// A row of one of the tables of events, without its lesson and number.
#[derive(Debug)]
pub(crate) struct EventRow {
    pub table: &'static Table,
    pub at: Moment,
    /// Of the columns behind lesson, number and moment, in order.
    pub values: Vec<Value>,
}

/// Lesson, number and moment, which every event has.
const BEFORE_EVENT: usize = 3;

/// A moment as kept: the same bits, since SQLite's numbers have a sign.
pub(crate) fn moment(at: Moment) -> Value {
    Value::Integer(at.micros() as i64)
}

fn word(word: &'static str) -> Value {
    Value::Text(word.to_owned())
}

fn maybe(number: Option<impl Into<i64>>) -> Value {
    number.map_or(Value::Null, |n| Value::Integer(n.into()))
}

fn student(id: StudentId) -> Value {
    id.0.into()
}

fn call(id: CallId) -> Value {
    id.0.into()
}

fn place(at: Option<Position>) -> [Value; 2] {
    [maybe(at.map(|p| p.string)), maybe(at.map(|p| p.fret))]
}

/// String, fret, pitch, name.
fn answer(answer: Answer) -> [Value; 4] {
    let (at, pitch, name) = match answer {
        Answer::Place(at) => (Some(at), None, None),
        Answer::Pitch(pitch) => (None, Some(pitch.midi()), None),
        Answer::Class(class) => (None, None, Some(class.number())),
    };
    let [string, fret] = place(at);
    [string, fret, maybe(pitch), maybe(name)]
}

/// Correct, the kind of miss, its size and its side.
fn mark(mark: Mark) -> [Value; 4] {
    let (correct, miss) = match mark {
        Mark::Right => (true, None),
        Mark::Missed(miss) => (false, Some(miss)),
    };
    let Miss { kind, side } = miss.unwrap_or(Miss {
        kind: None,
        side: None,
    });
    let (kind, size) = kind.map(kind_of_miss).unzip();
    [
        correct.into(),
        kind.map_or(Value::Null, word),
        maybe(size.flatten()),
        side.map_or(Value::Null, |s| word(s.word())),
    ]
}

fn kind_of_miss(kind: MissKind) -> (&'static str, Option<u8>) {
    match kind {
        MissKind::Octave { octaves } => ("octave", Some(octaves)),
        MissKind::Neighbour => ("neighbour", None),
        MissKind::WholeTone => ("whole-tone", None),
        MissKind::OtherPlace => ("other-place", None),
        MissKind::OtherPlaceOctave { octaves } => ("other-place-octave", Some(octaves)),
        MissKind::Interval { semitones } => ("interval", Some(semitones)),
        MissKind::Further => ("further", None),
        MissKind::Far => ("far", None),
    }
}

/// The row for an event; `None` for an event that this book knows no table for.
pub(crate) fn event_row(event: &LessonEvent) -> Option<EventRow> {
    use LessonEvent as E;
    let row = |table: &'static Table, at: &Moment, values| {
        Some(EventRow {
            table,
            at: *at,
            values,
        })
    };
    let rules_row = |rules: &fifthpeg_lesson::message::Rules| {
        vec![
            rules.reach.to_string().into(),
            stored::write_rules(rules).into(),
        ]
    };
    let hearing = |of: &CallId, by: Option<StudentId>, what, start: Option<Moment>| {
        vec![
            call(*of),
            maybe(by.map(|s| s.0)),
            word(what),
            start.map_or(Value::Null, moment),
        ]
    };
    match event {
        // The seed is kept with the lesson.
        E::Began { at, rules, seed: _ } => row(&RULES, at, rules_row(rules)),
        E::RulesChanged { at, rules } => row(&RULES, at, rules_row(rules)),
        // The name is kept with the person.
        E::Joined {
            at,
            student: id,
            name: _,
            returning,
        } => {
            let what = if *returning { "returned" } else { "joined" };
            row(&PRESENCE, at, vec![student(*id), word(what)])
        }
        E::Left {
            at,
            student: id,
            leaving,
        } => row(&PRESENCE, at, vec![student(*id), word(leaving.word())]),
        E::Turn { at, student: id } => row(&TURN, at, vec![maybe(id.map(|s| s.0))]),
        E::CallMade {
            at,
            call: id,
            pitch,
            place: picked,
            marking,
            tone,
            start,
            picked: by,
            caller,
            // Kept as the parts of the call.
            present: _,
        } => {
            let [string, fret] = place(*picked);
            let values = vec![
                call(*id),
                pitch.midi().into(),
                string,
                fret,
                word(marking.word()),
                tone.frequency_hz.into(),
                word(tone.voice.word()),
                tone.pluck_seed.into(),
                moment(*start),
                maybe(caller.map(|s| s.0)),
                by.map_or(Value::Null, |by| word(by.word())),
            ];
            row(&CALL, at, values)
        }
        // The tone is the call's.
        E::HostSound {
            at,
            call,
            tone: _,
            start,
        } => row(&HEARING, at, hearing(call, None, "speakers", Some(*start))),
        E::SoundedAgain { at, call, start } => {
            row(&HEARING, at, hearing(call, None, "again", Some(*start)))
        }
        E::Sounded { at, student, call } => {
            row(&HEARING, at, hearing(call, Some(*student), "sounded", None))
        }
        E::Heard {
            at,
            student,
            call,
            free,
        } => {
            let what = if *free { "free" } else { "asked" };
            row(&HEARING, at, hearing(call, Some(*student), what, None))
        }
        E::Tried {
            at,
            student: id,
            call: of,
            tried,
            source,
        } => {
            let mut values = vec![call(*of), student(*id)];
            values.extend(answer(*tried));
            values.push(word(source.word()));
            row(&TRY, at, values)
        }
        E::Sung {
            at,
            student: id,
            call: of,
            frequency_hz,
            spread_cents,
            sung,
        } => {
            let values = vec![
                call(*of),
                student(*id),
                (*frequency_hz).into(),
                f64::from(*spread_cents).into(),
                sung.octaves.into(),
                f64::from(sung.cents).into(),
                sung.exact.into(),
            ];
            row(&SUNG, at, values)
        }
        E::Answered {
            at,
            student: id,
            call: of,
            serial,
            answer: given,
            source,
            mark: full,
            response,
            uncertainty,
        } => {
            // The lesson keeps no time of more than a day.
            let micros = |d: core::time::Duration| i64::try_from(d.as_micros()).unwrap_or(i64::MAX);
            let mut values = vec![call(*of), student(*id), (*serial).into()];
            values.extend(answer(*given));
            values.push(word(source.word()));
            values.extend(mark(*full));
            values.push(maybe(response.map(micros)));
            values.push(micros(*uncertainty).into());
            row(&ANSWER, at, values)
        }
        E::Revealed { at, call: of } => row(&STAGE, at, vec![call(*of), word("revealed")]),
        E::Closed { at, call: of } => row(&STAGE, at, vec![call(*of), word("closed")]),
        E::Ended { at } => row(&STAGE, at, vec![Value::Null, word("ended")]),
        _ => None,
    }
}

/// Joins a row to the digest of all before it:
/// it tells whether a lesson made again is the one that was written down.
pub(crate) fn digest(before: u64, row: &EventRow) -> u64 {
    let mut hash = Fnv(before);
    hash.take(row.table.name.as_bytes());
    hash.take(&row.at.micros().to_le_bytes());
    for (value, column) in row.values.iter().zip(&row.table.columns[BEFORE_EVENT..]) {
        if column.is_known_by() {
            hash.take_value(value.into());
        }
    }
    hash.0
}

/// The digest of no rows.
pub(crate) const NO_ROWS: u64 = Fnv::OF_NOTHING.0;

/// FNV-1a of 64 bits (G. Fowler, L. C. Noll, K.-P. Vo): it notices damage, and
/// no forger.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Fnv(pub u64);

impl Fnv {
    pub const OF_NOTHING: Fnv = Fnv(0xcbf2_9ce4_8422_2325);

    pub fn take(&mut self, bytes: &[u8]) {
        for byte in bytes {
            self.0 = (self.0 ^ u64::from(*byte)).wrapping_mul(0x0000_0100_0000_01b3);
        }
    }

    pub fn take_value(&mut self, value: ValueRef<'_>) {
        match value {
            ValueRef::Null => self.take(&[0]),
            ValueRef::Integer(n) => self.take(&n.to_le_bytes()),
            ValueRef::Real(x) => self.take(&x.to_bits().to_le_bytes()),
            ValueRef::Text(bytes) | ValueRef::Blob(bytes) => self.take(bytes),
        }
        self.take(&[0xff]);
    }
}
