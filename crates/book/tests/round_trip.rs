//! Whatever happens in a lesson is read back as it was, the lesson made again
//! is the same, and the sums are the lesson's own.

mod common;

use std::time::Duration;

use fifthpeg_book::{Batch, Book, Outlives, Whose, Writer};
use fifthpeg_fixture::script::{ScriptStep, aimed, lesson_setup, script};
use fifthpeg_lesson::message::{CallId, Mode, SeatKey, StudentId};
use fifthpeg_lesson::{GivenInput, HostOrder, Lesson, LessonEvent, LessonInput};
use proptest::prelude::*;

use common::{BEGAN, CLASS, EVENING_MS, Folder, tally};

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

fn check(steps: Vec<(u64, ScriptStep)>, friends: bool, batch_size: usize) {
    let folder = Folder::new("round-trip");
    let mut setup = lesson_setup(if friends { Mode::Friends } else { Mode::Class });
    setup.rules.sing_first = true;
    let mut book = Book::open(&folder.book()).unwrap();
    let running = book.begin(CLASS, &setup, BEGAN, EVENING_MS).unwrap();
    let id = running.id();
    let mut writer = Writer::start(book, running, Outlives::Kill, |_| {});
    let mut lesson = Lesson::new(setup, BEGAN).unwrap();
    let (mut now, mut key) = (BEGAN, 0);
    let (mut events, mut batch) = (Vec::new(), Batch::default());
    let mut last_kept = now;
    for (pause_ms, step) in steps {
        now = now + Duration::from_millis(pause_ms);
        let last = lesson.view().call.map_or(CallId(0), |c| c.id);
        let input = as_input(step, &mut key, last);
        let joins = matches!(input, LessonInput::Join { .. });
        let done = lesson.apply(input.clone(), now);
        while lesson.poll_message().is_some() {}
        if done.is_ok() || !joins {
            batch.inputs.push(GivenInput { at: now, input });
            last_kept = now;
        }
        let new: Vec<_> = std::iter::from_fn(|| lesson.poll_event()).collect();
        events.extend(new.iter().cloned());
        batch.events.extend(new);
        if batch.inputs.len() >= batch_size {
            writer.store(std::mem::take(&mut batch));
        }
    }
    writer.store(batch);
    writer.finish(Duration::from_secs(10)).unwrap();

    let mut book = Book::open(&folder.book()).unwrap();
    let reader = book.reader().unwrap();
    let all_names = !events.iter().any(is_known_as);
    assert_eq!(
        folded(reader.events(id).unwrap(), all_names),
        folded(events.clone(), all_names)
    );
    let seats = reader.seats(id).unwrap();
    let person = |id: StudentId| seats.iter().find(|(s, _)| *s == id).map(|(_, p)| p);
    for event in &events {
        if let LessonEvent::KnownAs {
            student,
            before: Some(before),
            ..
        } = event
        {
            assert_eq!(person(*student), person(*before), "two places, one person");
        }
    }
    let view = lesson.view();
    if view.ended {
        assert!(book.open_lessons().unwrap().is_empty());
        assert!(reader.lesson(id).unwrap().ended_ms.is_some());
    } else {
        let open = &book.open_lessons().unwrap()[0];
        assert_eq!((open.id, open.runs), (id, false));
        let resumed = book.resume(id, EVENING_MS + 1).unwrap();
        assert_eq!(resumed.lesson.view(), view);
        assert_eq!(resumed.lesson.connected(), lesson.connected());
        assert_eq!(resumed.lesson.next_deadline(), lesson.next_deadline());
        assert!(resumed.goes_on > last_kept);
    }
    sums_are_the_tallies(&reader, id, &mut lesson, &events);
}

/// "Mia" and "mia" are one person, who has one name in the book. Where the host said
/// who somebody is, the book keeps what came of it: one person, by one name all along.
fn folded(mut events: Vec<LessonEvent>, all_names: bool) -> Vec<LessonEvent> {
    events.retain(|e| !is_known_as(e));
    for event in &mut events {
        if let LessonEvent::Joined { name, .. } = event {
            *name = if all_names {
                name.to_lowercase()
            } else {
                String::new()
            };
        }
    }
    events
}

fn is_known_as(event: &LessonEvent) -> bool {
    matches!(event, LessonEvent::KnownAs { .. })
}

/// Whose place this was in the end: the host may have said that it is another's.
fn in_the_end(student: StudentId, events: &[LessonEvent]) -> StudentId {
    events.iter().fold(student, |now, event| match event {
        LessonEvent::KnownAs {
            student,
            before: Some(before),
            ..
        } if *before == now => *student,
        _ => now,
    })
}

/// The sums over the rows are what the lesson counted. The last call may be
/// revealed and not closed yet, which the lesson counts later: so it is closed.
fn sums_are_the_tallies(
    reader: &fifthpeg_book::Reader,
    id: fifthpeg_book::LessonId,
    lesson: &mut Lesson,
    events: &[LessonEvent],
) {
    let open = lesson.view().call.map(|c| (c.id, c.stage));
    let calls = reader.calls(Whose::Lesson(id)).unwrap();
    let revealed = Some(fifthpeg_lesson::view::CallStage::Revealed);
    if open.map(|(_, stage)| stage) == revealed {
        let _ = lesson.handle_host(HostOrder::Close, BEGAN + Duration::from_secs(1 << 30));
    }
    for student in lesson.view().students {
        let mine = calls
            .iter()
            .filter(|c| in_the_end(c.student, events) == student.id);
        assert_eq!(tally(mine), student.tally, "{}", student.name);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(32) })]
    #[test]
    fn lessons_come_back_as_they_were(
        steps in script(), friends: bool, batch_size in 1_usize..9,
    ) {
        check(steps, friends, batch_size);
    }
}

/// The host shows the note and says, before the call is closed, that two of those
/// who searched are one.
#[test]
fn two_who_searched_in_the_same_call_are_one() {
    let join = |name: &str| ScriptStep::Join(name.to_owned(), None);
    let known = HostOrder::KnownAs {
        student: StudentId(1),
        name: "Sol".to_owned(),
        person: None,
    };
    let steps = vec![
        (0, join("Ida")),
        (0, join("Sol")),
        (0, ScriptStep::Host(HostOrder::CallRandom)),
        (0, ScriptStep::Lose(StudentId(2))),
        (0, ScriptStep::Host(HostOrder::Reveal)),
        (0, ScriptStep::Host(known)),
    ];
    check(steps, false, 1);
}

/// What was said to be one stays one when the host then says whose it is.
#[test]
fn places_that_are_one_move_to_another_person_together() {
    let join = |name: &str| ScriptStep::Join(name.to_owned(), None);
    let lose = |number| ScriptStep::Lose(StudentId(number));
    let known = |number, name: &str| {
        ScriptStep::Host(HostOrder::KnownAs {
            student: StudentId(number),
            name: name.to_owned(),
            person: None,
        })
    };
    let steps = vec![join("Ida"), join("Sol"), join("Mia"), lose(1), lose(2)];
    let known = [known(3, "Sol"), known(3, "Ida")];
    let steps = steps.into_iter().chain(known).map(|step| (0, step));
    check(steps.collect(), false, 1);
}
