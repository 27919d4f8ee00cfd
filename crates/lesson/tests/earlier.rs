//! What a lesson makes of earlier ones, once it is told who a student is.

use fifthpeg_core::Pitch;
use fifthpeg_fixture::{Room, at, setup};
use fifthpeg_lesson::learning::help::State;
use fifthpeg_lesson::learning::{Confusion, Evidence, Outcome, StudentKey, When};
use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::{HostOrder, Picking};
use fifthpeg_vocab::Setting;

const BEGAN: When = When(1_764_000_000);
const MIA: StudentKey = StudentKey(1 << 90);

/// Ten calls last week, in the reach of the room.
fn last_week(room: &Room, outcome: Outcome) -> Vec<Evidence> {
    let pitches = room.lesson.reach().pitches().to_vec();
    let calls = (0..10).map(|n| Evidence {
        student: MIA,
        pitch: pitches[n * 3 % pitches.len()],
        reach_size: pitches.len() as u16,
        outcome,
        hearings: 0,
        tries: 1,
        response: None,
        miss: (outcome == Outcome::NotFound).then_some(Confusion::Neighbour),
        when: When(BEGAN.0 - 7 * 86_400 + n as i64 * 60),
    });
    calls.collect()
}

fn tell(room: &mut Room, student: StudentId, records: Vec<Evidence>) {
    let now = room.now;
    room.lesson
        .handle_learning(records, BEGAN, now)
        .expect("a lesson that has not ended");
    room.lesson
        .handle_student_key(student, MIA, now)
        .expect("on the roster");
    room.collect();
}

fn call_and_miss(room: &mut Room, student: StudentId, place: &str) {
    room.wait_ms(20_000);
    room.order(HostOrder::CallAt(at(place)));
    room.wait_ms(5_000);
    room.answer(student, at("1/22")).expect("an answer");
    room.order(HostOrder::Close);
}

/// The notes picked so that they teach, and how the student stands then.
fn later(room: &mut Room, student: StudentId) -> (Vec<Pitch>, State) {
    room.order(HostOrder::Set(Setting::Picking(Picking::Teaching)));
    let mut picks = Vec::new();
    for _ in 0..12 {
        room.wait_ms(20_000);
        room.order(HostOrder::CallRandom);
        picks.push(room.call().pitch);
        room.order(HostOrder::Close);
    }
    (picks, room.student(student).glance.state)
}

#[test]
fn what_was_learned_before_the_book_answered_is_kept() {
    let lesson = |told_after: usize| {
        let (mut room, ids) = Room::with(setup(), &["Mia"]);
        let now = room.now;
        room.lesson
            .handle_learning(Vec::new(), BEGAN, now)
            .expect("a lesson that has not ended");
        let records = last_week(&room, Outcome::FoundFirst);
        for (n, place) in ["3/0", "1/0", "4/2"].into_iter().enumerate() {
            if n == told_after {
                tell(&mut room, ids[0], records.clone());
            }
            call_and_miss(&mut room, ids[0], place);
        }
        if told_after == 3 {
            tell(&mut room, ids[0], records);
        }
        assert_eq!(room.lesson.student_key(ids[0]), Some(MIA));
        later(&mut room, ids[0])
    };
    let at_once = lesson(0);
    assert_eq!(lesson(2), at_once);
    assert_eq!(lesson(3), at_once);
}

#[test]
fn last_weeks_misses_show_and_last_weeks_silence_does_not() {
    let state = |outcome| {
        let (mut room, ids) = Room::with(setup(), &["Mia"]);
        assert_eq!(room.lesson.began_when(), None);
        let records = last_week(&room, outcome);
        tell(&mut room, ids[0], records);
        assert_eq!(room.lesson.began_when(), Some(BEGAN));
        room.student(ids[0]).glance.state
    };
    let missing = State::Missing {
        missed: 8,
        by: Some(Confusion::Neighbour),
    };
    assert_eq!(state(Outcome::NotFound), missing);
    assert_eq!(state(Outcome::FoundFirst), State::Steady);
    assert_eq!(state(Outcome::Silent), State::New);
}

#[test]
fn this_weeks_silence_shows() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    let records = last_week(&room, Outcome::Silent);
    tell(&mut room, ids[0], records);
    for n in 1..=3 {
        room.wait_ms(20_000);
        room.order(HostOrder::CallAt(at("1/0")));
        room.order(HostOrder::Close);
        let state = room.student(ids[0]).glance.state;
        let silent = State::Silent { calls: 3 };
        assert_eq!(state == silent, n == 3, "after {n}: {state:?}");
    }
}
