//! The page's examples: frames as bytes, split as their fields are.

use core::fmt::Write as _;
use core::time::Duration;

use fifthpeg_core::{Pitch, Position};
use fifthpeg_vocab::*;

use crate::*;

/// Bytes in groups of these lengths.
pub(super) fn hex(bytes: &[u8], split: &[usize]) -> String {
    assert_eq!(
        split.iter().sum::<usize>(),
        bytes.len(),
        "the split covers the bytes"
    );
    let mut out = String::new();
    let mut rest = bytes;
    for &n in split {
        let (group, after) = rest.split_at(n);
        rest = after;
        if !out.is_empty() {
            out.push_str("  ");
        }
        for (i, b) in group.iter().enumerate() {
            let space = if i == 0 { "" } else { " " };
            let _ = write!(out, "{space}{b:02x}");
        }
    }
    out
}

/// Examples with the lengths of their fields.
pub(super) fn examples() -> Vec<(&'static str, Vec<u8>, Vec<usize>)> {
    let client = |f: ClientFrame| encode_client(&f).unwrap();
    let host = |f: HostFrame| encode_host(&f).unwrap();
    vec![
        (
            "`Hello` of a student, program 0.1.0: magic, oldest, newest, \
             length and letters of the program version.",
            encode_hello(&Hello::ours("0.1.0")).unwrap(),
            vec![8, 2, 2, 8, 5],
        ),
        (
            "`HelloReply::Ready`: tag, version, length and letters of the program version.",
            encode_hello_reply(&HelloReply::Ready {
                version: 6,
                program: "0.1.0".into(),
            })
            .unwrap(),
            vec![4, 2, 8, 5],
        ),
        (
            "`HelloReply::Outdated`, the student is to update: tag, side, oldest, newest, length \
             and letters of the program version.",
            encode_hello_reply(&HelloReply::Outdated {
                update: UpdateSide::Student,
                oldest: 5,
                newest: 6,
                program: "0.4.0".into(),
            })
            .unwrap(),
            vec![4, 4, 2, 2, 8, 5],
        ),
        (
            "`HelloReply::Locked`: tag, length and letters of the program version.",
            encode_hello_reply(&HelloReply::Locked {
                program: "0.1.0".into(),
            })
            .unwrap(),
            vec![4, 8, 5],
        ),
        (
            "`LockReply::Lesson`: tag, length and letters of the name.",
            encode_lock_reply(&LockReply::Lesson {
                name: "Hall".into(),
            })
            .unwrap(),
            vec![4, 8, 4],
        ),
        (
            "`LockAsk::Passphrase`: tag, element (here 0 to 31).",
            encode_lock_ask(&LockAsk::Passphrase {
                element: core::array::from_fn(|at| u8::try_from(at).expect("below 32")),
            })
            .unwrap(),
            vec![4, 32],
        ),
        (
            "`LockReply::Wait` of 20 s: tag, seconds.",
            encode_lock_reply(&LockReply::Wait { seconds: 20 }).unwrap(),
            vec![4, 4],
        ),
        (
            "`LockReply::Line`: tag, 18 zero bits, at most 25 s.",
            encode_lock_reply(&LockReply::Line {
                zero_bits: 18,
                seconds: 25,
            })
            .unwrap(),
            vec![4, 1, 4],
        ),
        (
            "`LockAsk::Work` with two shares: tag, how many, shares.",
            encode_lock_ask(&LockAsk::Work {
                shares: vec![7, 258],
            })
            .unwrap(),
            vec![4, 8, 8, 8],
        ),
        (
            "`ClientFrame::Join` of Ada, without a key: tag, length and letters of the name, no key, \
             a new one.",
            client(ClientFrame::join(
                "Ada",
                None,
                SeatKey(0x0102_0304_0506_0708_090a_0b0c_0d0e_0f10),
            )),
            vec![4, 8, 3, 1, 16],
        ),
        (
            "`ClientFrame::ClockAsk` at 1 s: tag, microseconds.",
            client(ClientFrame::ClockAsk {
                t1: Moment::from_micros(1_000_000),
            }),
            vec![4, 8],
        ),
        (
            "`FromStudent::Answer` to call 3, the first: string 1 fret 4, after 2.5 s, give or take \
             83 ms: tag of the frame, tag, call, serial, tag of the place, string, fret, from the \
             screen, response there, microseconds, uncertainty.",
            client(ClientFrame::Lesson(FromStudent::Answer(AnswerNotice {
                call: CallId(3),
                serial: 1,
                answer: Answer::Place(Position { string: 1, fret: 4 }),
                source: Source::Screen,
                response: Some(Duration::from_micros(2_500_000)),
                uncertainty: Duration::from_micros(83_000),
            }))),
            vec![4, 4, 4, 4, 4, 1, 1, 4, 1, 8, 8],
        ),
        (
            "`ToStudent::Call` number 3 of a tone of 440 Hz, banjo, seed 7, starting at 12 s: tag of \
             the frame, tag, call, tone there, hertz, voice, seed, start, not on asking, not you, no \
             caller, no answers held, not found, no target told, none held to be named.",
            host(HostFrame::Lesson(ToStudent::Call(CallNotice {
                call: CallId(3),
                tone: Some(Tone {
                    frequency_hz: 440.0,
                    voice: Voice::Banjo,
                    pluck_seed: 7,
                }),
                start: Moment::from_micros(12_000_000),
                on_asking: false,
                you_call: false,
                caller: None,
                answers_held: 0,
                found: false,
                target: None,
                held: Vec::new(),
            }))),
            vec![4, 4, 4, 1, 8, 4, 4, 8, 1, 1, 1, 4, 1, 1, 8],
        ),
        (
            "`ToStudent::Marked`: call 3, serial 1, missed by a semitone, low; no calls closed, \
             two tries, no median yet: tag of the frame, tag, call, serial, tag of the mark, kind \
             there, kind, side there, side, seven counts, no median.",
            host(HostFrame::Lesson(ToStudent::Marked {
                call: CallId(3),
                serial: 1,
                mark: Mark::Missed(Miss {
                    kind: Some(MissKind::Neighbour),
                    side: Some(Side::Low),
                }),
                tally: Tally {
                    tries: 2,
                    ..Tally::default()
                },
            })),
            vec![4, 4, 4, 4, 4, 1, 4, 1, 4, 4, 4, 4, 4, 4, 4, 4, 1],
        ),
        (
            "`ToStudent::Reveal` of call 3, F#4 (MIDI 66) at 1/4 and 2/7, one mark, right: tag of the \
             frame, tag, call, MIDI number, count of places, each string and fret, count of marks, \
             serial, mark.",
            host(HostFrame::Lesson(ToStudent::Reveal {
                call: CallId(3),
                pitch: Pitch::new(66).unwrap(),
                places: vec![Position::new(1, 4), Position::new(2, 7)],
                marks: vec![(1, Mark::Right)],
            })),
            vec![4, 4, 4, 1, 8, 1, 1, 1, 1, 8, 4, 4],
        ),
    ]
}
