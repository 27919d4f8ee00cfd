//! What went into a lesson.

use core::time::Duration;

use fifthpeg_lesson::input::LessonInput;
use fifthpeg_lesson::message::{AnswerNotice, CallId, FromStudent, PlaceKey, Source, StudentId};
use serde::{Deserialize, Serialize};

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

fn hex(key: PlaceKey) -> String {
    format!("{:032x}", key.0)
}

fn key(hex: &str) -> Result<PlaceKey, Unread> {
    u128::from_str_radix(hex, 16)
        .map(PlaceKey)
        .map_err(|_| strange("the key of a place", "no hexadecimal number"))
}

impl From<LessonInput> for Input {
    fn from(input: LessonInput) -> Self {
        match input {
            LessonInput::Join { name, key, new_key } => Input::Join {
                name,
                key: key.map(hex),
                new_key: hex(new_key),
            },
            LessonInput::Message { student, message } => Input::Message {
                student: student.0,
                message: message.into(),
            },
            LessonInput::Order(order) => Input::Order(order.into()),
            LessonInput::Disconnect { student } => Input::Disconnect { student: student.0 },
            LessonInput::Timeout => Input::Timeout,
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
