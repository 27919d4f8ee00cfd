//! What students say.

use core::time::Duration;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{AnswerNotice, CallId, FromStudent, PlaceKey};
use fifthpeg_lesson::singing::SUNG_RANGE_HZ;
use fifthpeg_lock::PublicKey;
use fifthpeg_wire::ClientFrame;

use super::answers::{answer_from_wire, answer_to_wire, source_from_wire, source_to_wire};
use super::{FromClient, SUNG_SPREAD_CENTS, micros};
use crate::LinkError;

/// What a student says to the lesson.
pub fn client_to_wire(message: &FromStudent) -> ClientFrame {
    match *message {
        FromStudent::Sounded { call } => ClientFrame::Sounded { call: call.0 },
        FromStudent::Hearing { call } => ClientFrame::Hearing { call: call.0 },
        FromStudent::Try { call, at, source } => ClientFrame::Try {
            call: call.0,
            at: answer_to_wire(at),
            source: source_to_wire(source),
        },
        FromStudent::Answer(a) => ClientFrame::Answer {
            call: a.call.0,
            serial: a.serial,
            answer: answer_to_wire(a.answer),
            source: source_to_wire(a.source),
            response_us: a.response.map(micros),
            uncertainty_us: micros(a.uncertainty),
        },
        FromStudent::Pick { at } => ClientFrame::Pick {
            at: at.map(answer_to_wire),
        },
        FromStudent::CallerHearAgain { call } => ClientFrame::CallerHearAgain { call: call.0 },
        FromStudent::CallerReveal { call } => ClientFrame::CallerReveal { call: call.0 },
        FromStudent::CallerClose { call } => ClientFrame::CallerClose { call: call.0 },
        FromStudent::Leave => ClientFrame::Leave,
        FromStudent::Sung {
            call,
            frequency_hz,
            spread_cents,
        } => ClientFrame::Sung {
            call: call.0,
            frequency_hz,
            spread_cents,
        },
    }
}

/// What came from a student.
///
/// # Errors
/// [`LinkError::Impossible`] if a value lies outside what there is.
pub fn client_from_wire(frame: ClientFrame) -> Result<FromClient, LinkError> {
    let lesson = match frame {
        ClientFrame::Join { name, key, new_key } => {
            return Ok(FromClient::Join {
                name,
                key: key.map(PlaceKey),
                new_key: PlaceKey(new_key),
            });
        }
        ClientFrame::ClockAsk { t1_us } => {
            return Ok(FromClient::ClockAsk {
                t1: Moment::from_micros(t1_us),
            });
        }
        ClientFrame::KeyAnswer { public } => {
            return Ok(FromClient::KeyAnswer(public.map(PublicKey)));
        }
        ClientFrame::Sounded { call } => FromStudent::Sounded { call: CallId(call) },
        ClientFrame::Hearing { call } => FromStudent::Hearing { call: CallId(call) },
        ClientFrame::Try { call, at, source } => FromStudent::Try {
            call: CallId(call),
            at: answer_from_wire(at)?,
            source: source_from_wire(source),
        },
        ClientFrame::Answer {
            call,
            serial,
            answer,
            source,
            response_us,
            uncertainty_us,
        } => FromStudent::Answer(AnswerNotice {
            call: CallId(call),
            serial,
            answer: answer_from_wire(answer)?,
            source: source_from_wire(source),
            response: response_us.map(Duration::from_micros),
            uncertainty: Duration::from_micros(uncertainty_us),
        }),
        ClientFrame::Pick { at } => FromStudent::Pick {
            at: at.map(answer_from_wire).transpose()?,
        },
        ClientFrame::CallerHearAgain { call } => {
            FromStudent::CallerHearAgain { call: CallId(call) }
        }
        ClientFrame::CallerReveal { call } => FromStudent::CallerReveal { call: CallId(call) },
        ClientFrame::CallerClose { call } => FromStudent::CallerClose { call: CallId(call) },
        ClientFrame::Leave => FromStudent::Leave,
        ClientFrame::Sung {
            call,
            frequency_hz,
            spread_cents,
        } => {
            // Not a number is in no range.
            if !SUNG_RANGE_HZ.contains(&frequency_hz) {
                return Err(LinkError::Impossible("a sung note that no voice reaches"));
            }
            if !SUNG_SPREAD_CENTS.contains(&spread_cents) {
                return Err(LinkError::Impossible(
                    "a sung note that moved by more than an octave",
                ));
            }
            FromStudent::Sung {
                call: CallId(call),
                frequency_hz,
                spread_cents,
            }
        }
    };
    Ok(FromClient::Lesson(lesson))
}
