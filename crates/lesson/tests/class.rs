//! A class: one host, several students, a clock that moves when told.

use std::time::Duration;

use fifthpeg_fixture::{Room, at, notice, pitch, place, setup};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::marking::{Mark, Marking, Miss, MissKind, Side, Telling};
use fifthpeg_lesson::message::{
    Answer, CallId, FromStudent, Progress, Refusal, Sounding, Source, ToStudent,
};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::CallStage;
use fifthpeg_vocab::Setting;

const LOW_OCTAVE: Mark = Mark::Missed(Miss {
    kind: Some(MissKind::Octave { octaves: 1 }),
    side: Some(Side::Low),
});

#[test]
fn a_whole_lesson_from_joining_to_the_end() {
    let (mut room, ids) = Room::with(setup(), &["Mia", "Ole", "Sol"]);
    let [mia, ole, sol] = ids[..] else { panic!() };
    room.order(HostOrder::CallAt(Answer::Pitch(pitch(62))));
    let call = room.call();
    assert_eq!((call.id, call.stage), (CallId(1), CallStage::Open));
    assert_eq!(call.start.since(room.now), Duration::from_millis(250));
    for id in [mia, ole, sol] {
        let [ToStudent::Call(notice)] = room.inbox(id) else {
            panic!("one call each");
        };
        assert_eq!(notice.start, call.start, "all at one instant");
        assert!(notice.tone.is_some() && !notice.you_call);
    }

    room.wait_ms(2000);
    let tried = FromStudent::Try {
        source: Source::Screen,
        call: call.id,
        at: at("2/3"),
    };
    assert_eq!(room.say(mia, tried), Ok(()));
    assert_eq!(room.student(mia).progress, Some(Progress::Searching));
    room.wait_ms(2_000);
    assert_eq!(room.answer(mia, at("4/0")), Ok(LOW_OCTAVE));
    assert_eq!(room.student(mia).progress, Some(Progress::Missed));
    assert_eq!(room.answer(mia, at("1/0")), Ok(Mark::Right));
    assert_eq!(room.answer(ole, at("2/3")), Ok(Mark::Right));
    assert!(!room.view().all_found(), "Sol is silent");

    room.order(HostOrder::Reveal);
    assert_eq!(room.call().stage, CallStage::Revealed);
    let Some(ToStudent::Reveal {
        pitch: shown,
        places,
        marks,
        ..
    }) = room.last(mia)
    else {
        panic!("a reveal");
    };
    assert_eq!(*shown, pitch(62));
    assert!(places.contains(&place("1/0")) && places.contains(&place("2/3")));
    assert_eq!(marks[..], [(1, LOW_OCTAVE), (2, Mark::Right)]);
    let late = Err(Refusal::TooLate);
    assert_eq!(room.answer(sol, at("1/0")), late);

    room.order(HostOrder::Close);
    room.order(HostOrder::End);
    let Some(ToStudent::Ended {
        tally,
        removed: false,
    }) = room.last(mia)
    else {
        panic!("the end");
    };
    assert_eq!((tally.calls, tally.found, tally.found_first), (1, 1, 0));
    assert_eq!((tally.tries, tally.hearings), (1, 0));
    assert_eq!(tally.median, Some(Duration::from_millis(1500)));
    let silent = room.student(sol);
    assert_eq!((silent.tally.calls, silent.tally.found), (1, 0));
    assert_eq!(silent.progress, Some(Progress::Silent));
    assert_eq!(room.student(ole).tally.found_first, 1);
    assert!(room.view().ended);
    assert_eq!(room.view().calls_closed, 1);
}

#[test]
fn the_view_shows_when_all_who_are_here_have_found_it() {
    let (mut room, ids) = Room::with(setup(), &["Mia", "Ole"]);
    room.order(HostOrder::CallAt(at("1/0")));
    room.answer(ids[0], at("1/0")).expect("taken");
    assert!(!room.view().all_found());
    room.lose(ids[1]);
    assert!(room.view().all_found(), "Ole is away");
    assert_eq!(room.call().stage, CallStage::Open, "the host decides");
}

#[test]
fn where_the_host_asks_for_it_the_note_is_shown_once_all_have_found_it() {
    let (mut room, ids) = Room::with(setup(), &["Mia", "Ole"]);
    room.order(HostOrder::Set(Setting::ShowFound(true)));
    room.order(HostOrder::CallAt(at("1/0")));
    let call = room.call().id;
    assert_eq!(room.say(ids[0], notice(call, 1, at("1/0"))), Ok(()));
    assert_eq!(room.call().stage, CallStage::Open, "Ole searches");
    assert_eq!(room.say(ids[1], notice(call, 1, at("4/0"))), Ok(()));
    assert_eq!(room.call().stage, CallStage::Open, "a miss is no find");
    assert_eq!(room.say(ids[1], notice(call, 2, at("1/0"))), Ok(()));
    assert_eq!(room.call().stage, CallStage::Revealed);
    for id in ids {
        assert!(matches!(room.last(id), Some(ToStudent::Reveal { .. })));
    }
}

#[test]
fn who_hears_nothing_is_shown_so_until_something_comes() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallAt(at("1/0")));
    let call = room.call().id;
    assert_eq!(room.student(ids[0]).progress, Some(Progress::Silent));
    assert_eq!(room.say(ids[0], FromStudent::NotSounded { call }), Ok(()));
    assert_eq!(room.student(ids[0]).progress, Some(Progress::NoSound));
    let hearing = FromStudent::Hearing { call };
    assert_eq!(room.say(ids[0], hearing), Ok(()));
    assert_eq!(room.student(ids[0]).progress, Some(Progress::Searching));
    // The next call begins anew.
    room.order(HostOrder::Close);
    room.order(HostOrder::CallAt(at("1/0")));
    assert_eq!(room.student(ids[0]).progress, Some(Progress::Silent));
}

#[test]
fn an_answer_sent_again_is_confirmed_alike_and_counted_once() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    let mia = ids[0];
    room.order(HostOrder::CallAt(at("1/0")));
    assert_eq!(room.answer_as(mia, 1, at("4/0")), Ok(LOW_OCTAVE));
    // The telling changes in between; the confirmation does not.
    room.order(HostOrder::Set(Setting::Telling(Telling::Verdict)));
    assert_eq!(room.answer_as(mia, 1, at("4/0")), Ok(LOW_OCTAVE));
    assert_eq!(room.answer_as(mia, 2, at("1/0")), Ok(Mark::Right));
    room.order(HostOrder::Reveal);
    let call = room.call().id;
    assert_eq!(room.say(mia, notice(call, 2, at("1/0"))), Ok(()));
    room.order(HostOrder::Close);
    assert_eq!(room.say(mia, notice(call, 2, at("1/0"))), Ok(()));
    let confirmed = room.inbox(mia).iter().filter(|m| {
        matches!(
            m,
            ToStudent::Marked {
                serial: 2,
                mark: Mark::Right,
                ..
            }
        )
    });
    assert_eq!(confirmed.count(), 3);
    let recorded = room
        .events
        .iter()
        .filter(|e| matches!(e, LessonEvent::Answered { .. }));
    assert_eq!(recorded.count(), 2);
    assert_eq!(room.student(mia).answers.len(), 2);
    assert_eq!(room.student(mia).tally.found, 1);
}

#[test]
fn a_reach_changed_in_mid_call_leaves_the_call_as_it_is() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallAt(at("1/7")));
    room.order(HostOrder::Set(Setting::Reach(
        "two-open".parse().expect("a reach"),
    )));
    assert!(matches!(room.last(ids[0]), Some(ToStudent::Rules(_))));
    assert_eq!(room.answer(ids[0], at("2/10")), Ok(Mark::Right));
    room.order(HostOrder::Close);
    assert_eq!(
        room.host(HostOrder::CallAt(at("1/7"))),
        Err(Refusal::OutsideReach)
    );
    room.order(HostOrder::CallRandom);
    assert!([62, 59].contains(&room.call().pitch.midi()));
}

#[test]
fn a_new_call_closes_a_revealed_one_but_not_an_open_one() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallRandom);
    assert_eq!(room.host(HostOrder::CallRandom), Err(Refusal::CallOpen));
    room.order(HostOrder::Reveal);
    // A refused call leaves the revealed one on show.
    let off = HostOrder::CallAt(at("5/3"));
    assert_eq!(room.host(off), Err(Refusal::NoSuchPlace(place("5/3"))));
    assert_eq!(room.call().stage, CallStage::Revealed);
    room.order(HostOrder::CallRandom);
    assert!(matches!(
        room.inbox(ids[0]),
        [
            ..,
            ToStudent::Closed {
                call: CallId(1),
                ..
            },
            ToStudent::Call(_)
        ]
    ));
    assert_eq!(room.view().calls_closed, 1);
}

#[test]
fn exact_marking_always_has_a_place() {
    let mut setup = setup();
    setup.rules.marking = Marking::ExactPlace;
    let (mut room, ids) = Room::with(setup, &["Mia"]);
    for order in [
        HostOrder::CallRandom,
        HostOrder::CallAt(Answer::Pitch(pitch(69))),
    ] {
        room.order(order);
        let call = room.call();
        let asked = call.place.expect("a place");
        assert!(call.places.contains(&asked));
        assert_eq!(room.answer(ids[0], Answer::Place(asked)), Ok(Mark::Right));
        room.order(HostOrder::Close);
    }
}

#[test]
fn settings_that_would_change_an_open_call_wait_for_its_end() {
    let (mut room, _) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallRandom);
    for order in [
        HostOrder::Set(Setting::Marking(Marking::AnyOctave)),
        HostOrder::Set(Setting::Sounding(Sounding::OnAsking)),
    ] {
        assert_eq!(room.host(order), Err(Refusal::CallOpen));
    }
    room.order(HostOrder::Reveal);
    room.order(HostOrder::Set(Setting::Marking(Marking::AnyOctave)));
    assert_eq!(room.view().rules.marking, Marking::AnyOctave);
}

#[test]
fn a_response_time_that_nobody_can_honestly_say_is_unknown() {
    let (open_for, off) = (20_000, 80);
    let day = 86_400_000;
    for (response, uncertainty, believed) in [
        (1_500, off, true),
        (100, off, true),
        (20_100, off, true),
        // Before anybody can have heard it.
        (0, off, false),
        (99, off, false),
        (0, day, false),
        // Longer than the call was open, however uncertain.
        (20_101, off, false),
        (day, off, false),
        (21_000, day, false),
        // So uncertain that it says nothing.
        (1_500, day, false),
        (1_500, 2_000, true),
        (1_500, 2_001, false),
        (u64::MAX / 1_000_000, off, false),
    ] {
        let (mut room, ids) = Room::with(setup(), &["Mia"]);
        room.order(HostOrder::CallAt(at("1/0")));
        room.wait_ms(open_for);
        let FromStudent::Answer(mut answer) = notice(CallId(1), 1, at("1/0")) else {
            unreachable!("a notice is an answer");
        };
        let (response, uncertainty) = (
            Duration::from_millis(response),
            Duration::from_millis(uncertainty),
        );
        answer.response = Some(response);
        answer.uncertainty = uncertainty;
        assert_eq!(room.say(ids[0], FromStudent::Answer(answer)), Ok(()));
        let student = room.student(ids[0]);
        let kept = (student.answers[0].response, student.answers[0].uncertainty);
        let wanted = if believed {
            (Some(response), uncertainty)
        } else {
            (None, Duration::ZERO)
        };
        assert_eq!(kept, wanted, "{response:?} give or take {uncertainty:?}");
        assert_eq!(student.tally.found, 1, "it counts all the same");
        assert_eq!(student.tally.median, believed.then_some(response));
    }
}

/// A host that was killed has a clock that stood still meanwhile, and the student's
/// went on.
#[test]
fn who_comes_back_may_have_searched_longer_than_the_host_saw() {
    for (seconds, believed) in [(50, true), (3_600, true), (3_700, false)] {
        let (mut room, ids) = Room::with(setup(), &["Mia"]);
        let key = room.lesson.seat_key(ids[0]).expect("on the roster");
        room.order(HostOrder::CallAt(at("1/0")));
        room.wait_ms(2_000);
        room.lose(ids[0]);
        room.try_join("Mia", Some(key)).expect("back");
        let FromStudent::Answer(mut answer) = notice(CallId(1), 1, at("1/0")) else {
            unreachable!("a notice is an answer");
        };
        answer.response = Some(Duration::from_secs(seconds));
        assert_eq!(room.say(ids[0], FromStudent::Answer(answer)), Ok(()));
        let kept = room.student(ids[0]).answers[0].response;
        assert_eq!(kept.is_some(), believed, "{seconds} s");
    }
}
