//! Whatever comes in, in whatever order: nothing panics, nothing is told too
//! early, nothing counts twice, nothing grows without bound, and the same
//! inputs give the same lesson.

mod common;

use std::collections::{BTreeSet, HashSet};
use std::time::Duration;

use common::script::{Input, MAX_ANSWERS, MAX_STUDENTS, aimed, lesson_setup, script};
use common::setup;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::marking::{Mark, Miss, MissKind, Telling};
use fifthpeg_lesson::message::{CallId, Mode, PlaceKey, StudentId, ToStudent};
use fifthpeg_lesson::outbox::MAX_WAITING;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::{CallStage, LessonView};
use fifthpeg_lesson::{Lesson, Moment};
use proptest::prelude::*;

/// Everything a lesson put out, and what must hold of it.
#[derive(Default, PartialEq, Debug)]
struct Output {
    messages: Vec<(StudentId, ToStudent)>,
    events: Vec<LessonEvent>,
    views: Vec<LessonView>,
}

fn run(mode: Mode, steps: &[(u64, Input)], checked: bool) -> Output {
    let mut now = Moment::from_micros(5);
    let mut lesson = Lesson::new(lesson_setup(mode), now).expect("a lesson");
    let mut output = Output::default();
    let mut key = 0;
    let mut revealed = HashSet::new();
    let mut held = HashSet::new();
    for (pause_ms, input) in steps {
        now = now + Duration::from_millis(*pause_ms);
        let telling = lesson.rules().telling;
        match input.clone() {
            Input::Join(name, place) => {
                key += 1;
                let place = place.map(PlaceKey);
                let _ = lesson.handle_join(&name, place, PlaceKey(key), now);
            }
            Input::Lose(id) => lesson.handle_disconnect(id, now),
            Input::Say(id, message) => {
                let last = lesson.view().call.map_or(CallId(0), |c| c.id);
                let _ = lesson.handle_message(id, aimed(message, last), now);
            }
            Input::Host(order) => {
                let _ = lesson.handle_host(order, now);
            }
            Input::TimeOut => lesson.handle_timeout(now),
        }
        let events: Vec<_> = std::iter::from_fn(|| lesson.poll_event()).collect();
        let messages: Vec<_> = std::iter::from_fn(|| lesson.poll_message()).collect();
        let view = lesson.view();
        if checked {
            check_events(&events, &mut revealed, &mut held);
            check_messages(&messages, &revealed, telling);
            check_view(&view, mode);
            // Looking at what is due leaves nothing due: a driver does not spin.
            let mut looked = lesson.clone();
            looked.handle_timeout(now);
            assert!(looked.next_deadline().is_none_or(|d| d > now));
        }
        output.events.extend(events);
        output.messages.extend(messages);
        output.views.push(view);
    }
    output
}

fn check_events(
    events: &[LessonEvent],
    revealed: &mut HashSet<CallId>,
    held: &mut HashSet<(StudentId, CallId, u32)>,
) {
    for event in events {
        match event {
            LessonEvent::Revealed { call, .. } => {
                assert!(revealed.insert(*call), "revealed twice");
            }
            LessonEvent::Answered {
                student,
                call,
                serial,
                ..
            } => {
                assert!(!revealed.contains(call), "answered after the reveal");
                assert!(held.insert((*student, *call, *serial)), "counted twice");
            }
            _ => {}
        }
    }
}

/// No message says the note or a place of it before the reveal.
fn check_messages(
    messages: &[(StudentId, ToStudent)],
    revealed: &HashSet<CallId>,
    telling: Telling,
) {
    for (_, message) in messages {
        match message {
            ToStudent::Reveal { call, .. } => assert!(revealed.contains(call)),
            // The neck and the reach are known to all; a refusal repeats what
            // the student said.
            ToStudent::Welcome(_) | ToStudent::Rules(_) | ToStudent::Refused(_) => {}
            other => {
                let text = format!("{other:?}");
                let names_it = ["Pitch(", "PitchClass(", "Position {"]
                    .iter()
                    .any(|t| text.contains(t));
                assert!(!names_it, "{text}");
            }
        }
        if let ToStudent::Marked { call, mark, .. } = message
            && !revealed.contains(call)
            && telling != Telling::Interval
        {
            let interval = matches!(
                mark,
                Mark::Missed(Miss {
                    kind: Some(MissKind::Interval { .. }),
                    ..
                })
            );
            assert!(!interval, "the interval gives the note away");
        }
    }
}

fn check_view(view: &LessonView, mode: Mode) {
    assert!(view.students.len() <= MAX_STUDENTS as usize);
    let names: BTreeSet<_> = view
        .students
        .iter()
        .map(|s| s.name.to_lowercase())
        .collect();
    assert_eq!(names.len(), view.students.len(), "names differ");
    for student in &view.students {
        let tally = student.tally;
        assert!(tally.found_first <= tally.found && tally.found <= tally.calls);
        assert!(student.answers.len() <= MAX_ANSWERS as usize);
        let right = student.answers.iter().filter(|a| a.mark.is_right()).count();
        assert!(right <= 1, "found once");
    }
    let open = view
        .call
        .as_ref()
        .is_some_and(|c| c.stage == CallStage::Open);
    let anybody = view.students.iter().any(|s| s.connected);
    match (mode, view.ended) {
        (Mode::Friends, false) => {
            assert!(view.turn.is_some() || !anybody, "somebody has the turn");
            if open {
                assert_eq!(view.turn, view.call.as_ref().and_then(|c| c.caller));
            }
        }
        _ => assert_eq!(view.turn, None),
    }
    assert!(!(open && view.ended));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn a_class_keeps_what_must_hold(steps in script()) {
        run(Mode::Class, &steps, true);
    }

    #[test]
    fn friends_keep_what_must_hold(steps in script()) {
        run(Mode::Friends, &steps, true);
    }

    #[test]
    fn the_same_inputs_give_the_same_lesson(steps in script(), friends in prop::bool::ANY) {
        let mode = if friends { Mode::Friends } else { Mode::Class };
        let first = run(mode, &steps, false);
        prop_assert_eq!(first, run(mode, &steps, false));
    }
}

proptest! {
    // Long runs, so fewer of them.
    #![proptest_config(ProptestConfig::with_cases(16))]

    /// A driver that never sends does not make the lesson grow.
    #[test]
    fn unsent_messages_are_bounded(steps in script()) {
        let mut lesson = Lesson::new(lesson_setup(Mode::Friends), Moment::default())
            .expect("a lesson");
        let now = Moment::default();
        for (n, (_, input)) in steps.iter().cycle().take(2000).enumerate() {
            match input.clone() {
                Input::Join(name, place) => {
                    let (place, key) = (place.map(PlaceKey), PlaceKey(n as u128));
                    let _ = lesson.handle_join(&name, place, key, now);
                }
                Input::Lose(id) => lesson.handle_disconnect(id, now),
                Input::Say(id, message) => {
                    let _ = lesson.handle_message(id, message, now);
                }
                Input::Host(HostOrder::End | HostOrder::Remove(_)) | Input::TimeOut => {}
                Input::Host(order) => {
                    let _ = lesson.handle_host(order, now);
                }
            }
        }
        let waiting = std::iter::from_fn(|| lesson.poll_message()).count();
        prop_assert!(waiting <= MAX_WAITING * MAX_STUDENTS as usize, "{}", waiting);
    }
}

#[test]
fn another_seed_gives_other_calls() {
    let calls = |seed| {
        let mut setup = setup();
        setup.seed = seed;
        let mut lesson = Lesson::new(setup, Moment::default()).expect("a lesson");
        let called: Vec<u8> = (0..20)
            .filter_map(|_| {
                lesson
                    .handle_host(HostOrder::CallRandom, Moment::default())
                    .ok()?;
                lesson
                    .handle_host(HostOrder::Close, Moment::default())
                    .ok()?;
                lesson.view().call.map(|c| c.pitch.midi())
            })
            .collect();
        assert_eq!(called.len(), 20);
        called
    };
    assert_eq!(calls(1), calls(1));
    assert_ne!(calls(1), calls(2));
}
