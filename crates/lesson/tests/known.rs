//! The host says who somebody is.

use fifthpeg_fixture::{Room, at, friends, setup};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::learning::{StudentKey, When};
use fifthpeg_lesson::message::{FromStudent, Refusal, StudentId, ToStudent};
use fifthpeg_lesson::setup::HostOrder;

fn is(student: StudentId, name: &str, person: Option<u128>) -> HostOrder {
    HostOrder::KnownAs {
        student,
        name: name.to_owned(),
        person: person.map(StudentKey),
    }
}

fn finds(room: &mut Room, student: StudentId, place: &str) {
    room.order(HostOrder::CallAt(at(place)));
    room.wait_ms(3000);
    room.answer(student, at(place)).expect("taken");
    room.order(HostOrder::Close);
}

#[test]
fn who_comes_from_another_machine_is_one_with_who_was_here() {
    let mut room = Room::new(setup());
    let mia = room.join("Mia");
    finds(&mut room, mia, "1/0");
    finds(&mut room, mia, "2/0");
    room.say(mia, FromStudent::Leave).unwrap();
    let second = room.join("Mia");
    assert_eq!(room.student(second).name, "Mia 2");
    finds(&mut room, second, "3/0");
    room.order(is(second, "Mia", None));
    let view = room.view();
    assert_eq!(view.students.len(), 1);
    let one = &view.students[0];
    assert_eq!((one.id, one.name.as_str()), (second, "Mia"));
    assert_eq!((one.tally.calls, one.tally.found), (3, 3));
    assert!(one.tally.median.is_some());
    assert!(matches!(
        room.last(second),
        Some(ToStudent::KnownAs { name, tally }) if name == "Mia" && tally.found == 3
    ));
    let known = room.events.iter().any(|e| {
        matches!(e, LessonEvent::KnownAs { before: Some(b), student, .. }
            if *b == mia && *student == second)
    });
    assert!(known);
    // The name is one's own again, and the next of it gets a number.
    let third = room.join("Mia");
    assert_eq!(room.student(third).name, "Mia 2");
}

#[test]
fn what_the_lesson_knew_of_both_is_known_of_one() {
    let mut room = Room::new(setup());
    room.lesson
        .handle_learning(Vec::new(), When(1_000_000), room.now)
        .unwrap();
    let mia = room.join("Mia");
    let key = StudentKey(77);
    room.lesson.handle_student_key(mia, key, room.now).unwrap();
    finds(&mut room, mia, "1/0");
    room.lose(mia);
    let second = room.join("M");
    finds(&mut room, second, "2/0");
    let before = room.student(second).glance;
    room.order(is(second, "mia", None));
    assert_eq!(room.lesson.student_key(second), Some(key));
    assert_eq!(room.student(second).name, "mia");
    // Two calls of hers are known now, where one was.
    assert_ne!(room.student(second).glance, before);
    // Somebody of the book who has no place here.
    let third = room.join("K");
    room.order(is(third, "Kim", Some(99)));
    assert_eq!(room.student(third).name, "Kim");
    assert_eq!(room.lesson.student_key(third), Some(StudentKey(99)));
}

#[test]
fn two_who_are_here_and_nobody_known_are_refused_and_so_is_an_open_call() {
    let (mut room, ids) = Room::with(setup(), &["Mia", "Ole"]);
    let (mia, ole) = (ids[0], ids[1]);
    let refused = |room: &mut Room, order| room.lesson.handle_host(order, room.now).unwrap_err();
    let both = refused(&mut room, is(ole, "Mia", None));
    assert_eq!(both, Refusal::BothHere("Mia".into()));
    let nobody = refused(&mut room, is(ole, "Sol", None));
    assert_eq!(nobody, Refusal::NobodyKnown("Sol".into()));
    let none = refused(&mut room, is(StudentId(9), "Mia", None));
    assert_eq!(none, Refusal::NoStudent);
    room.lose(mia);
    room.order(HostOrder::CallRandom);
    assert_eq!(refused(&mut room, is(ole, "Mia", None)), Refusal::CallOpen);
    room.order(HostOrder::Close);
    room.order(is(ole, "Mia", None));
    assert_eq!(room.view().students.len(), 1);
}

#[test]
fn among_friends_the_turn_stays_with_the_person() {
    let (mut room, ids) = Room::with(friends(), &["Mia", "Ole"]);
    assert_eq!(room.view().turn, Some(ids[0]));
    room.lose(ids[0]);
    let again = room.join("Mia");
    room.order(is(again, "Mia", None));
    assert_eq!(room.view().turn, Some(again));
    assert!(matches!(
        room.last(again),
        Some(ToStudent::Turn { caller, yours: true }) if caller == "Mia"
    ));
}
