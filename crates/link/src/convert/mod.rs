//! The lesson's words to the wire's types and back. What comes from the wire is
//! validated here: nothing impossible reaches the lesson or a terminal.

mod answers;
mod rules;

use core::time::Duration;

use fifthpeg_core::Pitch;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{
    AnswerNotice, CallId, CallNotice, FromStudent, PlaceKey, Progress, StudentId, ToStudent, Tone,
    Welcome,
};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_wire as wire;
use fifthpeg_wire::{ClientFrame, HostFrame};

use crate::LinkError;
use answers::{
    answer_from_wire, answer_to_wire, mark_from_wire, mark_to_wire, place_from_wire, place_to_wire,
    refusal_from_wire, refusal_to_wire,
};
use rules::{rules_from_wire, rules_to_wire, voice_from_wire, voice_to_wire};

/// The lowest and highest tone a terminal sounds, in hertz: below and above
/// every note of MIDI's range.
pub const TONE_RANGE_HZ: core::ops::RangeInclusive<f64> = 5.0..=16_000.0;

/// What a student says, the machinery's own words included.
#[derive(Debug, Clone, PartialEq)]
pub enum FromClient {
    /// Wants to be let in, perhaps back into an old place.
    Join {
        /// The name as typed.
        name: String,
        /// The key from an earlier welcome.
        key: Option<PlaceKey>,
    },
    /// Asks for the host's clock; `t1` is on the student's.
    ClockAsk {
        /// When it was sent.
        t1: Moment,
    },
    /// For the lesson.
    Lesson(FromStudent),
}

/// What the host says, the machinery's own words included.
#[derive(Debug, Clone, PartialEq)]
pub enum FromHost {
    /// Its clock: `t1` as asked, `t2` and `t3` on the host's clock.
    ClockAnswer {
        /// When the asking was sent, student clock.
        t1: Moment,
        /// When it arrived, host clock.
        t2: Moment,
        /// When this was sent, host clock.
        t3: Moment,
    },
    /// For the terminal.
    Lesson(ToStudent),
}

/// A join.
pub fn join_to_wire(name: &str, key: Option<PlaceKey>) -> ClientFrame {
    ClientFrame::Join {
        name: name.to_owned(),
        key: key.map(|k| k.0),
    }
}

/// A question for the host's clock, sent at `t1` of the student's.
pub fn clock_ask_to_wire(t1: Moment) -> ClientFrame {
    ClientFrame::ClockAsk { t1_us: t1.micros() }
}

/// The answer to it: arrived at `t2`, sent at `t3` of the host's clock.
pub fn clock_answer_to_wire(t1: Moment, t2: Moment, t3: Moment) -> HostFrame {
    HostFrame::ClockAnswer {
        t1_us: t1.micros(),
        t2_us: t2.micros(),
        t3_us: t3.micros(),
    }
}

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

/// What the lesson says to a student. Of more places, marks or students than
/// a frame may hold, the first are sent.
pub fn host_to_wire(message: &ToStudent) -> HostFrame {
    match message {
        ToStudent::Welcome(w) => HostFrame::Welcome {
            welcome: Box::new(wire::Welcome {
                student: w.student.0,
                key: w.key.0,
                name: w.name.clone(),
                rules: rules_to_wire(&w.rules),
                tally: tally_to_wire(w.tally),
            }),
        },
        ToStudent::Rules(rules) => HostFrame::Rules {
            rules: Box::new(rules_to_wire(rules)),
        },
        ToStudent::Call(n) => HostFrame::Call {
            notice: wire::CallNotice {
                call: n.call.0,
                tone: n.tone.map(|t| wire::Tone {
                    frequency_hz: t.frequency_hz,
                    voice: voice_to_wire(t.voice),
                    pluck_seed: t.pluck_seed,
                }),
                start_us: n.start.micros(),
                on_asking: n.on_asking,
                you_call: n.you_call,
                caller: n.caller.clone(),
                answers_held: n.answers_held,
                found: n.found,
            },
        },
        ToStudent::HearAgain { call, start } => HostFrame::HearAgain {
            call: call.0,
            start_us: start.micros(),
        },
        ToStudent::Marked {
            call,
            serial,
            mark,
            tally,
        } => HostFrame::Marked {
            call: call.0,
            serial: *serial,
            mark: mark_to_wire(*mark),
            tally: tally_to_wire(*tally),
        },
        ToStudent::Reveal {
            call,
            pitch,
            places,
            marks,
        } => HostFrame::Reveal {
            call: call.0,
            midi: pitch.midi(),
            places: places
                .iter()
                .take(wire::MAX_PLACES)
                .map(|p| place_to_wire(*p))
                .collect(),
            marks: marks
                .iter()
                .take(wire::MAX_MARKS)
                .map(|&(serial, mark)| wire::NumberedMark {
                    serial,
                    mark: mark_to_wire(mark),
                })
                .collect(),
        },
        ToStudent::Closed { call, tally } => HostFrame::Closed {
            call: call.0,
            tally: tally_to_wire(*tally),
        },
        ToStudent::Turn { caller, yours } => HostFrame::Turn {
            caller: caller.clone(),
            yours: *yours,
        },
        ToStudent::Progress { call, students } => HostFrame::Progress {
            call: call.0,
            students: students
                .iter()
                .take(wire::MAX_PROGRESS)
                .map(|(name, progress)| wire::StudentProgress {
                    name: name.clone(),
                    progress: progress_to_wire(*progress),
                })
                .collect(),
        },
        ToStudent::Refused(refusal) => HostFrame::Refused {
            refusal: refusal_to_wire(refusal),
        },
        ToStudent::Ended { tally } => HostFrame::Ended {
            tally: tally_to_wire(*tally),
        },
    }
}

/// What came from the host.
///
/// # Errors
/// [`LinkError::Impossible`] if a value lies outside what there is.
pub fn host_from_wire(frame: HostFrame) -> Result<FromHost, LinkError> {
    let lesson = match frame {
        HostFrame::ClockAnswer {
            t1_us,
            t2_us,
            t3_us,
        } => {
            return Ok(FromHost::ClockAnswer {
                t1: Moment::from_micros(t1_us),
                t2: Moment::from_micros(t2_us),
                t3: Moment::from_micros(t3_us),
            });
        }
        HostFrame::Welcome { welcome } => {
            let w = *welcome;
            ToStudent::Welcome(Box::new(Welcome {
                student: StudentId(w.student),
                key: PlaceKey(w.key),
                name: plain(w.name)?,
                rules: rules_from_wire(w.rules)?,
                tally: tally_from_wire(w.tally),
            }))
        }
        HostFrame::Rules { rules } => ToStudent::Rules(Box::new(rules_from_wire(*rules)?)),
        HostFrame::Call { notice } => ToStudent::Call(notice_from_wire(notice)?),
        HostFrame::HearAgain { call, start_us } => ToStudent::HearAgain {
            call: CallId(call),
            start: Moment::from_micros(start_us),
        },
        HostFrame::Marked {
            call,
            serial,
            mark,
            tally,
        } => ToStudent::Marked {
            call: CallId(call),
            serial,
            mark: mark_from_wire(mark),
            tally: tally_from_wire(tally),
        },
        HostFrame::Reveal {
            call,
            midi,
            places,
            marks,
        } => ToStudent::Reveal {
            call: CallId(call),
            pitch: pitch_from_wire(midi)?,
            places: places
                .into_iter()
                .map(place_from_wire)
                .collect::<Result<_, _>>()?,
            marks: marks
                .into_iter()
                .map(|m| (m.serial, mark_from_wire(m.mark)))
                .collect(),
        },
        HostFrame::Closed { call, tally } => ToStudent::Closed {
            call: CallId(call),
            tally: tally_from_wire(tally),
        },
        HostFrame::Turn { caller, yours } => ToStudent::Turn {
            caller: plain(caller)?,
            yours,
        },
        HostFrame::Progress { call, students } => ToStudent::Progress {
            call: CallId(call),
            students: students
                .into_iter()
                .map(|s| Ok((plain(s.name)?, progress_from_wire(s.progress))))
                .collect::<Result<_, LinkError>>()?,
        },
        HostFrame::Refused { refusal } => ToStudent::Refused(refusal_from_wire(refusal)?),
        HostFrame::Ended { tally } => ToStudent::Ended {
            tally: tally_from_wire(tally),
        },
    };
    Ok(FromHost::Lesson(lesson))
}

fn notice_from_wire(n: wire::CallNotice) -> Result<CallNotice, LinkError> {
    let tone = match n.tone {
        Some(t) if !TONE_RANGE_HZ.contains(&t.frequency_hz) => {
            return Err(LinkError::Impossible("a tone that nobody can hear"));
        }
        Some(t) => Some(Tone {
            frequency_hz: t.frequency_hz,
            voice: voice_from_wire(t.voice),
            pluck_seed: t.pluck_seed,
        }),
        None => None,
    };
    Ok(CallNotice {
        call: CallId(n.call),
        tone,
        start: Moment::from_micros(n.start_us),
        on_asking: n.on_asking,
        you_call: n.you_call,
        caller: n.caller.map(plain).transpose()?,
        answers_held: n.answers_held,
        found: n.found,
    })
}

/// A text for a screen: what it holds may not steer a terminal.
fn plain(text: String) -> Result<String, LinkError> {
    if text.chars().any(char::is_control) {
        return Err(LinkError::Impossible("a text with control signs in it"));
    }
    Ok(text)
}

fn pitch_from_wire(midi: u8) -> Result<Pitch, LinkError> {
    Pitch::new(midi).ok_or(LinkError::Impossible("a pitch beyond 127"))
}

fn micros(d: Duration) -> u64 {
    u64::try_from(d.as_micros()).unwrap_or(u64::MAX)
}

fn tally_to_wire(t: Tally) -> wire::Tally {
    wire::Tally {
        calls: t.calls,
        found: t.found,
        found_first: t.found_first,
        hearings: t.hearings,
        tries: t.tries,
        median_us: t.median.map(micros),
    }
}

fn tally_from_wire(t: wire::Tally) -> Tally {
    Tally {
        calls: t.calls,
        found: t.found,
        found_first: t.found_first,
        hearings: t.hearings,
        tries: t.tries,
        median: t.median_us.map(Duration::from_micros),
    }
}

/// Two enums with the same unit variants, both ways.
macro_rules! same_variants {
    ($to:ident, $from:ident, $domain:ty, $wire:ty, $($variant:ident)+) => {
        pub(super) fn $to(value: $domain) -> $wire {
            match value {
                $(<$domain>::$variant => <$wire>::$variant,)+
            }
        }

        pub(super) fn $from(value: $wire) -> $domain {
            match value {
                $(<$wire>::$variant => <$domain>::$variant,)+
            }
        }
    };
}
use same_variants;

same_variants!(progress_to_wire, progress_from_wire, Progress, wire::Progress,
    Silent Searching Missed Found Away);
