//! A lesson that goes on by itself, in virtual time: a class, and who is alone.

use std::time::Duration;

use fifthpeg_fixture::{Room, at, setup};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::input::{GivenInput, LessonInput};
use fifthpeg_lesson::message::{Answer, FromStudent, StudentId};
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_lesson::view::CallStage;
use fifthpeg_lesson::{Lesson, Moment, Picking};
use fifthpeg_vocab::Setting;
use fifthpeg_vocab::pace::{Pace, PaceStop};

const GAP: Duration = Duration::from_secs(4);
const SHOWN: Duration = Duration::from_secs(30);
const MICRO: Duration = Duration::from_micros(1);

fn paced() -> LessonSetup {
    let mut setup = setup();
    setup.pace = Some(Pace {
        shown_after: Some(SHOWN),
        next_after: Some(GAP),
        until_help: false,
    });
    setup
}

fn alone(gap: Option<Duration>) -> LessonSetup {
    let mut setup = setup();
    setup.picking = Picking::Teaching;
    setup.pace = Some(Pace::alone(gap));
    setup
}

fn set(pace: Pace) -> HostOrder {
    HostOrder::Set(Setting::Pace(Some(pace)))
}

fn stage(room: &Room) -> Option<(u32, CallStage)> {
    let call = room.view().call?;
    Some((call.id.0, call.stage))
}

/// The note as only the host sees it.
fn target(room: &Room) -> Answer {
    Answer::Pitch(room.view().call.expect("a call").pitch)
}

/// Lets time go by, with every deadline kept on the way.
fn pass(room: &mut Room, time: Duration) {
    let end = room.now + time;
    while let Some(due) = room.lesson.next_deadline().filter(|due| *due <= end) {
        room.now = due.max(room.now);
        room.time_out();
    }
    room.now = end;
}

#[test]
fn a_class_goes_on_by_itself_from_the_first_call() {
    let (mut room, ids) = Room::with(paced(), &["Mia", "Ole"]);
    pass(&mut room, Duration::from_secs(600));
    assert_eq!(stage(&room), None, "the first call is the host's");
    room.order(HostOrder::CallRandom);
    let start = room.call().start;
    assert_eq!(room.lesson.next_deadline(), Some(start + SHOWN));
    // One finds it, one searches on: shown when it is time.
    let answer = target(&room);
    room.answer(ids[0], answer).expect("taken");
    let left = start.since(room.now) + SHOWN;
    pass(&mut room, left - MICRO);
    assert_eq!(stage(&room), Some((1, CallStage::Open)));
    pass(&mut room, MICRO);
    assert_eq!(stage(&room), Some((1, CallStage::Revealed)));
    pass(&mut room, GAP - MICRO);
    assert_eq!(stage(&room), Some((1, CallStage::Revealed)));
    pass(&mut room, MICRO);
    assert_eq!(stage(&room), Some((2, CallStage::Open)));
    // All find it: shown at once.
    for id in &ids {
        let answer = target(&room);
        room.answer(*id, answer).expect("taken");
    }
    assert_eq!(stage(&room), Some((2, CallStage::Revealed)));
    pass(&mut room, GAP);
    assert_eq!(stage(&room), Some((3, CallStage::Open)));
}

#[test]
fn it_stops_when_nobody_has_answered_for_three_calls_and_says_so() {
    let (mut room, ids) = Room::with(paced(), &["Mia"]);
    room.order(HostOrder::CallRandom);
    pass(&mut room, Duration::from_secs(1_000));
    assert_eq!(stage(&room), Some((3, CallStage::Revealed)));
    assert_eq!(room.view().pace_stopped, Some(PaceStop::Unanswered));
    // The next call by hand starts it anew; an answer counts, right or not.
    room.order(HostOrder::CallRandom);
    assert_eq!(room.view().pace_stopped, None);
    for _ in 0..4 {
        let _ = room.answer(ids[0], at("1/22"));
        pass(&mut room, SHOWN + GAP + Duration::from_millis(250));
    }
    assert_eq!(stage(&room), Some((8, CallStage::Open)));
}

#[test]
fn an_order_stops_it_and_hear_again_does_not() {
    let (mut room, ids) = Room::with(paced(), &["Mia"]);
    room.order(HostOrder::CallRandom);
    room.order(HostOrder::HearAgain);
    assert!(room.lesson.next_deadline().is_some());
    for order in [
        HostOrder::Reveal,
        HostOrder::Close,
        HostOrder::Set(Setting::SingFirst(true)),
    ] {
        if stage(&room).is_none_or(|(_, stage)| stage != CallStage::Open) {
            room.order(HostOrder::CallRandom);
        }
        assert!(room.lesson.next_deadline().is_some(), "{order:?}");
        room.order(order);
        assert_eq!(room.lesson.next_deadline(), None);
        assert_eq!(room.view().pace_stopped, Some(PaceStop::Ordered));
    }
    room.order(HostOrder::Close);
    room.order(HostOrder::CallRandom);
    assert!(room.lesson.next_deadline().is_some());
    room.lose(ids[0]);
    assert_eq!(room.view().pace_stopped, Some(PaceStop::Nobody));
    // A lesson that is no longer paced says nothing of it.
    room.order(HostOrder::Set(Setting::Pace(None)));
    assert_eq!(room.view().pace_stopped, None);
    assert_eq!(room.lesson.next_deadline(), None);
}

#[test]
fn it_stops_for_who_needs_help_where_the_host_asked_for_that() {
    for (until_help, goes_on) in [(false, true), (true, false)] {
        let mut setup = paced();
        if let Some(pace) = &mut setup.pace {
            pace.until_help = until_help;
        }
        let (mut room, ids) = Room::with(setup, &["Mia", "Ole"]);
        room.order(HostOrder::CallRandom);
        // Ole says nothing at all, Mia finds each: after three calls he is silent.
        for _ in 0..3 {
            let answer = target(&room);
            room.answer(ids[0], answer).expect("taken");
            pass(&mut room, SHOWN + GAP + Duration::from_millis(250));
        }
        let stopped = room.view().pace_stopped;
        assert_eq!(stopped, (!goes_on).then_some(PaceStop::Help));
        let open = stage(&room).is_some_and(|(_, stage)| stage == CallStage::Open);
        assert_eq!(open, goes_on);
    }
}

#[test]
fn a_lesson_replayed_goes_on_as_it_went_and_waits_for_one_key() {
    let began = Moment::from_micros(1_000_000);
    let mut lesson = Lesson::new(paced(), began).expect("a lesson");
    let mut given = Vec::new();
    let mut give = |lesson: &mut Lesson, input: LessonInput, at: Moment| {
        let _ = lesson.apply(input.clone(), at);
        while lesson.poll_message().is_some() {}
        given.push(GivenInput { at, input });
    };
    let join = LessonInput::Join {
        name: "Mia".to_owned(),
        key: None,
        new_key: fifthpeg_lesson::message::SeatKey(5),
    };
    give(&mut lesson, join, began);
    give(
        &mut lesson,
        LessonInput::Order(HostOrder::CallRandom),
        began,
    );
    let mut now = began;
    for _ in 0..4 {
        now = lesson.next_deadline().expect("it goes on");
        give(&mut lesson, LessonInput::Timeout, now);
    }
    assert_eq!(lesson.view().call.map(|c| c.id.0), Some(3));
    let mut events: Vec<LessonEvent> = Vec::new();
    while let Some(event) = lesson.poll_event() {
        events.push(event);
    }
    // The host was killed: the same again, then nobody is connected any more.
    let mut again = Lesson::replay(paced(), began, given).expect("a lesson");
    assert_eq!(again.view(), lesson.view());
    assert_eq!(again.next_deadline(), lesson.next_deadline());
    let mut replayed = Vec::new();
    while let Some(event) = again.poll_event() {
        replayed.push(event);
    }
    assert_eq!(replayed, events);
    let mia: StudentId = again.connected()[0];
    again.handle_disconnect(mia, now);
    let key = again.seat_key(mia);
    let new_key = fifthpeg_lesson::message::SeatKey(6);
    again.handle_join("Mia", key, new_key, now).expect("back");
    assert_eq!(again.view().pace_stopped, Some(PaceStop::Nobody));
    assert_eq!(again.next_deadline(), None, "it keeps the pace, and waits");
    // One key goes on, with somebody here.
    for key in [HostOrder::HearAgain, HostOrder::Reveal] {
        let mut again = again.clone();
        again.handle_host(key, now).expect("done");
        assert_eq!(again.view().pace_stopped, None);
        assert!(again.next_deadline().is_some());
    }
    again.handle_host(HostOrder::Close, now).expect("closed");
    assert!(again.next_deadline().is_some());
}

#[test]
fn alone_found_notes_are_shown_and_the_next_comes_after_the_pause() {
    let (mut room, ids) = Room::with(alone(Some(GAP)), &["Mia"]);
    // Nothing before the player is ready.
    pass(&mut room, Duration::from_secs(60));
    assert_eq!(stage(&room), None);
    room.order(HostOrder::CallRandom);
    for number in 1..=5 {
        assert_eq!(stage(&room), Some((number, CallStage::Open)));
        // As long as it takes: no note is taken away.
        pass(&mut room, Duration::from_secs(1_200));
        assert_eq!(stage(&room), Some((number, CallStage::Open)));
        let answer = target(&room);
        room.answer(ids[0], answer).expect("taken");
        assert_eq!(stage(&room), Some((number, CallStage::Revealed)));
        assert_eq!(room.lesson.next_deadline(), Some(room.now + GAP));
        pass(&mut room, GAP);
    }
    // Who has it shown goes on as well, and so does who changes a rule.
    room.order(HostOrder::Reveal);
    room.order(HostOrder::Set(Setting::SingFirst(true)));
    pass(&mut room, GAP);
    assert_eq!(stage(&room), Some((7, CallStage::Open)));
}

#[test]
fn alone_without_a_pause_only_a_key_calls_and_one_that_is_set_begins_anew() {
    let (mut room, _) = Room::with(alone(None), &["Mia"]);
    room.order(HostOrder::CallRandom);
    room.order(HostOrder::Reveal);
    assert_eq!(room.lesson.next_deadline(), None);
    pass(&mut room, Duration::from_secs(60));
    room.order(set(Pace::alone(Some(GAP))));
    assert_eq!(room.lesson.next_deadline(), Some(room.now + GAP));
    // The player is quicker: the pause is over with it.
    room.order(HostOrder::CallRandom);
    assert_eq!(room.lesson.next_deadline(), None);
}

#[test]
fn nothing_is_called_for_nobody_nor_after_the_end() {
    let (mut room, ids) = Room::with(alone(Some(GAP)), &["Mia"]);
    room.order(HostOrder::CallRandom);
    room.order(HostOrder::Reveal);
    room.lose(ids[0]);
    assert_eq!(room.lesson.next_deadline(), None);
    room.order(HostOrder::End);
    assert_eq!(room.lesson.next_deadline(), None);
    assert_eq!(
        room.say(ids[0], FromStudent::Leave),
        Err(fifthpeg_lesson::message::Refusal::NoStudent)
    );
}
