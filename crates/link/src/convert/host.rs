//! What the host says.

use core::time::Duration;

use fifthpeg_core::{Pitch, Position};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{
    CallId, CallNotice, LastCall, PlaceKey, Progress, StudentId, ToStudent, Tone, Welcome,
};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lock::PublicKey;
use fifthpeg_wire as wire;
use fifthpeg_wire::HostFrame;

use super::answers::{
    held_from_wire, held_to_wire, mark_from_wire, mark_to_wire, place_from_wire, place_to_wire,
    refusal_from_wire, refusal_to_wire, sung_from_wire, sung_to_wire,
};
use super::rules::{rules_from_wire, rules_to_wire, voice_from_wire, voice_to_wire};
use super::{FromHost, KeyOffer, TONE_RANGE_HZ, micros, pitch_from_wire, plain, same_variants};
use crate::LinkError;

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
                last_call: w.last_call.map(|last| wire::LastCall {
                    call: last.call.0,
                    start_us: last.start.micros(),
                    over: last.over,
                }),
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
                target: n.target.map(|(pitch, place)| wire::Target {
                    midi: pitch.midi(),
                    place: place.map(place_to_wire),
                }),
                held: n
                    .held
                    .iter()
                    .take(wire::MAX_HELD)
                    .map(|held| held_to_wire(*held))
                    .collect(),
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
        ToStudent::Ended { tally, removed } => HostFrame::Ended {
            tally: tally_to_wire(*tally),
            removed: *removed,
        },
        ToStudent::HostSounds { call, start } => HostFrame::HostSounds {
            call: call.0,
            start_us: start.micros(),
        },
        ToStudent::Sung { call, sung } => HostFrame::Sung {
            call: call.0,
            sung: sung_to_wire(*sung),
        },
        ToStudent::FriendLeft { name } => HostFrame::FriendLeft { name: name.clone() },
        ToStudent::AnswerRefused { call, serial, why } => HostFrame::AnswerRefused {
            call: call.0,
            serial: *serial,
            why: refusal_to_wire(why),
        },
        ToStudent::KnownAs { name, tally } => HostFrame::KnownAs {
            name: name.clone(),
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
                last_call: w.last_call.map(|last| LastCall {
                    call: CallId(last.call),
                    start: Moment::from_micros(last.start_us),
                    over: last.over,
                }),
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
        HostFrame::Ended { tally, removed } => ToStudent::Ended {
            tally: tally_from_wire(tally),
            removed,
        },
        HostFrame::HostSounds { call, start_us } => ToStudent::HostSounds {
            call: CallId(call),
            start: Moment::from_micros(start_us),
        },
        HostFrame::Sung { call, sung } => ToStudent::Sung {
            call: CallId(call),
            sung: sung_from_wire(sung)?,
        },
        HostFrame::FriendLeft { name } => ToStudent::FriendLeft { name: plain(name)? },
        HostFrame::AnswerRefused { call, serial, why } => ToStudent::AnswerRefused {
            call: CallId(call),
            serial,
            why: refusal_from_wire(why)?,
        },
        HostFrame::KnownAs { name, tally } => ToStudent::KnownAs {
            name: plain(name)?,
            tally: tally_from_wire(tally),
        },
        HostFrame::KeyOffered { class, name, host } => {
            return Ok(FromHost::KeyOffered(KeyOffer {
                class: plain(class)?,
                name: plain(name)?,
                host: PublicKey(host),
            }));
        }
        HostFrame::KeyKept => return Ok(FromHost::KeyKept),
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
        target: n.target.map(target_from_wire).transpose()?,
        held: n
            .held
            .into_iter()
            .map(held_from_wire)
            .collect::<Result<_, _>>()?,
    })
}

fn target_from_wire(t: wire::Target) -> Result<(Pitch, Option<Position>), LinkError> {
    let place = t.place.map(place_from_wire).transpose()?;
    Ok((pitch_from_wire(t.midi)?, place))
}

fn tally_to_wire(t: Tally) -> wire::Tally {
    wire::Tally {
        calls: t.calls,
        found: t.found,
        found_first: t.found_first,
        hearings: t.hearings,
        tries: t.tries,
        played: t.played,
        sung: t.sung,
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
        played: t.played,
        sung: t.sung,
        median: t.median_us.map(Duration::from_micros),
    }
}

same_variants!(progress_to_wire, progress_from_wire, Progress, wire::Progress,
    Silent Searching Missed Found Away);
