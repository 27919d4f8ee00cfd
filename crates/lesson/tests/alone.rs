//! The caller of a lesson alone, against a real lesson in virtual time.

use std::time::Duration;

use fifthpeg_fixture::{Room, setup};
use fifthpeg_lesson::Picking;
use fifthpeg_lesson::alone::Caller;
use fifthpeg_lesson::message::Answer;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::CallStage;

const GAP: Duration = Duration::from_secs(4);

/// The caller sees the lesson, and what it orders is done; how much that was.
fn look(room: &mut Room, caller: &mut Caller) -> usize {
    let mut done = 0;
    caller.handle_timeout(room.now);
    loop {
        caller.handle_view(&room.view(), room.now);
        let Some(order) = caller.poll_order() else {
            return done;
        };
        done += 1;
        room.order(order);
    }
}

fn stage(room: &Room) -> Option<(u32, CallStage)> {
    let call = room.view().call?;
    Some((call.id.0, call.stage))
}

/// The note as only the host sees it.
fn target(room: &Room) -> Answer {
    Answer::Pitch(room.view().call.expect("a call").pitch)
}

#[test]
fn found_notes_are_shown_and_the_next_comes_after_the_pause() {
    let mut setup = setup();
    setup.picking = Picking::Teaching;
    let (mut room, ids) = Room::with(setup, &["Mia"]);
    let mut caller = Caller::new(Some(GAP));
    // Nothing before the player is ready.
    look(&mut room, &mut caller);
    assert_eq!(caller.next_deadline(), None);
    room.wait_ms(60_000);
    assert_eq!(look(&mut room, &mut caller), 0);

    room.order(HostOrder::CallRandom);
    for number in 1..=5 {
        assert_eq!(look(&mut room, &mut caller), 0);
        assert_eq!(stage(&room), Some((number, CallStage::Open)));
        // As long as it takes: no note is taken away.
        room.wait_ms(120_000);
        assert_eq!(look(&mut room, &mut caller), 0);
        let answer = target(&room);
        room.answer(ids[0], answer).expect("taken");
        assert_eq!(look(&mut room, &mut caller), 1);
        assert_eq!(stage(&room), Some((number, CallStage::Revealed)));
        let due = caller.next_deadline();
        assert_eq!(due, Some(room.now + GAP));
        room.wait(GAP - Duration::from_micros(1));
        assert_eq!(look(&mut room, &mut caller), 0);
        room.wait(Duration::from_micros(1));
        assert_eq!(look(&mut room, &mut caller), 1);
    }
    assert_eq!(stage(&room), Some((6, CallStage::Open)));
}

#[test]
fn without_a_pause_only_a_key_calls_and_one_that_is_set_begins_anew() {
    let (mut room, _) = Room::with(setup(), &["Mia"]);
    let mut caller = Caller::new(None);
    room.order(HostOrder::CallRandom);
    look(&mut room, &mut caller);
    room.order(HostOrder::Reveal);
    look(&mut room, &mut caller);
    assert_eq!(caller.next_deadline(), None);
    room.wait_ms(60_000);
    caller.set_gap(Some(GAP), room.now);
    assert_eq!(caller.next_deadline(), Some(room.now + GAP));
    // The player is quicker: the pause is over with it.
    room.order(HostOrder::CallRandom);
    assert_eq!(look(&mut room, &mut caller), 0);
    assert_eq!(caller.next_deadline(), None);
}

#[test]
fn nothing_is_called_for_nobody_nor_after_the_end() {
    let (mut room, ids) = Room::with(setup(), &["Mia"]);
    let mut caller = Caller::new(Some(GAP));
    room.order(HostOrder::CallRandom);
    look(&mut room, &mut caller);
    room.order(HostOrder::Reveal);
    look(&mut room, &mut caller);
    room.lose(ids[0]);
    look(&mut room, &mut caller);
    assert_eq!(caller.next_deadline(), None);
    room.wait_ms(10_000);
    assert_eq!(look(&mut room, &mut caller), 0);
    room.order(HostOrder::End);
    assert_eq!(look(&mut room, &mut caller), 0);
}

#[test]
fn a_lesson_taken_up_again_waits_for_the_player() {
    let (mut room, _) = Room::with(setup(), &["Mia"]);
    room.order(HostOrder::CallRandom);
    room.order(HostOrder::Reveal);
    let mut caller = Caller::new(Some(GAP));
    look(&mut room, &mut caller);
    room.wait_ms(60_000);
    assert_eq!(look(&mut room, &mut caller), 0);
    // But a note still open is one that it goes on from.
    room.order(HostOrder::CallRandom);
    let mut caller = Caller::new(Some(GAP));
    look(&mut room, &mut caller);
    room.order(HostOrder::Reveal);
    look(&mut room, &mut caller);
    assert!(caller.next_deadline().is_some());
}
