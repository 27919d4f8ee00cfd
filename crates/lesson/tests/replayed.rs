//! Answers that come again, from a student who is in: in any order, any number
//! of times, of this call and of earlier ones. Each counts once, is confirmed
//! again as it was, and one of an earlier call is refused by name. Tries and
//! hearings have no serials: each that comes for the open call is one more.

use fifthpeg_fixture::{Room, notice, pitch, setup};
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{Answer, CallId, FromStudent, Refusal, StudentId, ToStudent};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::CallStage;
use proptest::prelude::*;

/// How a call goes on.
#[derive(Debug, Clone)]
enum Step {
    /// One of the two students answers with this pitch.
    Answer(usize, u8),
    Reveal,
    /// The call ends and another begins.
    Next,
}

fn steps() -> impl Strategy<Value = Vec<Step>> {
    let step = prop_oneof![
        8 => (0..2_usize, 55..70_u8).prop_map(|(who, midi)| Step::Answer(who, midi)),
        1 => Just(Step::Reveal),
        1 => Just(Step::Next),
    ];
    prop::collection::vec(step, 1..40)
}

/// One answer as it was sent first, and what came of it.
#[derive(Debug, Clone)]
struct Sent {
    student: StudentId,
    call: CallId,
    serial: u32,
    answer: Answer,
    mark: Option<Mark>,
}

impl Sent {
    fn message(&self) -> FromStudent {
        notice(self.call, self.serial, self.answer)
    }
}

/// A lesson with its honest course.
struct Course {
    room: Room,
    students: Vec<StudentId>,
    serials: [u32; 2],
    sent: Vec<Sent>,
}

impl Course {
    fn new() -> Self {
        let (mut room, students) = Room::with(setup(), &["Mia", "Ivo"]);
        room.order(HostOrder::CallAt(Answer::Pitch(pitch(62))));
        Self {
            room,
            students,
            serials: [0; 2],
            sent: Vec::new(),
        }
    }

    fn take(&mut self, step: &Step) {
        self.room.wait_ms(700);
        match step {
            Step::Answer(who, midi) => {
                self.serials[*who] += 1;
                let mut sent = Sent {
                    student: self.students[*who],
                    call: self.room.call().id,
                    serial: self.serials[*who],
                    answer: Answer::Pitch(pitch(*midi)),
                    mark: None,
                };
                if self.room.say(sent.student, sent.message()).is_ok() {
                    let Some(ToStudent::Marked { mark, .. }) = self.room.last(sent.student) else {
                        panic!("taken and not marked");
                    };
                    sent.mark = Some(*mark);
                }
                self.sent.push(sent);
            }
            Step::Reveal => {
                let _ = self.room.host(HostOrder::Reveal);
            }
            Step::Next => {
                let _ = self.room.host(HostOrder::Close);
                self.room.order(HostOrder::CallAt(Answer::Pitch(pitch(62))));
                self.serials = [0; 2];
            }
        }
    }

    /// One of the answers sent so far comes again.
    fn again(&mut self, which: usize) {
        let Some(sent) = self.sent.get(which % self.sent.len().max(1)).cloned() else {
            return;
        };
        let (view, events) = (self.room.view(), self.room.events.len());
        let done = self.room.say(sent.student, sent.message());
        assert_eq!(self.room.view(), view, "{sent:?} has changed the lesson");
        assert_eq!(self.room.events.len(), events, "{sent:?} counts again");
        let call = self.room.call();
        match (sent.mark, call.id == sent.call) {
            (Some(first), of_this) => {
                assert_eq!(done, Ok(()));
                let Some(ToStudent::Marked {
                    call: of,
                    serial,
                    mark,
                    tally,
                }) = self.room.last(sent.student)
                else {
                    panic!("{sent:?} is not confirmed again");
                };
                assert_eq!((*of, *serial), (sent.call, sent.serial));
                let me = self.room.student(sent.student);
                assert_eq!(*tally, me.tally);
                if of_this && call.stage == CallStage::Open {
                    assert_eq!(*mark, first);
                } else {
                    assert_eq!(mark.is_right(), first.is_right());
                }
            }
            (None, true) => {
                let by_name = matches!(
                    done,
                    Err(Refusal::FoundAlready | Refusal::TooLate | Refusal::TooManyAnswers(_))
                );
                assert!(by_name, "{sent:?}: {done:?}");
            }
            (None, false) => {
                let why = Refusal::TooLate;
                assert_eq!(done, Err(why.clone()));
                let refused = ToStudent::AnswerRefused {
                    call: sent.call,
                    serial: sent.serial,
                    why,
                };
                assert_eq!(self.room.last(sent.student), Some(&refused));
            }
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn what_comes_again_counts_once_and_is_answered_the_same(
        steps in steps(),
        again in prop::collection::vec(prop::collection::vec(0..200_usize, 0..6), 40),
    ) {
        let (mut bare, mut flooded) = (Course::new(), Course::new());
        for (step, again) in steps.iter().zip(again) {
            bare.take(step);
            flooded.take(step);
            for which in again {
                flooded.again(which);
            }
        }
        prop_assert_eq!(bare.room.view(), flooded.room.view());
        prop_assert_eq!(bare.room.events, flooded.room.events);
    }

    /// Answers that come in another order than they were given in, each some
    /// times: the same answers are held, each once, and the sums are the same.
    #[test]
    fn the_order_of_arrival_loses_and_doubles_none(
        order in Just((1..=12_u32).collect::<Vec<_>>()).prop_shuffle(),
        twice in prop::collection::vec(0..12_usize, 0..30),
    ) {
        // None of these is right, so that none shuts out what comes later.
        let answer = |serial: u32| Answer::Pitch(pitch(62 + serial as u8));
        let held = |arrivals: &[u32]| {
            let (mut room, ids) = Room::with(setup(), &["Mia"]);
            room.order(HostOrder::CallAt(Answer::Pitch(pitch(62))));
            let call = room.call().id;
            for serial in arrivals {
                prop_assert_eq!(room.say(ids[0], notice(call, *serial, answer(*serial))), Ok(()));
            }
            let mut answers: Vec<_> = room.student(ids[0]).answers.into_iter()
                .map(|a| (format!("{:?}", a.answer), a.mark))
                .collect();
            answers.sort_by(|a, b| a.0.cmp(&b.0));
            room.order(HostOrder::Close);
            Ok((answers, room.student(ids[0]).tally))
        };
        let mut arrivals = order.clone();
        for at in twice {
            // At once again, or much later.
            let serial = order[at];
            let behind = arrivals.iter().position(|s| *s == serial).unwrap_or(0);
            arrivals.insert(arrivals.len().min(behind + 1 + at), serial);
        }
        let in_order: Vec<_> = (1..=12).collect();
        prop_assert_eq!(held(&arrivals)?, held(&in_order)?);
    }
}

/// Another answer under a serial that is held is not taken for a new one, nor
/// does it replace the first.
#[test]
fn a_serial_stands_for_its_first_answer() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallAt(Answer::Pitch(pitch(62))));
    let call = room.call().id;
    let (wrong, right) = (Answer::Pitch(pitch(61)), Answer::Pitch(pitch(62)));
    room.say(ids[0], notice(call, 1, wrong)).unwrap();
    let before = room.view();
    room.say(ids[0], notice(call, 1, right)).unwrap();
    assert_eq!(room.view(), before);
    room.say(ids[0], notice(call, 2, right)).unwrap();
    let me = room.student(ids[0]);
    assert_eq!((me.answers.len(), me.tally.found), (2, 1));
    assert_eq!(me.tally.found_first, 0);
}
