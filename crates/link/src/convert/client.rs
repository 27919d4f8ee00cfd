//! What students say.

use core::time::Duration;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{AnswerNotice, CallId, FromStudent, PlaceKey};
use fifthpeg_wire::ClientFrame;

use super::answers::{answer_from_wire, answer_to_wire};
use super::{FromClient, micros};
use crate::LinkError;

/// What a student says to the lesson.
pub fn client_to_wire(message: &FromStudent) -> ClientFrame {
    match *message {
        FromStudent::Sounded { call } => ClientFrame::Sounded { call: call.0 },
        FromStudent::Hearing { call } => ClientFrame::Hearing { call: call.0 },
        FromStudent::Try { call, at } => ClientFrame::Try {
            call: call.0,
            at: answer_to_wire(at),
        },
        FromStudent::Answer(a) => ClientFrame::Answer {
            call: a.call.0,
            serial: a.serial,
            answer: answer_to_wire(a.answer),
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
    }
}

/// What came from a student.
///
/// # Errors
/// [`LinkError::Impossible`] if a value lies outside what there is.
pub fn client_from_wire(frame: ClientFrame) -> Result<FromClient, LinkError> {
    let lesson = match frame {
        ClientFrame::Join { name, key } => {
            return Ok(FromClient::Join {
                name,
                key: key.map(PlaceKey),
            });
        }
        ClientFrame::ClockAsk { t1_us } => {
            return Ok(FromClient::ClockAsk {
                t1: Moment::from_micros(t1_us),
            });
        }
        ClientFrame::Sounded { call } => FromStudent::Sounded { call: CallId(call) },
        ClientFrame::Hearing { call } => FromStudent::Hearing { call: CallId(call) },
        ClientFrame::Try { call, at } => FromStudent::Try {
            call: CallId(call),
            at: answer_from_wire(at)?,
        },
        ClientFrame::Answer {
            call,
            serial,
            answer,
            response_us,
            uncertainty_us,
        } => FromStudent::Answer(AnswerNotice {
            call: CallId(call),
            serial,
            answer: answer_from_wire(answer)?,
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
    };
    Ok(FromClient::Lesson(lesson))
}
