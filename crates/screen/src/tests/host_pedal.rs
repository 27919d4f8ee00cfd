//! A lesson held with one pedal: before, presses, after.

use std::time::{Duration, Instant};

use crossterm::event::{KeyCode, KeyEventKind};
use fifthpeg_core::{HeardNote, Pitch};
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::terminal::StudentOrder;
use fifthpeg_lesson::view::CallStage;
use fifthpeg_sound::Listened;

use super::room::{Room, Screens as _, at, host_text, line_with, listening, nowhere, press_host};
use crate::host::deeds::HostDeed;
use crate::host::layers::HostAction;
use crate::host::state::HostState;
use crate::keys::Key;
use crate::options::ScreenOptions;

const PEDAL: Key = Key::Code(KeyCode::PageDown);
const SIZES: [(u16, u16); 3] = [(120, 40), (80, 24), (60, 20)];

fn hall() -> (Room, HostState) {
    let room = Room::of(&["Mette", "Ole"]);
    let screen = room.host_screen(ScreenOptions::default());
    (room, screen)
}

/// A press some time after the one before; what it ordered is done.
fn step(room: &mut Room, screen: &mut HostState, seconds: f64) -> Option<HostOrder> {
    room.wait(seconds);
    room.show_host(screen);
    let Some(HostAction::Host(HostDeed::Order(order))) = press_host(screen, PEDAL) else {
        return None;
    };
    room.host(order.clone());
    room.show_host(screen);
    Some(order)
}

fn corner(screen: &HostState, says: &str) {
    for (columns, rows) in SIZES {
        let text = host_text(screen, columns, rows);
        let foot = text.last().expect("a foot");
        assert!(foot.ends_with(says), "{says}: {foot}");
        assert!(foot.contains("? help"), "{foot}");
    }
}

#[test]
fn a_lesson_goes_on_by_the_pedal_alone() {
    let (mut room, mut screen) = hall();
    corner(&screen, "Pedal: call a note");
    assert_eq!(
        step(&mut room, &mut screen, 2.0),
        Some(HostOrder::CallRandom)
    );
    corner(&screen, "Pedal: reveal?");
    // Both search: asked first, and only then shown.
    assert_eq!(step(&mut room, &mut screen, 2.0), None);
    corner(&screen, "Pedal: yes, reveal");
    line_with(&host_text(&screen, 80, 24), "2 students still searching");
    assert_eq!(step(&mut room, &mut screen, 2.0), Some(HostOrder::Reveal));
    corner(&screen, "Pedal: call a note");
    assert_eq!(
        step(&mut room, &mut screen, 2.0),
        Some(HostOrder::CallRandom)
    );
    // Both have found it: nothing to ask.
    for which in 0..2 {
        let target = room.lesson.view().call.expect("a call").places[0];
        room.wait(2.0);
        room.student(which, StudentOrder::Answer(at(&target.to_string())));
    }
    room.show_host(&mut screen);
    corner(&screen, "Pedal: reveal");
    assert_eq!(step(&mut room, &mut screen, 2.0), Some(HostOrder::Reveal));
}

#[test]
fn the_question_lapses_after_five_seconds() {
    let (mut room, mut screen) = hall();
    step(&mut room, &mut screen, 2.0);
    assert_eq!(step(&mut room, &mut screen, 2.0), None);
    room.wait(5.0);
    room.show_host(&mut screen);
    corner(&screen, "Pedal: reveal?");
    assert!(nowhere(&host_text(&screen, 80, 24), "still searching"));
    assert_eq!(step(&mut room, &mut screen, 0.0), None, "asked anew");
    let stage = room.lesson.view().call.map(|call| call.stage);
    assert_eq!(stage, Some(CallStage::Open));
}

#[test]
fn held_down_it_acts_once_and_a_second_press_within_a_second_does_nothing() {
    let (mut room, mut screen) = hall();
    assert!(step(&mut room, &mut screen, 2.0).is_some());
    assert_eq!(step(&mut room, &mut screen, 0.9), None);
    corner(&screen, "Pedal: reveal?");
    // As a terminal reports a key that is held: soon after, then many times a second.
    room.wait(2.0);
    assert_eq!(step(&mut room, &mut screen, 0.0), None, "asks");
    assert_eq!(step(&mut room, &mut screen, 0.6), None);
    for _ in 0..100 {
        assert_eq!(step(&mut room, &mut screen, 0.04), None);
    }
    // Or as what it is.
    room.wait(0.5);
    room.show_host(&mut screen);
    let mut event = PEDAL.event();
    event.kind = KeyEventKind::Repeat;
    assert_eq!(screen.handle_key(&event), None);
}

#[test]
fn what_was_played_is_called_and_page_up_sounds_it_again() {
    let (mut room, screen) = hall();
    let mut screen = screen.with_ear(listening());
    screen.take_heard(&Listened::Note(HeardNote::Pluck {
        id: 1,
        pitch: Pitch::new(60).expect("a pitch"),
        cents: 1.0,
        at: Instant::now(),
        uncertainty: Duration::from_millis(5),
    }));
    corner(&screen, "Pedal: call C4");
    screen.hidden = true;
    corner(&screen, "Pedal: call what you played");
    let order = step(&mut room, &mut screen, 2.0);
    assert!(matches!(order, Some(HostOrder::CallPlayed(_))), "{order:?}");
    let again = press_host(&mut screen, Key::Code(KeyCode::PageUp));
    assert_eq!(
        again,
        Some(HostAction::Host(HostDeed::Order(HostOrder::HearAgain)))
    );
}
