//! Whatever comes in, in whatever order: nothing panics, nothing is told too
//! early, nothing counts twice, nothing grows without bound, and the same
//! inputs give the same lesson.

use std::collections::{BTreeMap, BTreeSet, HashSet};
use std::time::Duration;

use fifthpeg_fixture::script::{
    MAX_ANSWERS, MAX_STUDENTS, ScriptStep, aimed, lesson_setup, script,
};
use fifthpeg_fixture::setup;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::marking::{Mark, Miss, MissKind, Telling};
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, FromStudent, Mode, Refusal, Rules, SeatKey, StudentId, ToStudent,
};
use fifthpeg_lesson::outbox::MAX_WAITING;
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_lesson::singing::{HINT_CENTS, SUNG_WITHIN_CENTS, SungMark};
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

fn run(mode: Mode, steps: &[(u64, ScriptStep)], checked: bool) -> Output {
    run_setup(lesson_setup(mode), steps, checked)
}

fn run_setup(setup: LessonSetup, steps: &[(u64, ScriptStep)], checked: bool) -> Output {
    let mode = setup.rules.mode;
    let mut now = Moment::from_micros(5);
    let mut lesson = Lesson::new(setup, now).expect("a lesson");
    let mut output = Output::default();
    let mut key = 0;
    let mut revealed = HashSet::new();
    let mut held = HashSet::new();
    for (pause_ms, input) in steps {
        now = now + Duration::from_millis(*pause_ms);
        let telling = lesson.rules().telling;
        let mut said = None;
        match input.clone() {
            ScriptStep::Join(name, place) => {
                key += 1;
                let place = place.map(SeatKey);
                let _ = lesson.handle_join(&name, place, SeatKey(key), now);
            }
            ScriptStep::Lose(id) => lesson.handle_disconnect(id, now),
            ScriptStep::Say(id, message) => {
                let last = lesson.view().call.map_or(CallId(0), |c| c.id);
                let message = aimed(message, last);
                said = Some((id, message.clone()));
                let _ = lesson.handle_message(id, message, now);
            }
            ScriptStep::Host(order) => {
                let _ = lesson.handle_host(order, now);
            }
            ScriptStep::TimeOut => lesson.handle_timeout(now),
            ScriptStep::Learning(evidence, began) => {
                let _ = lesson.handle_learning(evidence, began, now);
            }
            ScriptStep::Key(id, key) => {
                let _ = lesson.handle_student_key(id, key, now);
            }
        }
        let events: Vec<_> = std::iter::from_fn(|| lesson.poll_event()).collect();
        let messages: Vec<_> = std::iter::from_fn(|| lesson.poll_message()).collect();
        let view = lesson.view();
        if checked {
            check_events(&events, &mut revealed, &mut held);
            check_messages(&messages, &revealed, telling, &view);
            for (to, message) in &messages {
                match message {
                    ToStudent::Refused(refusal) => check_refusal(*to, refusal, said.as_ref()),
                    ToStudent::AnswerRefused { call, serial, why } => {
                        check_refusal(*to, why, said.as_ref());
                        let Some((_, FromStudent::Answer(notice))) = said.as_ref() else {
                            panic!("no answer in {said:?}");
                        };
                        assert_eq!((*call, *serial), (notice.call, notice.serial));
                    }
                    _ => {}
                }
            }
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
            LessonEvent::Sung { call, .. } => {
                assert!(!revealed.contains(call), "sung after the reveal");
            }
            _ => {}
        }
    }
}

/// No message says the note or a place of it before the reveal, but to the
/// friend who calls it.
fn check_messages(
    messages: &[(StudentId, ToStudent)],
    revealed: &HashSet<CallId>,
    telling: Telling,
    view: &LessonView,
) {
    for (to, message) in messages {
        match message {
            ToStudent::Reveal { call, .. } => assert!(revealed.contains(call)),
            ToStudent::Call(notice) => {
                let call = view.call.as_ref().expect("called");
                let calls = call.caller == Some(*to);
                let target = calls.then_some((call.pitch, call.place));
                assert_eq!(notice.target, target, "to the caller, and nobody else");
                assert_eq!(notice.you_call, calls);
                let mut rest = notice.clone();
                rest.target = None;
                // What this student has answered, with no more than is told of it.
                for held in rest.held.drain(..) {
                    check_mark(held.mark, notice.call, revealed, telling);
                }
                assert!(!names_a_note(&rest), "{rest:?}");
            }
            // The rules in force, which the same orders make whatever is
            // called: see `rules_and_names_do_not_depend_on_the_target`.
            ToStudent::Welcome(welcome) => {
                assert_eq!(welcome.rules, view.rules);
                let student = view.students.iter().find(|s| s.id == welcome.student);
                let student = student.expect("on the roster");
                assert_eq!((*to, &welcome.name), (student.id, &student.name));
            }
            ToStudent::Rules(rules) => assert_eq!(**rules, view.rules),
            // See `check_refusal`.
            ToStudent::Refused(_) | ToStudent::AnswerRefused { .. } => {}
            other => assert!(!names_a_note(other), "{other:?}"),
        }
        if let ToStudent::Sung { call, sung } = message {
            // Never after the reveal: see `check_events`, which knows the order.
            assert!(view.rules.sing_first, "{call:?}");
            check_sung(*sung, telling);
        }
        if let ToStudent::Marked { call, mark, .. } = message {
            check_mark(*mark, *call, revealed, telling);
        }
    }
}

fn check_mark(mark: Mark, call: CallId, revealed: &HashSet<CallId>, telling: Telling) {
    let interval = matches!(
        mark,
        Mark::Missed(Miss {
            kind: Some(MissKind::Interval { .. }),
            ..
        })
    );
    let may = revealed.contains(&call) || telling == Telling::Interval;
    assert!(may || !interval, "the interval gives the note away");
}

/// Octaves and cents, and no more of them than the telling allows.
fn check_sung(sung: SungMark, telling: Telling) {
    let cents = f64::from(sung.cents);
    let most = match telling {
        Telling::Verdict => SUNG_WITHIN_CENTS,
        Telling::Hint => HINT_CENTS,
        Telling::Interval => 600.0,
    };
    assert!(cents.abs() <= most, "{sung:?}");
    if !sung.exact {
        assert_ne!(telling, Telling::Interval);
        let side = if telling == Telling::Hint {
            HINT_CENTS
        } else {
            0.0
        };
        assert_eq!((sung.octaves, cents.abs()), (0, side));
    }
}

fn names_a_note(message: &impl std::fmt::Debug) -> bool {
    let text = format!("{message:?}");
    ["Pitch(", "PitchClass(", "Position {"]
        .iter()
        .any(|t| text.contains(t))
}

/// A refusal says nothing but what this student has just said, and the limits
/// that all know.
fn check_refusal(to: StudentId, refusal: &Refusal, said: Option<&(StudentId, FromStudent)>) {
    let (from, message) = said.expect("only what is said is refused");
    assert_eq!(*from, to);
    match refusal {
        Refusal::NoSuchPlace(place) => {
            let (FromStudent::Answer(AnswerNotice { answer: at, .. })
            | FromStudent::Try { at, .. }
            | FromStudent::Pick { at: Some(at) }) = message
            else {
                panic!("no place in {message:?}");
            };
            assert_eq!(*at, Answer::Place(*place));
        }
        Refusal::TooManyAnswers(most) => assert_eq!(*most, MAX_ANSWERS),
        // Texts could say anything, so none goes to a student.
        Refusal::Reach(_) | Refusal::Setup(_) => panic!("{refusal:?}"),
        other => assert!(!format!("{other:?}").contains('('), "{other:?}"),
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

/// What everyone is told of the rules and of their own names, in order.
fn rules_and_names(output: &Output) -> Vec<(StudentId, String, Rules)> {
    let told = |(to, message): &(StudentId, ToStudent)| match message {
        ToStudent::Welcome(w) => Some((*to, w.name.clone(), w.rules.clone())),
        ToStudent::Rules(rules) => Some((*to, String::new(), (**rules).clone())),
        _ => None,
    };
    output.messages.iter().filter_map(told).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// In a class, where the host alone decides when a call ends, another seed
    /// picks other notes; rules and names are told as before.
    #[test]
    fn rules_and_names_do_not_depend_on_the_target(steps in script(), seed in 1000_u64..2000) {
        let mut setup = lesson_setup(Mode::Class);
        let first = run_setup(setup.clone(), &steps, false);
        setup.seed = seed;
        let second = run_setup(setup, &steps, false);
        prop_assert_eq!(rules_and_names(&first), rules_and_names(&second));
    }
}

proptest! {
    // Long runs, so fewer of them.
    #![proptest_config(ProptestConfig::with_cases(16))]

    /// Messages for a driver that never sends any do not pile up. (Events do
    /// until they are taken, as none may be lost; here they are taken.)
    #[test]
    fn unsent_messages_are_bounded(steps in script()) {
        let mut lesson = Lesson::new(lesson_setup(Mode::Friends), Moment::default())
            .expect("a lesson");
        let now = Moment::default();
        for (n, (_, input)) in steps.iter().cycle().take(2000).enumerate() {
            match input.clone() {
                ScriptStep::Join(name, place) => {
                    let (place, key) = (place.map(SeatKey), SeatKey(n as u128));
                    let _ = lesson.handle_join(&name, place, key, now);
                }
                ScriptStep::Lose(id) => lesson.handle_disconnect(id, now),
                ScriptStep::Say(id, message) => {
                    let _ = lesson.handle_message(id, message, now);
                }
                ScriptStep::Host(HostOrder::End | HostOrder::Remove(_)) | ScriptStep::TimeOut => {}
                ScriptStep::Learning(..) | ScriptStep::Key(..) => {}
                ScriptStep::Host(order) => {
                    let _ = lesson.handle_host(order, now);
                }
            }
            while lesson.poll_event().is_some() {}
            if n % 100 == 99 {
                let mut waiting = BTreeMap::new();
                let mut looked = lesson.clone();
                while let Some((to, _)) = looked.poll_message() {
                    *waiting.entry(to).or_insert(0) += 1;
                }
                prop_assert!(waiting.len() <= MAX_STUDENTS as usize);
                prop_assert!(waiting.values().all(|n| *n <= MAX_WAITING), "{:?}", waiting);
            }
        }
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
