//! What a lesson can be: what the book takes in from a file, and what it reads
//! back, is held against the same as what a running lesson says.

use core::time::Duration;

use fifthpeg_core::{Neck, Pitch, Reach, Reference};
use fifthpeg_lesson::LessonEvent;
use fifthpeg_lesson::marking::{Mark, Miss, MissKind};
use fifthpeg_lesson::message::{Answer, Rules};
use fifthpeg_lesson::names::tidy;
use fifthpeg_lesson::singing::{SUNG_RANGE_HZ, SungMark};
use rusqlite::types::Value;

use crate::tables::Kind;

/// No call lasts longer, nor is anything timed longer.
const LONGEST: Duration = Duration::from_secs(24 * 60 * 60);
/// The last millisecond of the year 9999, as UTC since 1970.
const LAST_MS: i64 = 253_402_300_799_999;
/// Most letters of a note of the host's.
const LONGEST_NOTE: usize = 20_000;
/// Most octaves, and semitones, between two pitches.
const MOST_OCTAVES: u8 = 10;
const MOST_SEMITONES: u8 = 127;

pub(crate) type Fits = Result<(), String>;

pub(crate) fn ensure(holds: bool, what: &str) -> Fits {
    if holds { Ok(()) } else { Err(what.to_owned()) }
}

/// Whether a value is one of its kind, wherever that can be told of it alone.
pub(crate) fn value(kind: Kind, value: &Value) -> Fits {
    match (kind, value) {
        (Kind::Date, Value::Integer(unix_ms)) => time(*unix_ms),
        (Kind::Prose, Value::Text(text)) => note(text),
        (Kind::Name, Value::Text(text)) => name(text),
        _ => Ok(()),
    }
}

/// Whether a time of day is one.
pub(crate) fn time(unix_ms: i64) -> Fits {
    ensure((0..=LAST_MS).contains(&unix_ms), "a date is none")
}

/// Whether a note of the host's may be kept and shown.
fn note(text: &str) -> Fits {
    ensure(
        text.chars().count() <= LONGEST_NOTE,
        "a note is longer than notes are",
    )?;
    let mut lines = text.split(['\n', '\t']);
    ensure(
        lines.all(fifthpeg_core::text::may_be_shown),
        "a note holds signs that steer a screen",
    )
}

/// Whether a name is as names are kept.
fn name(name: &str) -> Fits {
    ensure(
        tidy(name).is_ok_and(|tidied| tidied == name),
        "a name cannot be used",
    )
}

pub(crate) fn rules(rules: &Rules, neck: &Neck) -> Result<Reference, String> {
    ensure(
        fifthpeg_core::text::may_be_shown(&rules.lesson),
        "its name cannot be shown",
    )?;
    Reach::resolve(neck, &rules.reach).map_err(|e| e.to_string())?;
    Reference::new(rules.a4_hz).map_err(|e| e.to_string())
}

pub(crate) fn happened(event: &LessonEvent, neck: &Neck, reference: Reference) -> Fits {
    let on_neck = |answer: &Answer| match answer {
        Answer::Place(at) => ensure(neck.pitch_at(*at).is_some(), "a place is not on its neck"),
        Answer::Pitch(_) | Answer::Class(_) => Ok(()),
    };
    match event {
        LessonEvent::CallMade {
            at,
            pitch,
            place,
            tone,
            start,
            ..
        } => {
            let sounds = place.is_none_or(|at| neck.pitch_at(at) == Some(*pitch));
            ensure(sounds, "a call's place does not sound its note")?;
            ensure(
                is_tone(*pitch, tone.frequency_hz, reference),
                "a call's frequency is not its note's",
            )?;
            ensure(start >= at, "a call starts before it is made")
        }
        LessonEvent::Tried { tried, .. } => {
            ensure(!matches!(tried, Answer::Class(_)), "a try has no octave")?;
            on_neck(tried)
        }
        LessonEvent::Sung {
            frequency_hz,
            spread_cents,
            sung,
            ..
        } => {
            ensure(
                SUNG_RANGE_HZ.contains(frequency_hz) && !spread_cents.is_infinite(),
                "a sung note is beyond any voice",
            )?;
            let SungMark { octaves, cents, .. } = sung;
            ensure(
                octaves.unsigned_abs() <= MOST_OCTAVES && cents.abs() <= 600.5,
                "a sung note is further off than can be",
            )
        }
        LessonEvent::Answered {
            answer,
            mark,
            response,
            uncertainty,
            ..
        } => {
            on_neck(answer)?;
            self::mark(*mark)?;
            ensure(
                response.is_none_or(|time| time <= LONGEST) && *uncertainty <= LONGEST,
                "an answer took longer than a lesson lasts",
            )
        }
        _ => Ok(()),
    }
}

/// Whether a frequency is a pitch's. The rules that a call was made under may
/// have been another's before the reach changed, never their A.
fn is_tone(pitch: Pitch, frequency_hz: f64, reference: Reference) -> bool {
    let should = pitch.frequency_hz(reference);
    (frequency_hz / should - 1.0).abs() < 1e-9
}

fn mark(mark: Mark) -> Fits {
    let kind = match mark {
        Mark::Right => None,
        Mark::Missed(Miss { kind, .. }) => kind,
    };
    let can_be = match kind {
        Some(MissKind::Octave { octaves } | MissKind::OtherPlaceOctave { octaves }) => {
            (1..=MOST_OCTAVES).contains(&octaves)
        }
        Some(MissKind::Interval { semitones }) => (1..=MOST_SEMITONES).contains(&semitones),
        _ => true,
    };
    ensure(can_be, "a miss is further off than can be")
}
