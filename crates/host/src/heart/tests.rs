//! What the heart tells of a lesson taken up again.

use fifthpeg_core::Neck;
use fifthpeg_lesson::input::GivenInput;
use fifthpeg_lesson::message::{CallId, FromStudent, Sounding};
use fifthpeg_lesson::setup::LessonSetup;

use super::*;

/// What is told as this lesson is taken up.
fn told(setup: &LessonSetup, inputs: &[(u64, LessonInput)]) -> Vec<Notice> {
    let given = inputs.iter().map(|(at_ms, input)| GivenInput {
        at: Moment::from_micros(at_ms * 1000),
        input: input.clone(),
    });
    let lesson = Lesson::replay(setup.clone(), Moment::default(), given).expect("a lesson");
    let mut heart = Heart::new(lesson, BookState::None);
    heart.begin(Moment::from_micros(3_600_000_000));
    std::iter::from_fn(|| heart.poll())
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
        new_key: PlaceKey(7),
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
