//! The host's own instrument, on the host's screen: before, keys, after.

use std::time::{Duration, Instant};

use crossterm::event::KeyCode;
use fifthpeg_core::{HeardNote, Pitch};
use fifthpeg_lesson::HostOrder;
use fifthpeg_sound::Listened;
use fifthpeg_student::ear::{EarState, EarStatus};
use fifthpeg_vocab::Setting;

use super::room::{Room, Screens as _, host_text, line_with, listening, nowhere, press_host};
use crate::host::deeds::HostDeed;
use crate::host::layers::HostAction;
use crate::host::state::HostState;
use crate::keys::Key;
use crate::options::ScreenOptions;

const ENTER: Key = Key::Code(KeyCode::Enter);

fn pluck(midi: u8) -> Listened {
    Listened::Note(HeardNote::Pluck {
        id: u64::from(midi),
        pitch: Pitch::new(midi).expect("a pitch"),
        cents: 1.0,
        at: Instant::now(),
        uncertainty: Duration::from_millis(5),
    })
}

fn hall(options: ScreenOptions) -> (Room, HostState) {
    let room = Room::of(&["Mette"]);
    let screen = room.host_screen(options).with_ear(listening());
    (room, screen)
}

#[test]
fn a_note_played_is_shown_and_called_once_it_is_confirmed() {
    let (mut room, mut screen) = hall(ScreenOptions::default());
    line_with(&host_text(&screen, 80, 24), "Microphone: listening");
    screen.take_heard(&pluck(60));
    let text = host_text(&screen, 80, 24);
    line_with(&text, "Heard C4: Enter calls it");
    let marked = text.iter().filter(|l| l.contains('║') && l.contains('○'));
    assert_eq!(marked.count(), 3);
    let action = press_host(&mut screen, ENTER);
    let wanted = HostOrder::CallPlayed(Pitch::new(60).expect("a pitch"));
    assert_eq!(action, Some(HostAction::Host(HostDeed::Order(wanted))));
    assert!(room.lesson.view().call.is_none(), "nothing without the key");
    room.host_does(action);
    room.show_host(&mut screen);
    let text = host_text(&screen, 80, 24);
    line_with(&text, "Call 1, open");
    assert!(nowhere(&text, "Enter calls it"));
    // What is played in an open call calls nothing afterwards either.
    screen.take_heard(&pluck(62));
    assert_eq!(press_host(&mut screen, ENTER), None);
    line_with(&host_text(&screen, 80, 24), "A call is open");
}

#[test]
fn a_note_outside_the_reach_is_told_before_anyone_calls_it() {
    let (mut room, mut screen) = hall(ScreenOptions::default());
    room.host(HostOrder::Set(Setting::Reach(
        "open".parse().expect("a reach"),
    )));
    room.show_host(&mut screen);
    screen.take_heard(&pluck(61));
    line_with(&host_text(&screen, 80, 24), "Heard C♯4: outside the reach");
}

#[test]
fn a_screen_that_others_see_does_not_tell_the_note() {
    let (_, mut screen) = hall(ScreenOptions {
        hide_target_at_start: true,
        ..ScreenOptions::default()
    });
    let before = host_text(&screen, 80, 24);
    screen.take_heard(&pluck(60));
    let text = host_text(&screen, 80, 24);
    line_with(&text, "A note was heard, unseen: Enter calls it");
    assert!(nowhere(&text, "C4"));
    for (was, is) in before.iter().zip(&text) {
        if was.contains('║') {
            assert_eq!(was, is, "the neck tells something");
        }
    }
    assert!(matches!(
        press_host(&mut screen, ENTER),
        Some(HostAction::Host(HostDeed::Order(HostOrder::CallPlayed(_))))
    ));
}

#[test]
fn the_microphone_is_the_hosts_to_turn_off() {
    let (_, mut screen) = hall(ScreenOptions::default());
    screen.take_heard(&pluck(60));
    let off = press_host(&mut screen, Key::Char('i'));
    assert_eq!(off, Some(HostAction::Listen(false)));
    screen.set_ear(EarStatus {
        state: EarState::Off,
        ..EarStatus::new(false)
    });
    let text = host_text(&screen, 80, 24);
    line_with(&text, "Microphone: off (i turns it on)");
    assert!(nowhere(&text, "Heard"));
    assert_eq!(press_host(&mut screen, ENTER), None);
    line_with(&host_text(&screen, 80, 24), "The microphone is off");
    let quiet = press_host(&mut screen, Key::Char('o'));
    assert_eq!(quiet, Some(HostAction::Calibrate));

    let room = Room::of(&["Mette"]);
    let mut without = room.host_screen(ScreenOptions::default());
    assert!(nowhere(&host_text(&without, 80, 24), "Microphone"));
    for key in [Key::Char('i'), Key::Char('o')] {
        assert_eq!(press_host(&mut without, key), None);
        line_with(&host_text(&without, 80, 24), "No microphone was asked for");
    }
}

#[test]
fn singing_first_is_switched_with_a_key_and_stands_in_the_head() {
    let (mut room, mut screen) = hall(ScreenOptions::default());
    assert!(nowhere(&host_text(&screen, 80, 24), "Sing first."));
    for invited in [true, false] {
        let action = press_host(&mut screen, Key::Char('f'));
        let wanted = HostOrder::Set(Setting::SingFirst(invited));
        assert_eq!(action, Some(HostAction::Host(HostDeed::Order(wanted))));
        room.host_does(action);
        room.show_host(&mut screen);
        for columns in [80, 200] {
            let text = host_text(&screen, columns, 50);
            assert_eq!(nowhere(&text, "Sing first."), !invited, "{columns}");
        }
    }
}

#[test]
fn the_roster_shows_what_was_played() {
    let (mut room, mut screen) = hall(ScreenOptions::default());
    room.plays(0, true);
    room.call("1/4");
    room.plucks(0, 1, 54);
    room.rest(0.4);
    room.plucks(0, 2, 54);
    room.rest(0.4);
    room.show_host(&mut screen);
    let text = host_text(&screen, 80, 24);
    line_with(&text, "♪ F♯3 low by an octave");
}
