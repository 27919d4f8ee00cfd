//! A lesson that is told anything by anybody, in any order.

use core::time::Duration;
use std::collections::{BTreeMap, BTreeSet};

use arbitrary::{Arbitrary, Unstructured};
use fifthpeg_core::{Neck, Pitch, PitchClass, Position};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::input::{GivenInput, LessonInput};
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, FromStudent, Mode, SeatKey, Source, StudentId, ToStudent,
};
use fifthpeg_lesson::outbox::MAX_WAITING;
use fifthpeg_lesson::{Lesson, LessonSetup, Moment};
use fifthpeg_sim::act::HostAct;
use fifthpeg_sim::host_order;

/// Most operations of one lesson.
const MOST_OPERATIONS: usize = 300;
const BEGAN: Moment = Moment::from_micros(3_600_000_000);

#[derive(Debug, Clone, Copy, Arbitrary)]
enum At {
    Place(u8, u8),
    Pitch(u8),
    Class(u8),
}

#[derive(Debug, Clone, Copy, Arbitrary)]
enum Saying {
    Sounded,
    Hearing,
    Try(At, bool),
    Sung(u16, u8),
    Answer {
        serial: u8,
        at: At,
        played: bool,
        response_ms: Option<u32>,
        uncertainty_ms: u16,
    },
    Pick(Option<At>),
    HearAgain,
    Reveal,
    Close,
    Leave,
}

#[derive(Debug, Clone, Arbitrary)]
enum Operation {
    Join { name: String, key: Option<u8> },
    Say { student: u8, call: u8, what: Saying },
    Order(HostAct),
    Lose(u8),
    Timeout,
    Wait(u16),
}

/// What is known beside the lesson.
#[derive(Default)]
struct Known {
    inputs: Vec<GivenInput>,
    events: Vec<LessonEvent>,
    callers: BTreeMap<CallId, Option<StudentId>>,
    revealed: BTreeSet<CallId>,
    answers: BTreeSet<(StudentId, CallId, u32)>,
}

/// Inputs of a lesson as operations.
pub fn inputs(bytes: &[u8]) {
    let mut bytes = Unstructured::new(bytes);
    let setup = setup(bytes.arbitrary().unwrap_or_default());
    let mut lesson = Lesson::new(setup.clone(), BEGAN).expect("a good setup");
    let mut known = Known::default();
    let mut now = BEGAN;
    known.take(&mut lesson);
    for n in 0..MOST_OPERATIONS {
        if bytes.is_empty() {
            break;
        }
        let Ok(operation) = bytes.arbitrary::<Operation>() else {
            break;
        };
        if let Operation::Wait(ms) = operation {
            now = now + Duration::from_millis(u64::from(ms));
            continue;
        }
        let Some(input) = input(operation, n, &lesson) else {
            continue;
        };
        known.inputs.push(GivenInput {
            at: now,
            input: input.clone(),
        });
        // What is refused is as good to try.
        let _ = lesson.apply(input, now);
        known.take(&mut lesson);
    }
    let mut again = Lesson::replay(setup, BEGAN, known.inputs).expect("a good setup");
    let events: Vec<_> = core::iter::from_fn(|| again.poll_event()).collect();
    assert!(events == known.events, "the lesson replayed is another");
    assert!(
        again.view() == lesson.view(),
        "the lesson replayed looks otherwise"
    );
}

fn setup(byte: u8) -> LessonSetup {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let mut setup = LessonSetup::new("Village hall", &neck);
    setup.rules.sing_first = byte & 1 == 0;
    if byte & 2 == 0 {
        setup.rules.mode = Mode::Friends;
        setup.speakers_among_friends = true;
    }
    setup.max_students = 1 + u32::from(byte >> 4);
    setup.max_answers = 1 + u32::from(byte >> 2 & 3);
    setup
}

fn input(operation: Operation, n: usize, lesson: &Lesson) -> Option<LessonInput> {
    Some(match operation {
        Operation::Join { name, key } => LessonInput::Join {
            name: name.chars().take(64).collect(),
            key: key.map(|k| SeatKey(u128::from(k))),
            new_key: SeatKey(n as u128),
        },
        Operation::Say {
            student,
            call,
            what,
        } => LessonInput::Message {
            student: StudentId(u32::from(student % 8)),
            message: message(CallId(u32::from(call % 16)), what)?,
        },
        Operation::Order(act) => LessonInput::Order(host_order(act, lesson)?),
        Operation::Lose(student) => LessonInput::Disconnect {
            student: StudentId(u32::from(student % 8)),
        },
        Operation::Timeout => LessonInput::Timeout,
        Operation::Wait(_) => return None,
    })
}

fn answer(at: At) -> Option<Answer> {
    Some(match at {
        At::Place(string, fret) => Answer::Place(Position { string, fret }),
        At::Pitch(midi) => Answer::Pitch(Pitch::new(midi % 128)?),
        At::Class(n) => Answer::Class(PitchClass::new(n % 12)?),
    })
}

fn source(played: bool) -> Source {
    if played {
        Source::Instrument
    } else {
        Source::Screen
    }
}

fn message(call: CallId, what: Saying) -> Option<FromStudent> {
    let ms = |n: u32| Duration::from_millis(u64::from(n));
    Some(match what {
        Saying::Sounded => FromStudent::Sounded { call },
        Saying::Hearing => FromStudent::Hearing { call },
        Saying::Try(at, played) => FromStudent::Try {
            call,
            at: answer(at)?,
            source: source(played),
        },
        Saying::Sung(hz, spread) => FromStudent::Sung {
            call,
            frequency_hz: f64::from(hz),
            spread_cents: f32::from(spread),
        },
        Saying::Answer {
            serial,
            at,
            played,
            response_ms,
            uncertainty_ms,
        } => FromStudent::Answer(AnswerNotice {
            call,
            serial: u32::from(serial),
            answer: answer(at)?,
            source: source(played),
            response: response_ms.map(ms),
            uncertainty: ms(u32::from(uncertainty_ms)),
        }),
        Saying::Pick(at) => FromStudent::Pick {
            at: at.and_then(answer),
        },
        Saying::HearAgain => FromStudent::CallerHearAgain { call },
        Saying::Reveal => FromStudent::CallerReveal { call },
        Saying::Close => FromStudent::CallerClose { call },
        Saying::Leave => FromStudent::Leave,
    })
}

impl Known {
    /// Takes all that the lesson says, and holds it against what is known.
    fn take(&mut self, lesson: &mut Lesson) {
        while let Some(event) = lesson.poll_event() {
            match &event {
                LessonEvent::CallMade { call, caller, .. } => {
                    assert_eq!(
                        self.callers.insert(*call, *caller),
                        None,
                        "two calls of one number"
                    );
                }
                LessonEvent::Revealed { call, .. } => {
                    self.revealed.insert(*call);
                }
                LessonEvent::Answered {
                    student,
                    call,
                    serial,
                    ..
                } => {
                    let new = self.answers.insert((*student, *call, *serial));
                    assert!(new, "an answer counted twice: {event:?}");
                    assert_ne!(
                        self.callers.get(call),
                        Some(&Some(*student)),
                        "the caller answers"
                    );
                }
                _ => {}
            }
            self.events.push(event);
        }
        let mut waiting: BTreeMap<StudentId, usize> = BTreeMap::new();
        while let Some((to, message)) = lesson.poll_message() {
            let count = waiting.entry(to).or_default();
            *count += 1;
            assert!(*count <= MAX_WAITING, "{count} messages for one student");
            self.hold_against(to, &message);
        }
    }

    fn hold_against(&self, to: StudentId, message: &ToStudent) {
        match message {
            ToStudent::Call(notice) if notice.target.is_some() => {
                assert_eq!(
                    self.callers.get(&notice.call),
                    Some(&Some(to)),
                    "told the target"
                );
            }
            ToStudent::Reveal { call, .. } => {
                assert!(self.revealed.contains(call), "shown what is not revealed");
            }
            ToStudent::Marked { call, serial, .. } => {
                assert!(
                    self.answers.contains(&(to, *call, *serial)),
                    "marked what was not given"
                );
            }
            _ => {}
        }
    }
}
