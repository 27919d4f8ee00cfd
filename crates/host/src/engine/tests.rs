//! What the engine tells of a lesson taken up again.

use fifthpeg_book::WriterEvent;
use fifthpeg_core::Neck;
use fifthpeg_lesson::input::GivenInput;
use fifthpeg_lesson::message::{Answer, CallId, FromStudent, Sounding, Source};
use fifthpeg_lesson::setup::LessonSetup;

use super::*;

/// What is told as this lesson is taken up.
fn told(setup: &LessonSetup, inputs: &[(u64, LessonInput)]) -> Vec<Notice> {
    let given = inputs.iter().map(|(at_ms, input)| GivenInput {
        at: Moment::from_micros(at_ms * 1000),
        input: input.clone(),
    });
    let lesson = Lesson::replay(setup.clone(), Moment::default(), given).expect("a lesson");
    let mut engine = Engine::new(lesson, BookState::None);
    engine.begin(Moment::from_micros(3_600_000_000));
    std::iter::from_fn(|| engine.poll())
        .filter_map(|todo| match todo {
            Todo::Notice(notice) => Some(notice),
            _ => None,
        })
        .collect()
}

#[test]
fn a_host_hears_of_a_call_that_its_speakers_may_never_have_sounded() {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let mut setup = LessonSetup::new("Choir", &neck);
    setup.rules.sounding = Sounding::HostSpeakers;
    let lead_ms = u64::try_from(setup.lead.as_millis()).expect("short");
    let join = LessonInput::Join {
        name: "Mia".into(),
        key: None,
        new_key: SeatKey(7),
    };
    let call = LessonInput::Order(HostOrder::CallRandom);
    let tried = |at_ms| {
        let student = StudentId(1);
        let message = FromStudent::Hearing { call: CallId(1) };
        (at_ms, LessonInput::Message { student, message })
    };
    let began = [(10, join), (1000, call)];
    assert_eq!(told(&setup, &began[..1]), []);
    assert_eq!(told(&setup, &began), [Notice::PerhapsUnsounded]);
    let then = |more| [&began[..], &[more]].concat();
    assert_eq!(
        told(&setup, &then(tried(1000 + lead_ms - 1))),
        [Notice::PerhapsUnsounded]
    );
    // Whoever said something after the start shows that the host was there.
    assert_eq!(told(&setup, &then(tried(1000 + lead_ms))), []);
    let reveal = (1001, LessonInput::Order(HostOrder::Reveal));
    assert_eq!(told(&setup, &then(reveal)), []);
    // Where terminals sound it, each does as it comes back.
    setup.rules.sounding = Sounding::EveryTerminal;
    assert_eq!(told(&setup, &began), []);
}

/// A lesson with one student and a call that is open, its book as it stands.
fn called(book: BookState) -> (Engine, StudentConnection, Moment) {
    let neck = Neck::ready("banjo-open-g").expect("a ready neck");
    let now = Moment::from_micros(1_000_000);
    let lesson = Lesson::new(LessonSetup::new("Choir", &neck), now).expect("a lesson");
    let mut engine = Engine::new(lesson, book);
    engine.begin(now);
    let asking = JoinRequest {
        name: "Mia".into(),
        key: None,
        new_key: SeatKey(7),
        by_class_key: false,
    };
    let connection = ConnectionId(1);
    let student = engine.handle_join(asking, connection, now).expect("let in");
    engine
        .handle_order(HostOrder::CallRandom, now)
        .expect("a call");
    let seat = StudentConnection {
        student,
        connection,
    };
    (engine, seat, now)
}

/// To the call that is open; no note of the neck.
fn wrong_answer(serial: u32) -> FromStudent {
    answer(serial, fifthpeg_core::Pitch::new(20).expect("a pitch"))
}

fn answer(serial: u32, pitch: fifthpeg_core::Pitch) -> FromStudent {
    FromStudent::Answer(AnswerNotice {
        call: CallId(1),
        serial,
        answer: Answer::Pitch(pitch),
        source: Source::Screen,
        response: None,
        uncertainty: Duration::ZERO,
    })
}

/// The fault that this guards against: fewer words could wait for the book than
/// answers may come at once, and a student who sent them was taken for one who does
/// not read.
#[test]
fn a_whole_burst_of_answers_waits_for_a_slow_book_and_loses_nobody() {
    let (mut engine, seat, now) = called(BookState::Writing);
    let mut stored = BatchNumber(0);
    let mut words = Vec::new();
    let mut look = |engine: &mut Engine| {
        while let Some(todo) = engine.poll() {
            match todo {
                Todo::Store(ticket, _) => stored = ticket,
                Todo::Send(_, ToStudent::Marked { serial, .. }) => words.push(serial),
                Todo::Send(_, ToStudent::AnswerRefused { serial, .. }) => words.push(serial),
                Todo::Cut(_) => panic!("cut after {} words", words.len()),
                _ => {}
            }
        }
        (stored, words.clone())
    };
    for serial in 1..=crate::BURST {
        engine.handle_message(seat, wrong_answer(serial), now);
    }
    let (up_to, words) = look(&mut engine);
    assert_eq!(words, [0; 0], "nothing is promised before it is stored");
    engine.handle_report(Some(WriterEvent::Stored { up_to }), now);
    let (_, words) = look(&mut engine);
    assert_eq!(words, (1..=crate::BURST).collect::<Vec<_>>());
}

/// Who has said more in one call than is taken hears that of each answer.
#[test]
fn an_answer_beyond_what_one_call_takes_is_refused_by_call_and_serial() {
    let (mut engine, seat, now) = called(BookState::None);
    let most = MESSAGES_PER_CALL + ANSWERS_BEYOND;
    for serial in 1..=most + 1 {
        while engine.poll().is_some() {}
        engine.handle_message(seat, wrong_answer(serial), now);
    }
    let refused = Todo::Send(
        seat,
        ToStudent::AnswerRefused {
            call: CallId(1),
            serial: most + 1,
            why: Refusal::SaidTooMuch,
        },
    );
    let todos: Vec<String> = std::iter::from_fn(|| engine.poll())
        .map(|todo| format!("{todo:?}"))
        .collect();
    assert!(todos.contains(&format!("{refused:?}")), "{todos:?}");
}

/// A wall in the hall is no way to hear of a mark that may be lost yet.
#[test]
fn a_note_that_was_found_is_untold_until_the_book_has_it() {
    let found = |then: &dyn Fn(&mut Engine, StudentConnection, Moment)| {
        let (mut engine, seat, now) = called(BookState::Writing);
        let pitch = engine.lesson().view().call.expect("a call").pitch;
        engine.handle_message(seat, wrong_answer(1), now);
        assert_eq!(engine.untold_finds(), []);
        engine.handle_message(seat, answer(2, pitch), now);
        assert_eq!(engine.untold_finds(), [seat.student]);
        then(&mut engine, seat, now);
        engine.untold_finds()
    };
    let stored = |engine: &mut Engine, _, now| {
        let tickets = std::iter::from_fn(|| engine.poll()).filter_map(|todo| match todo {
            Todo::Store(ticket, _) => Some(ticket),
            _ => None,
        });
        let up_to = tickets.max().expect("a batch");
        engine.handle_report(Some(WriterEvent::Stored { up_to }), now);
    };
    assert_eq!(found(&stored), []);
    // The connection is gone, and the book has it no sooner for that.
    let gone = |engine: &mut Engine, seat, now| engine.handle_gone(seat, None, now);
    assert_eq!(found(&gone).len(), 1);
    let without = |engine: &mut Engine, _, now| assert!(engine.go_without_book(now));
    assert_eq!(found(&without), []);
}
