//! What went into a lesson.

use core::time::Duration;

use fifthpeg_lesson::input::LessonInput;
use fifthpeg_lesson::learning::{StudentKey, When};
use fifthpeg_lesson::message::{AnswerNotice, CallId, FromStudent, PlaceKey, Source, StudentId};
use serde::{Deserialize, Serialize};

use super::evidence::Evidence;
use super::figure::Figure;
use super::order::Order;
use super::values::Answer;
use super::{Unread, strange};
use crate::words::as_word;

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) enum Input {
    Join {
        name: String,
        /// Keys in 32 hexadecimal digits.
        key: Option<String>,
        new_key: String,
    },
    Message {
        student: u32,
        message: Message,
    },
    Order(Order),
    Disconnect {
        student: u32,
    },
    Timeout,
    Learning {
        /// Seconds since 1970-01-01, UTC.
        began: i64,
        evidence: Vec<Evidence>,
    },
    StudentKey {
        student: u32,
        /// In 32 hexadecimal digits.
        key: String,
    },
}

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub(super) enum Message {
    Sounded {
        call: u32,
    },
    Hearing {
        call: u32,
    },
    Try {
        call: u32,
        at: Answer,
        #[serde(with = "as_word")]
        source: Source,
    },
    Sung {
        call: u32,
        frequency_hz: Figure,
        spread_cents: Figure,
    },
    Answer {
        call: u32,
        serial: u32,
        answer: Answer,
        #[serde(with = "as_word")]
        source: Source,
        response: Option<Duration>,
        uncertainty: Duration,
    },
    Pick {
        at: Option<Answer>,
    },
    CallerHearAgain {
        call: u32,
    },
    CallerReveal {
        call: u32,
    },
    CallerClose {
        call: u32,
    },
    Leave,
}

/// A key in 32 hexadecimal digits.
pub(super) fn hex(key: u128) -> String {
    format!("{key:032x}")
}

/// The key of these digits.
pub(super) fn unhex(hex: &str) -> Result<u128, Unread> {
    u128::from_str_radix(hex, 16).map_err(|_| strange("a key", "no hexadecimal number"))
}

fn key(hex: &str) -> Result<PlaceKey, Unread> {
    unhex(hex).map(PlaceKey)
}

impl From<LessonInput> for Input {
    fn from(input: LessonInput) -> Self {
        match input {
            LessonInput::Join { name, key, new_key } => Input::Join {
                name,
                key: key.map(|key| hex(key.0)),
                new_key: hex(new_key.0),
            },
            LessonInput::Message { student, message } => Input::Message {
                student: student.0,
                message: message.into(),
            },
            LessonInput::Order(order) => Input::Order(order.into()),
            LessonInput::Disconnect { student } => Input::Disconnect { student: student.0 },
            LessonInput::Timeout => Input::Timeout,
            LessonInput::Learning { evidence, began } => Input::Learning {
                began: began.0,
                evidence: evidence.into_iter().map(Evidence::from).collect(),
            },
            LessonInput::StudentKey { student, key } => Input::StudentKey {
                student: student.0,
                key: hex(key.0),
            },
        }
    }
}

impl TryFrom<Input> for LessonInput {
    type Error = Unread;
    fn try_from(input: Input) -> Result<Self, Unread> {
        Ok(match input {
            Input::Join {
                name,
                key: old,
                new_key,
            } => LessonInput::Join {
                name,
                key: old.as_deref().map(key).transpose()?,
                new_key: key(&new_key)?,
            },
            Input::Message { student, message } => LessonInput::Message {
                student: StudentId(student),
                message: message.try_into()?,
            },
            Input::Order(order) => LessonInput::Order(order.try_into()?),
            Input::Disconnect { student } => LessonInput::Disconnect {
                student: StudentId(student),
            },
            Input::Timeout => LessonInput::Timeout,
            Input::Learning { began, evidence } => LessonInput::Learning {
                began: When(began),
                evidence: evidence
                    .into_iter()
                    .map(TryInto::try_into)
                    .collect::<Result<_, _>>()?,
            },
            Input::StudentKey { student, key } => LessonInput::StudentKey {
                student: StudentId(student),
                key: StudentKey(unhex(&key)?),
            },
        })
    }
}

impl From<FromStudent> for Message {
    fn from(message: FromStudent) -> Self {
        match message {
            FromStudent::Sounded { call } => Message::Sounded { call: call.0 },
            FromStudent::Hearing { call } => Message::Hearing { call: call.0 },
            FromStudent::Try { call, at, source } => Message::Try {
                call: call.0,
                at: at.into(),
                source,
            },
            FromStudent::Sung {
                call,
                frequency_hz,
                spread_cents,
            } => Message::Sung {
                call: call.0,
                frequency_hz: Figure(frequency_hz),
                spread_cents: Figure(spread_cents.into()),
            },
            FromStudent::Answer(AnswerNotice {
                call,
                serial,
                answer,
                source,
                response,
                uncertainty,
            }) => Message::Answer {
                call: call.0,
                serial,
                answer: answer.into(),
                source,
                response,
                uncertainty,
            },
            FromStudent::Pick { at } => Message::Pick {
                at: at.map(Answer::from),
            },
            FromStudent::CallerHearAgain { call } => Message::CallerHearAgain { call: call.0 },
            FromStudent::CallerReveal { call } => Message::CallerReveal { call: call.0 },
            FromStudent::CallerClose { call } => Message::CallerClose { call: call.0 },
            FromStudent::Leave => Message::Leave,
        }
    }
}

impl TryFrom<Message> for FromStudent {
    type Error = Unread;
    fn try_from(message: Message) -> Result<Self, Unread> {
        Ok(match message {
            Message::Sounded { call } => FromStudent::Sounded { call: CallId(call) },
            Message::Hearing { call } => FromStudent::Hearing { call: CallId(call) },
            Message::Try { call, at, source } => FromStudent::Try {
                call: CallId(call),
                at: at.try_into()?,
                source,
            },
            Message::Sung {
                call,
                frequency_hz,
                spread_cents,
            } => FromStudent::Sung {
                call: CallId(call),
                frequency_hz: frequency_hz.0,
                // It was one before it was written.
                spread_cents: spread_cents.0 as f32,
            },
            Message::Answer {
                call,
                serial,
                answer,
                source,
                response,
                uncertainty,
            } => FromStudent::Answer(AnswerNotice {
                call: CallId(call),
                serial,
                answer: answer.try_into()?,
                source,
                response,
                uncertainty,
            }),
            Message::Pick { at } => FromStudent::Pick {
                at: at.map(TryInto::try_into).transpose()?,
            },
            Message::CallerHearAgain { call } => {
                FromStudent::CallerHearAgain { call: CallId(call) }
            }
            Message::CallerReveal { call } => FromStudent::CallerReveal { call: CallId(call) },
            Message::CallerClose { call } => FromStudent::CallerClose { call: CallId(call) },
            Message::Leave => FromStudent::Leave,
        })
    }
}
