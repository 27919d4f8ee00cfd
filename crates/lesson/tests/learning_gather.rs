//! Evidence gathered from the events of a real lesson.

use std::time::Duration;

use fifthpeg_core::ReachStep;
use fifthpeg_fixture::{Room, at, place, setup};
use fifthpeg_lesson::learning::gather::Gatherer;
use fifthpeg_lesson::learning::{Confusion, Evidence, Model, Outcome, StudentKey, When};
use fifthpeg_lesson::marking::Marking;
use fifthpeg_lesson::message::{FromStudent, Source, StudentId};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_vocab::Setting;

const BEGAN: When = When(1_000);

/// Records of everything that happened in a room, students under their number.
fn gathered(room: &mut Room, gatherer: &mut Gatherer) -> Vec<Evidence> {
    let key_of = |student: StudentId| Some(StudentKey(u128::from(student.0)));
    let events = core::mem::take(&mut room.events);
    events
        .iter()
        .flat_map(|event| gatherer.take(event, key_of))
        .collect()
}

fn hall() -> (Room, Vec<StudentId>, Gatherer) {
    let (room, ids) = Room::with(setup(), &["Mia", "Ivo", "Ruth"]);
    let gatherer = Gatherer::new(BEGAN, room.now, room.lesson.rules());
    (room, ids, gatherer)
}

fn search(room: &mut Room, id: StudentId, times: u32) {
    for _ in 0..times {
        let call = room.call().id;
        let source = Source::Screen;
        let tried = FromStudent::Try {
            call,
            at: at("1/3"),
            source,
        };
        room.say(id, tried).expect("a try");
        room.say(id, FromStudent::Hearing { call })
            .expect("a hearing");
    }
}

#[test]
fn one_record_for_each_student_when_the_call_closes() {
    let (mut room, ids, mut gatherer) = hall();
    let [mia, ivo, ruth] = ids[..] else { panic!() };
    room.wait(Duration::from_secs(60));
    room.order(HostOrder::CallAt(at("1/0")));
    room.answer(mia, at("1/0")).expect("an answer");
    search(&mut room, ivo, 3);
    // Twelve frets up is an octave away; then it is found.
    room.answer(ivo, at("1/12")).expect("an answer");
    search(&mut room, ivo, 5);
    room.answer(ivo, at("1/0")).expect("an answer");
    assert_eq!(
        gathered(&mut room, &mut gatherer),
        [],
        "nothing before the end"
    );
    room.order(HostOrder::Close);
    let records = gathered(&mut room, &mut gatherer);
    let [of_mia, of_ivo, of_ruth] = records[..] else {
        panic!("{records:?}")
    };
    let whole_neck = room.lesson.rules().reach.clone();
    let reach =
        fifthpeg_core::Reach::resolve(&fifthpeg_fixture::banjo(), &whole_neck).expect("a reach");
    assert_eq!(usize::from(of_mia.reach_size), reach.pitches().len());
    assert_eq!(of_mia.student, StudentKey(u128::from(mia.0)));
    assert_eq!((of_mia.outcome, of_mia.miss), (Outcome::FoundFirst, None));
    assert_eq!(of_mia.when, When(1_060));
    assert_eq!(
        (of_ivo.outcome, of_ivo.miss),
        (Outcome::FoundLater, Some(Confusion::Octave))
    );
    // What came after the first answer does not count.
    assert_eq!((of_ivo.tries, of_ivo.hearings), (3, 3));
    assert_eq!(
        (of_ruth.student.0, of_ruth.outcome),
        (u128::from(ruth.0), Outcome::Silent)
    );
    // Closed once, told once.
    room.order(HostOrder::CallAt(at("2/0")));
    assert_eq!(gathered(&mut room, &mut gatherer), []);
}

#[test]
fn a_search_without_an_answer_was_not_found() {
    let (mut room, ids, mut gatherer) = hall();
    room.order(HostOrder::CallAt(at("1/0")));
    search(&mut room, ids[0], 1);
    room.order(HostOrder::Close);
    let records = gathered(&mut room, &mut gatherer);
    assert_eq!(records[0].outcome, Outcome::NotFound);
    assert_eq!(records[0].miss, None);
}

#[test]
fn the_right_pitch_at_another_place_was_heard_rightly() {
    let mut setup = setup();
    setup.rules.marking = Marking::ExactPlace;
    let (mut room, ids) = Room::with(setup, &["Mia"]);
    let mut gatherer = Gatherer::new(BEGAN, room.now, room.lesson.rules());
    // A4 lies at both (common practice, no source).
    assert_eq!(
        fifthpeg_fixture::banjo().pitch_at(place("1/7")),
        fifthpeg_fixture::banjo().pitch_at(place("5/7"))
    );
    room.order(HostOrder::CallAt(at("1/7")));
    let mark = room.answer(ids[0], at("5/7")).expect("an answer");
    assert!(!mark.is_right());
    room.order(HostOrder::Close);
    let records = gathered(&mut room, &mut gatherer);
    assert_eq!(
        (records[0].outcome, records[0].miss),
        (Outcome::FoundFirst, None)
    );
}

#[test]
fn a_reach_changed_in_an_open_call_counts_from_the_next() {
    let (mut room, ids, mut gatherer) = hall();
    room.order(HostOrder::CallAt(at("1/0")));
    room.order(HostOrder::Set(Setting::Reach(ReachStep::TwoOpen.into())));
    room.order(HostOrder::Close);
    let before = gathered(&mut room, &mut gatherer)[0].reach_size;
    room.order(HostOrder::CallAt(at("1/0")));
    room.answer(ids[0], at("1/0")).expect("an answer");
    room.order(HostOrder::Close);
    let records = gathered(&mut room, &mut gatherer);
    assert!(before > 2);
    assert_eq!(records[0].reach_size, 2);
    let model = Model::from_evidence(records);
    let mia = StudentKey(u128::from(ids[0].0));
    assert!(model.listener(mia).is_some());
}

#[test]
fn who_has_no_key_leaves_no_record() {
    let (mut room, _, mut gatherer) = hall();
    room.order(HostOrder::CallAt(at("1/0")));
    room.order(HostOrder::Close);
    let events = core::mem::take(&mut room.events);
    let records: Vec<Evidence> = events
        .iter()
        .flat_map(|event| gatherer.take(event, |_| None))
        .collect();
    assert_eq!(records, []);
}
