//! A lesson made again from what went into it is the same lesson.

use std::time::Duration;

use fifthpeg_fixture::script::{ScriptStep, aimed, lesson_setup, script};
use fifthpeg_lesson::message::{CallId, Mode, SeatKey};
use fifthpeg_lesson::{GivenInput, Lesson, LessonInput, Moment, Picking};
use proptest::prelude::*;

fn as_input(step: ScriptStep, key: &mut u128, last: CallId) -> LessonInput {
    match step {
        ScriptStep::Join(name, place) => {
            *key += 1;
            LessonInput::Join {
                name,
                key: place.map(SeatKey),
                new_key: SeatKey(*key),
            }
        }
        ScriptStep::Lose(student) => LessonInput::Disconnect { student },
        ScriptStep::Say(student, message) => LessonInput::Message {
            student,
            message: aimed(message, last),
        },
        ScriptStep::Host(order) => LessonInput::Order(order),
        ScriptStep::TimeOut => LessonInput::Timeout,
        ScriptStep::Learning(evidence, began) => LessonInput::Learning { evidence, began },
        ScriptStep::Key(student, key) => LessonInput::StudentKey { student, key },
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn a_lesson_made_again_is_the_same_and_goes_on_the_same(
        steps in script(), friends: bool, teaching: bool, cut in 0_usize..120,
    ) {
        let mut setup = lesson_setup(if friends { Mode::Friends } else { Mode::Class });
        if teaching {
            setup.picking = Picking::Teaching;
        }
        let began = Moment::from_micros(5);
        let (mut now, mut key) = (began, 0);
        let mut lesson = Lesson::new(setup.clone(), began).unwrap();
        let (mut kept, mut events) = (Vec::new(), Vec::new());
        let mut again = None;
        for (n, (pause_ms, step)) in steps.into_iter().enumerate() {
            now = now + Duration::from_millis(pause_ms);
            let last = lesson.view().call.map_or(CallId(0), |c| c.id);
            let input = as_input(step, &mut key, last);
            let joins = matches!(input, LessonInput::Join { .. });
            let done = lesson.apply(input.clone(), now);
            let said: Vec<_> = std::iter::from_fn(|| lesson.poll_message()).collect();
            let new: Vec<_> = std::iter::from_fn(|| lesson.poll_event()).collect();
            if let Some(again) = &mut again {
                let again: &mut Lesson = again;
                prop_assert_eq!(&again.apply(input.clone(), now), &done);
                let theirs: Vec<_> = std::iter::from_fn(|| again.poll_message()).collect();
                prop_assert_eq!(&theirs, &said);
                let theirs: Vec<_> = std::iter::from_fn(|| again.poll_event()).collect();
                prop_assert_eq!(&theirs, &new);
            }
            events.extend(new);
            // A refused join has changed nothing and is not kept.
            if !(joins && done.is_err()) {
                kept.push(GivenInput { at: now, input });
            }
            if n == cut {
                let mut made = Lesson::replay(setup.clone(), began, kept.clone()).unwrap();
                let theirs: Vec<_> = std::iter::from_fn(|| made.poll_event()).collect();
                prop_assert_eq!(&theirs, &events);
                prop_assert_eq!(made.view(), lesson.view());
                prop_assert_eq!(made.next_deadline(), lesson.next_deadline());
                prop_assert_eq!(made.connected(), lesson.connected());
                again = Some(made);
            }
        }
    }
}
