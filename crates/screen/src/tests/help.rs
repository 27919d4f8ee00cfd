//! The help names every key, and every key that it names does something.

use crossterm::event::KeyCode;
use fifthpeg_lesson::message::Mode;
use fifthpeg_lesson::terminal::StudentOrder;

use super::room::{Room, at, host_text, line_with, nowhere, press, press_host, student_text};
use crate::host::keys::{HostCommand, MAIN_KEYS, PICK_KEYS};
use crate::host::state::HostState;
use crate::keys::{Binding, Key};
use crate::menu::MENU_KEYS;
use crate::options::ScreenOptions;
use crate::student::keys::{CALLER_KEYS, SEARCH_KEYS, TURN_KEYS};
use crate::student::state::StudentState;

/// In the middle of a lesson, where every key can do something: a call is open,
/// the middle one of three students is chosen.
fn busy_host() -> HostState {
    let mut room = Room::class(&["Mette", "Jonas", "Nele"]);
    room.call("3/4");
    let mut screen = room.host_screen(ScreenOptions::default());
    press_host(&mut screen, Key::Code(KeyCode::Down));
    screen
}

/// The cursor in the middle of the neck, so that it can go every way.
fn busy_student() -> StudentState {
    let mut room = Room::class(&["Mette"]);
    room.call("3/4");
    room.student(0, StudentOrder::Try(at("3/3")));
    let mut screen = room.student_screen(0, ScreenOptions::default());
    let neck = screen.view.neck.clone().expect("a neck");
    let cursor = screen.cursor.as_mut().expect("a cursor");
    assert!(cursor.put(&neck, "3/8".parse().expect("a place")));
    screen
}

fn each<C: Copy>(table: &[Binding<C>], mut does: impl FnMut(Key, &Binding<C>) -> bool) {
    for binding in table {
        for key in binding.keys {
            assert!(does(*key, binding), "{} does nothing", binding.shown);
        }
    }
}

#[test]
fn every_key_of_the_host_does_something() {
    each(MAIN_KEYS, |key, _| {
        let before = busy_host();
        let mut after = before.clone();
        press_host(&mut after, key).is_some() || after != before
    });
    each(PICK_KEYS, |key, _| {
        let mut before = busy_host();
        press_host(&mut before, Key::Char('c'));
        for code in [KeyCode::Down, KeyCode::Down, KeyCode::Right, KeyCode::Right] {
            press_host(&mut before, Key::Code(code));
        }
        let mut after = before.clone();
        press_host(&mut after, key).is_some() || after != before
    });
    each(MENU_KEYS, |key, _| {
        let mut before = busy_host();
        press_host(&mut before, Key::Char('m'));
        press_host(&mut before, Key::Code(KeyCode::Down));
        let mut after = before.clone();
        press_host(&mut after, key).is_some() || after != before
    });
}

#[test]
fn every_key_of_a_student_does_something() {
    each(SEARCH_KEYS, |key, _| {
        let before = busy_student();
        let mut after = before.clone();
        press(&mut after, key).is_some() || after != before
    });
    let friends = || {
        Room::with(&["Mette", "Jonas"], |setup| {
            setup.rules.mode = Mode::Friends;
        })
    };
    each(TURN_KEYS, |key, _| {
        let before = friends().student_screen(0, ScreenOptions::default());
        assert!(before.is_my_turn());
        let mut after = before.clone();
        press(&mut after, key).is_some() || after != before
    });
    each(CALLER_KEYS, |key, _| {
        let mut room = friends();
        room.student(0, StudentOrder::Pick(None));
        let before = room.student_screen(0, ScreenOptions::default());
        assert!(before.is_caller());
        let mut after = before.clone();
        press(&mut after, key).is_some() || after != before
    });
}

#[test]
fn no_key_stands_for_two_things_in_one_table() {
    fn once<C>(table: &[Binding<C>]) {
        let keys: Vec<Key> = table.iter().flat_map(|b| b.keys.iter().copied()).collect();
        for (at, key) in keys.iter().enumerate() {
            assert!(!keys[..at].contains(key), "{key:?} is there twice");
        }
    }
    once(MAIN_KEYS);
    once(PICK_KEYS);
    once(MENU_KEYS);
    once(SEARCH_KEYS);
    once(TURN_KEYS);
    once(CALLER_KEYS);
}

#[test]
fn the_help_shows_every_line_by_scrolling() {
    let mut screen = busy_host();
    press_host(&mut screen, Key::Char('?'));
    line_with(&host_text(&screen, 80, 24), "more below: Down");
    let mut seen = Vec::new();
    for _ in 0..80 {
        seen.extend(host_text(&screen, 80, 24));
        press_host(&mut screen, Key::Code(KeyCode::Down));
    }
    for binding in MAIN_KEYS {
        // Passing a turn is for friends; this is a class.
        if binding.command == HostCommand::Pass {
            assert!(nowhere(&seen, binding.does));
        } else {
            line_with(&seen, binding.does);
        }
    }
    for binding in PICK_KEYS {
        line_with(&seen, binding.does);
    }
    line_with(&seen, "the place picked");
    let end = host_text(&screen, 80, 24);
    line_with(&end, "more above: Up");
    press_host(&mut screen, Key::Code(KeyCode::PageUp));
    assert_ne!(host_text(&screen, 80, 24), end, "a page back at once");
    press_host(&mut screen, Key::Code(KeyCode::Esc));
    line_with(&host_text(&screen, 80, 24), "Call 1, open");
}

#[test]
fn a_large_screen_shows_the_whole_help_at_once() {
    let mut screen = busy_student();
    press(&mut screen, Key::Char('?'));
    let text = student_text(&screen, 200, 50);
    for binding in SEARCH_KEYS {
        line_with(&text, binding.does);
    }
    for binding in CALLER_KEYS {
        line_with(&text, binding.does);
    }
}
