//! Alone: the student's screen with the keys that call, reveal and end.

use std::time::Duration;

use crossterm::event::KeyCode;
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::terminal::StudentOrder;

use super::room::{Room, Screens as _, alone_in, at, line_with, nowhere, press, student_text};
use crate::host::deeds::HostDeed;
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::student::host_keys::{ALONE_KEYS, NEXT_KEYS};
use crate::student::layers::StudentAction;
use crate::student::state::StudentState;

const ENTER: Key = Key::Code(KeyCode::Enter);
const RIGHT: Key = Key::Code(KeyCode::Right);
const SIZES: [(u16, u16); 3] = [(80, 24), (60, 16), (200, 50)];

fn alone() -> (Room, StudentState) {
    let room = Room::of(&["Mia"]);
    let screen = room.student_screen(0, ScreenOptions::default());
    let screen = screen.with_hosting(alone_in(&room));
    (room, screen)
}

fn show(room: &Room, screen: &mut StudentState) {
    room.show_student(0, screen);
    screen.hosting.as_mut().expect("alone").view = room.lesson.view().into();
}

#[test]
fn a_note_is_called_searched_for_and_revealed_by_keys() {
    let (mut room, mut screen) = alone();
    for (columns, rows) in SIZES {
        let text = student_text(&screen, columns, rows);
        line_with(&text, "Ready? Enter calls the first note.");
        line_with(&text, "Enter next note");
        assert!(nowhere(&text, "To join"));
        assert!(nowhere(&text, "leave"));
    }
    let next = Some(StudentAction::Host(HostDeed::Order(HostOrder::CallRandom)));
    for key in [ENTER, Key::Char(' '), Key::Code(KeyCode::PageDown)] {
        assert_eq!(press(&mut screen, key), next, "{key:?}");
    }
    room.call("2/1");
    show(&room, &mut screen);
    for (columns, rows) in SIZES {
        let text = student_text(&screen, columns, rows);
        line_with(&text, "Search, then answer.");
        line_with(&text, "r reveal");
        assert!(nowhere(&text, "next note"));
    }
    // Nobody has chosen a place: Enter answers nothing.
    assert_eq!(press(&mut screen, ENTER), None);
    line_with(&student_text(&screen, 80, 24), "Choose a place first");
    press(&mut screen, RIGHT);
    let action = press(&mut screen, ENTER);
    room.student_does(0, action);
    show(&room, &mut screen);
    line_with(&student_text(&screen, 80, 24), "look ");
    let reveal = press(&mut screen, Key::Char('r'));
    assert_eq!(
        reveal,
        Some(StudentAction::Host(HostDeed::Order(HostOrder::Reveal)))
    );
    room.host(HostOrder::Reveal);
    show(&room, &mut screen);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "It was C4");
    assert!(nowhere(&text, "Found. It was"));
    assert_eq!(press(&mut screen, ENTER), next);
}

#[test]
fn a_found_note_says_so_with_its_places() {
    let (mut room, mut screen) = alone();
    room.call("2/1");
    room.student(0, StudentOrder::Answer(at("2/1")));
    room.host(HostOrder::Reveal);
    show(&room, &mut screen);
    line_with(&student_text(&screen, 80, 24), "Found. It was C4");
    room.host(HostOrder::Close);
    show(&room, &mut screen);
    line_with(&student_text(&screen, 80, 24), "Enter calls the next note.");
}

#[test]
fn the_pause_is_turned_on_and_off() {
    let (_, mut screen) = alone();
    let on = press(&mut screen, Key::Char('p'));
    assert_eq!(on, Some(StudentAction::ByItself(true)));
    line_with(&student_text(&screen, 80, 24), "by itself, 5 s after");
    let off = press(&mut screen, Key::Char('p'));
    assert_eq!(off, Some(StudentAction::ByItself(false)));
}

#[test]
fn ending_asks_first_and_nothing_speaks_of_others() {
    let (_, mut screen) = alone();
    assert_eq!(press(&mut screen, Key::Char('q')), None);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "yes, end the lesson");
    assert!(nowhere(&text, "everyone"));
    press(&mut screen, Key::Code(KeyCode::Esc));
    press(&mut screen, Key::Char('s'));
    let text = student_text(&screen, 80, 24);
    line_with(&text, "how notes are picked");
    assert!(nowhere(&text, "who sounds a call"));
    press(&mut screen, Key::Code(KeyCode::Esc));
    press(&mut screen, Key::Char('?'));
    press(&mut screen, Key::Char('?'));
    let help = student_text(&screen, 200, 70);
    for binding in ALONE_KEYS.iter().chain(NEXT_KEYS) {
        line_with(&help, binding.does);
    }
    assert!(nowhere(&help, "leave the lesson"));
    assert!(nowhere(&help, "friend"));
}

#[test]
fn a_second_enter_within_a_second_of_finding_calls_nothing() {
    let (mut room, mut screen) = alone();
    room.call("1/0");
    show(&room, &mut screen);
    press(&mut screen, Key::Char(' '));
    let answer = press(&mut screen, ENTER);
    room.student_does(0, answer);
    show(&room, &mut screen);
    room.host(HostOrder::Reveal);
    show(&room, &mut screen);
    assert!(screen.may_call_next());
    for key in [ENTER, Key::Char(' ')] {
        assert_eq!(press(&mut screen, key), None);
    }
    screen.at += Duration::from_secs(1);
    assert!(press(&mut screen, ENTER).is_some());
}
