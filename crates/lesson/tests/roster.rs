//! Who comes, goes and comes back.

use fifthpeg_fixture::{Room, at, notice, setup};
use fifthpeg_lesson::event::{Leaving, LessonEvent};
use fifthpeg_lesson::marking::{Mark, Telling};
use fifthpeg_lesson::message::{
    CallId, FromStudent, Progress, Refusal, SeatKey, StudentId, ToStudent,
};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_vocab::Setting;

#[test]
fn a_late_joiner_gets_the_open_call_with_its_start_in_the_past() {
    let (mut room, _) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallAt(at("1/0")));
    room.wait_ms(5000);
    let late = room.join("Ole");
    let [ToStudent::Welcome(_), ToStudent::Call(notice)] = room.inbox(late) else {
        panic!("welcome, then the call");
    };
    assert!(notice.start < room.now);
    assert_eq!(room.answer(late, at("1/0")), Ok(Mark::Right));
    assert_eq!(room.student(late).tally.calls, 1);
}

#[test]
fn one_who_comes_after_the_reveal_sees_it_but_was_not_there_for_it() {
    let (mut room, _) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallAt(at("1/0")));
    room.order(HostOrder::Reveal);
    let late = room.join("Ole");
    assert!(matches!(
        room.inbox(late),
        [ToStudent::Welcome(_), ToStudent::Call(_), ToStudent::Reveal { marks, .. }]
            if marks.is_empty()
    ));
    assert_eq!(room.student(late).progress, None);
    room.order(HostOrder::Close);
    assert_eq!(room.student(late).tally.calls, 0);
    let mia = room.view().students[0].tally;
    assert_eq!((mia.calls, mia.found), (1, 0));
}

#[test]
fn a_lost_student_comes_back_to_the_same_place() {
    let mut room = Room::new(setup());
    let mia = room.join("Mia");
    let key = room.key(mia);
    room.order(HostOrder::CallAt(at("1/0")));
    room.answer(mia, at("4/0")).expect("taken");
    room.lose(mia);
    assert_eq!(room.student(mia).progress, Some(Progress::Away));
    room.wait_ms(3000);
    assert_eq!(room.try_join("whatever", Some(key)), Ok(mia));
    let inbox = room.inbox(mia);
    let [.., ToStudent::Welcome(welcome), ToStudent::Call(notice)] = inbox else {
        panic!("welcome, then the call");
    };
    assert_eq!(welcome.name, "Mia");
    assert_eq!((notice.answers_held, notice.found), (1, false));
    assert_eq!(room.student(mia).tally.calls, 0, "it is still open");
    assert_eq!(room.view().students.len(), 1);
    let came_back = room.events.iter().any(
        |e| matches!(e, LessonEvent::Joined { student, returning: true, .. } if *student == mia),
    );
    assert!(came_back);
    assert_eq!(room.answer(mia, at("1/0")), Ok(Mark::Right));
    assert_eq!(room.student(mia).tally.calls, 1);
    room.order(HostOrder::Close);
    assert_eq!(room.student(mia).tally.calls, 1, "counted once");
}

#[test]
fn two_of_one_name_are_told_apart() {
    let mut room = Room::new(setup());
    let names = [" Mia ", "mia", "Mia"].map(|n| {
        let id = room.join(n);
        room.student(id).name
    });
    assert_eq!(names, ["Mia", "mia 2", "Mia 3"]);
}

#[test]
fn a_full_lesson_gives_up_the_places_of_those_who_left() {
    let mut setup = setup();
    setup.max_students = 2;
    let mut room = Room::new(setup);
    let mia = room.join("Mia");
    let key = room.key(mia);
    room.join("Ole");
    assert_eq!(room.try_join("Sol", None), Err(Refusal::Full(2)));
    assert_eq!(room.say(mia, FromStudent::Leave), Ok(()));
    let sol = room.join("Sol");
    assert_eq!(room.view().students.len(), 2);
    assert_eq!(room.try_join("Mia", Some(key)), Err(Refusal::UnknownSeat));
    let made_room = LessonEvent::Left {
        at: room.now,
        student: mia,
        leaving: Leaving::MadeRoom,
    };
    assert!(room.events.contains(&made_room));
    // One whose connection was lost after answering keeps the place.
    room.order(HostOrder::CallAt(at("1/0")));
    room.answer(sol, at("1/0")).expect("taken");
    room.lose(sol);
    assert_eq!(room.try_join("Ida", None), Err(Refusal::Full(2)));
}

#[test]
fn a_removed_student_is_told_and_forgotten() {
    let mut room = Room::new(setup());
    let mia = room.join("Mia");
    room.order(HostOrder::Remove(mia));
    // Not as when the lesson ends: it goes on without this student.
    assert!(matches!(
        room.last(mia),
        Some(ToStudent::Ended { removed: true, .. })
    ));
    assert!(room.view().students.is_empty());
    // What was done until then stays in sight.
    let view = room.view();
    let out: Vec<_> = view
        .taken_out
        .iter()
        .map(|out| (out.id, &out.name[..]))
        .collect();
    assert_eq!(out, [(mia, "Mia")]);
    assert_ne!(room.join("Ole"), mia, "a number is not used again");
}

#[test]
fn who_is_taken_out_stays_out() {
    let mut room = Room::new(setup());
    let ids = [room.join("Mia"), room.join("Ole")];
    let key = room.key(ids[0]);
    room.order(HostOrder::Remove(ids[0]));
    // With the old key under whatever name, and without it under the old name or
    // one that looks like it.
    for (name, key) in [
        ("Mia", Some(key)),
        ("Ida", Some(key)),
        ("Mia", None),
        ("mia", None),
        ("М\u{456}а", None),
    ] {
        assert_eq!(room.try_join(name, key), Err(Refusal::TakenOut), "{name}");
    }
    // Over the old connection nothing is heard.
    assert_eq!(
        room.say(ids[0], FromStudent::Leave),
        Err(Refusal::NoStudent)
    );
    // A new name without the key is a newcomer's.
    room.join("Ida");
    assert_eq!(room.view().students.len(), 2);
}

#[test]
fn a_terminal_that_takes_no_messages_is_dropped_and_comes_back_clean() {
    let mut room = Room::new(setup());
    let mia = room.join("Mia");
    let key = room.key(mia);
    room.order(HostOrder::CallRandom);
    for _ in 0..1000 {
        let order = HostOrder::HearAgain;
        let heard = room.lesson.handle_host(order, room.now);
        assert_eq!(heard, Ok(()));
    }
    let mut waiting = 0;
    while room.lesson.poll_message().is_some() {
        waiting += 1;
    }
    assert!(waiting <= fifthpeg_lesson::outbox::MAX_WAITING);
    room.collect();
    assert!(!room.student(mia).connected);
    let behind = room.events.iter().any(|e| {
        matches!(e, LessonEvent::Left { student, leaving: Leaving::FellBehind, .. } if *student == mia)
    });
    assert!(behind);
    assert_eq!(room.try_join("Mia", Some(key)), Ok(mia));
    assert!(matches!(room.last(mia), Some(ToStudent::Call(_))));
}

#[test]
fn nobody_can_speak_for_a_student_who_is_not_here() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallRandom);
    room.lose(ids[0]);
    for id in [ids[0], StudentId(99)] {
        let spoken = room.say(id, FromStudent::Sounded { call: CallId(1) });
        assert_eq!(spoken, Err(Refusal::NoStudent));
    }
}

/// What was sent while Mia was away never arrived; coming back after the end
/// of the call she gets all that the note's showing told.
#[test]
fn one_who_was_away_at_the_end_gets_note_and_marks() {
    let mut room = Room::new(setup());
    let mia = room.join("Mia");
    let key = room.key(mia);
    room.order(HostOrder::Set(Setting::Telling(Telling::Verdict)));
    room.order(HostOrder::CallAt(at("1/0")));
    room.answer(mia, at("4/1")).expect("taken");
    room.lose(mia);
    room.order(HostOrder::Reveal);
    room.order(HostOrder::Close);
    room.inboxes.clear();
    assert_eq!(room.try_join("Mia", Some(key)), Ok(mia));
    let full = room.student(mia).answers[0].mark;
    let [
        ToStudent::Welcome(_),
        ToStudent::Reveal { pitch, marks, .. },
        ToStudent::Closed { .. },
    ] = room.inbox(mia)
    else {
        panic!("the note, then the end: {:?}", room.inbox(mia));
    };
    assert_eq!((pitch.midi(), &marks[..]), (62, &[(1, full)][..]));
    // The same answer sent again is confirmed in full, and not counted.
    let again = room.answer_as(mia, 1, at("4/1"));
    assert_eq!(again, Ok(full));
    assert_ne!(full, full.told(Telling::Verdict));
    assert_eq!(room.student(mia).answers.len(), 1);
}

#[test]
fn a_call_closed_unrevealed_stays_unsaid_for_who_was_away() {
    let mut room = Room::new(setup());
    let mia = room.join("Mia");
    let key = room.key(mia);
    room.order(HostOrder::Set(Setting::Telling(Telling::Verdict)));
    room.order(HostOrder::CallAt(at("1/0")));
    let told = room.answer(mia, at("4/1")).expect("taken");
    room.lose(mia);
    room.order(HostOrder::Close);
    room.inboxes.clear();
    assert_eq!(room.try_join("Mia", Some(key)), Ok(mia));
    assert!(matches!(
        room.inbox(mia),
        [ToStudent::Welcome(_), ToStudent::Closed { .. }]
    ));
    assert_eq!(room.answer_as(mia, 1, at("4/1")), Ok(told));
    let late = room.answer_as(mia, 2, at("1/0"));
    assert_eq!(late, Err(Refusal::TooLate));
}

/// A host that was killed may have lost that a student came back in time for a
/// call: the student's terminal holds an answer to it all the same.
#[test]
fn who_comes_back_without_a_part_in_the_last_call_is_told_that_it_is_over() {
    let (mut room, ids) = Room::with(setup(), &["Mia", "Ole"]);
    let mia = ids[0];
    let key = room.lesson.seat_key(mia).expect("on the roster");
    room.lose(mia);
    room.order(HostOrder::CallRandom);
    let call = room.call().id;
    room.order(HostOrder::Close);
    room.try_join("Mia", Some(key)).unwrap();
    let told = room
        .inbox(mia)
        .iter()
        .any(|m| matches!(m, ToStudent::Closed { call: id, .. } if *id == call));
    assert!(told, "{:?}", room.inbox(mia));
    let serial = 1;
    let late = room.say(mia, notice(call, serial, at("1/3")));
    assert_eq!(late, Err(Refusal::TooLate));
    // A newcomer is told nothing of it.
    let ruth = room.join("Ruth");
    let told = room
        .inbox(ruth)
        .iter()
        .any(|m| matches!(m, ToStudent::Closed { .. }));
    assert!(!told, "{:?}", room.inbox(ruth));
}

#[test]
fn who_asks_for_a_new_place_again_gets_the_same_one_and_nobody_else_s() {
    let mut room = Room::new(setup());
    let ask = |room: &mut Room, name: &str, new_key| {
        let joined = room
            .lesson
            .handle_join(name, None, SeatKey(new_key), room.now);
        room.collect();
        joined
    };
    // The host was killed before the welcome went out, or it was lost.
    let mia = ask(&mut room, "Mia", 100).expect("a place");
    room.lose(mia);
    assert_eq!(ask(&mut room, "Mia", 100), Ok(mia));
    assert_eq!(room.lesson.name_of(mia), Some("Mia"));
    // So it is while the lost connection still counts as one.
    assert_eq!(ask(&mut room, "Mia", 100), Ok(mia));
    let returned = room.events.iter().filter(
        |e| matches!(e, LessonEvent::Joined { student, returning: true, .. } if *student == mia),
    );
    assert_eq!(returned.count(), 2);
    // Another of that name is another, whoever is away.
    room.lose(mia);
    let other = ask(&mut room, "Mia", 101).expect("a place");
    assert_eq!(room.lesson.name_of(other), Some("Mia 2"));
    // Who was taken out stays out.
    room.order(HostOrder::Remove(mia));
    assert_eq!(ask(&mut room, "Pia", 100), Err(Refusal::TakenOut));
}
