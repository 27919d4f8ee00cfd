//! The help names every key, and every key that it names does something.

use std::collections::BTreeSet;
use std::path::Path;
use std::time::Duration;

use crossterm::event::KeyCode;
use fifthpeg_host::BookState;
use fifthpeg_lesson::message::Mode;
use fifthpeg_lesson::terminal::StudentOrder;

use super::room::{
    Room, Screens as _, at, host_text, line_with, nowhere, press, press_host, student_text,
};
use crate::help::HELP_KEYS;
use crate::host::keys::{CALL_KEYS, HostCommand, OTHER_KEYS, PICK_KEYS, main_keys};
use crate::host::state::HostState;
use crate::keys::{Binding, Key};
use crate::line_edit::TYPING_KEYS;
use crate::listen::state::{ASKED_KEYS, LISTEN_KEYS, ListenState};
use crate::menu::MENU_KEYS;
use crate::options::ScreenOptions;
use crate::student::commands::StudentCommand;
use crate::student::host_keys::{ALONE_KEYS, HOSTING_KEYS, NEXT_KEYS};
use crate::student::keys::{
    CALLER_KEYS, HEARD_KEYS, OFFERED_KEYS, OVER_KEYS, PLACE_KEYS, SEARCH_KEYS, TURN_KEYS,
};
use crate::student::layers::{Alone, Hosting};
use crate::student::state::StudentState;
use crate::theme::Theme;
use crate::{host, student};

/// In the middle of a lesson, where every key can do something: a call is open,
/// the middle one of three students is chosen.
fn busy_host() -> HostState {
    let mut room = Room::of(&["Mette", "Jonas", "Nele"]);
    room.call("3/4");
    let mut screen = room.host_screen(ScreenOptions::default());
    press_host(&mut screen, Key::Code(KeyCode::Down));
    screen
}

/// The cursor in the middle of the neck, so that it can go every way.
fn busy_student() -> StudentState {
    let mut room = Room::of(&["Mette"]);
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
            assert!(does(*key, binding), "{} does nothing", binding.shown());
        }
    }
}

#[test]
fn every_key_of_the_host_does_something() {
    each(main_keys(), |key, _| {
        let before = busy_host();
        let mut after = before.clone();
        press_host(&mut after, key).is_some() || after != before
    });
    each(PICK_KEYS, |key, _| {
        let room = Room::of(&["Mette", "Jonas"]);
        let mut before = room.host_screen(ScreenOptions::default());
        press_host(&mut before, Key::Char('c'));
        for code in [KeyCode::Down, KeyCode::Down, KeyCode::Right, KeyCode::Right] {
            press_host(&mut before, Key::Code(code));
        }
        let mut after = before.clone();
        press_host(&mut after, key).is_some() || after != before
    });
    each(MENU_KEYS, |key, _| {
        let room = Room::of(&["Mette", "Jonas"]);
        let mut before = room.host_screen(ScreenOptions::default());
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
    once(&student::keys::matter_now(&busy_student()));
    let friends = || {
        Room::with(&["Mette", "Jonas"], |setup| {
            setup.rules.mode = Mode::Friends;
        })
    };
    let turn = friends().student_screen(0, ScreenOptions::default());
    assert!(turn.is_my_turn());
    once(&student::keys::matter_now(&turn));
    let mut room = friends();
    room.student(0, StudentOrder::Pick(None));
    let caller = room.student_screen(0, ScreenOptions::default());
    assert!(caller.is_caller());
    once(&student::keys::matter_now(&caller));
    once(main_keys());
    once(PICK_KEYS);
    once(MENU_KEYS);
    once(SEARCH_KEYS);
    once(HEARD_KEYS);
    once(PLACE_KEYS);
    once(OFFERED_KEYS);
    once(TURN_KEYS);
    once(CALLER_KEYS);
    once(OVER_KEYS);
    once(HOSTING_KEYS);
    once(ALONE_KEYS);
    once(NEXT_KEYS);
    once(LISTEN_KEYS);
    once(ASKED_KEYS);
    once(TYPING_KEYS);
    once(HELP_KEYS);
}

/// The names of all tables of keys, as the sources of this crate have them.
fn tables_in_sources(folder: &Path, names: &mut BTreeSet<String>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            tables_in_sources(&path, names);
        } else if path.extension().is_some_and(|e| e == "rs") {
            let text = std::fs::read_to_string(&path).unwrap();
            let consts = text.lines().filter_map(|line| {
                let (name, kind) = line.trim_start_matches("pub ").split_once(": ")?;
                let name = name
                    .trim_start_matches("pub(super) ")
                    .strip_prefix("const ")?;
                kind.starts_with("&[Binding<").then(|| name.to_owned())
            });
            names.extend(consts);
        }
    }
}

/// What every row of a table does, by the table's name.
macro_rules! tables {
    ($($name:ident)*) => {
        [$((stringify!($name), $name.iter().map(|b| (b.shown(), b.does)).collect::<Vec<_>>())),*]
    };
}

#[test]
fn no_table_is_left_out_of_the_help() {
    let theme = Theme::new(&ScreenOptions::default());
    let hosting = |alone| Hosting {
        view: Room::of(&["Mette"]).lesson.view().into(),
        joining: String::new(),
        joining_in_full: String::new(),
        book: BookState::Writing,
        known: Vec::new(),
        alone,
    };
    let alone = Alone {
        gap: Duration::from_secs(5),
        by_itself: false,
    };
    let helps = [
        host::keys::help(theme, true, &[]),
        student::keys::help(theme, None, true),
        student::keys::help(theme, Some(&hosting(None)), true),
        student::keys::help(theme, Some(&hosting(Some(alone))), true),
        ListenState::help(),
    ];
    let said: Vec<_> = helps
        .iter()
        .flatten()
        .flat_map(|part| &part.lines)
        .collect();
    let tables = tables!(
        CALL_KEYS OTHER_KEYS PICK_KEYS MENU_KEYS SEARCH_KEYS HEARD_KEYS PLACE_KEYS OFFERED_KEYS TURN_KEYS
        CALLER_KEYS OVER_KEYS HOSTING_KEYS ALONE_KEYS NEXT_KEYS LISTEN_KEYS ASKED_KEYS
        TYPING_KEYS HELP_KEYS
    );
    for (name, rows) in &tables {
        for (shown, does) in rows {
            let stands = said.iter().any(|(key, what)| key == shown && what == does);
            assert!(stands, "no help says what {shown} does in {name}: {does}");
        }
    }
    // Those of the rules as well, which come from a table of their own.
    for binding in main_keys() {
        let stands = said.iter().any(|(_, what)| what == binding.does);
        assert!(stands, "no help says: {}", binding.does);
    }
    let mut there = BTreeSet::new();
    tables_in_sources(
        Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/src")),
        &mut there,
    );
    there.retain(|name| !["TABLE"].contains(&name.as_str()));
    let known = tables.iter().map(|(name, _)| (*name).to_owned());
    assert_eq!(
        known.collect::<BTreeSet<_>>(),
        there,
        "a table that this test knows not"
    );
}

#[test]
fn the_help_shows_every_line_by_scrolling() {
    for (columns, rows) in [(80, 24), (60, 16)] {
        let mut screen = busy_host();
        press_host(&mut screen, Key::Char('?'));
        press_host(&mut screen, Key::Char('?'));
        line_with(&host_text(&screen, columns, rows), "more below: Down");
        // On the smaller one what a key does goes on below.
        let mut seen = String::new();
        let whole = |lines: &[String]| {
            let inside = lines.iter().map(|line| line.trim_matches(['│', ' ']));
            inside.collect::<Vec<_>>().join(" ")
        };
        for _ in 0..90 {
            let text = host_text(&screen, columns, rows);
            seen += &whole(&text)
                .split_whitespace()
                .collect::<Vec<_>>()
                .join(" ");
            press_host(&mut screen, Key::Code(KeyCode::Down));
        }
        for binding in main_keys() {
            // There is no microphone.
            let hears = matches!(
                binding.command,
                HostCommand::CallHeard | HostCommand::Listen | HostCommand::Quiet
            );
            assert_eq!(seen.contains(binding.does), !hears, "{}", binding.does);
        }
        for binding in PICK_KEYS {
            assert!(seen.contains(binding.does), "{}", binding.does);
        }
        for words in ["the place picked", "a page down; other keys close"] {
            assert!(seen.contains(words), "{words}");
        }
        let end = host_text(&screen, columns, rows);
        line_with(&end, "more above: Up");
        press_host(&mut screen, Key::Code(KeyCode::PageUp));
        assert_ne!(
            host_text(&screen, columns, rows),
            end,
            "a page back at once"
        );
        press_host(&mut screen, Key::Code(KeyCode::Esc));
        line_with(&host_text(&screen, columns, rows), "Call 1, open");
    }
}

#[test]
fn a_large_screen_shows_the_whole_help_at_once() {
    let mut screen = busy_student();
    press(&mut screen, Key::Char('?'));
    press(&mut screen, Key::Char('?'));
    let text = student_text(&screen, 200, 50);
    for binding in SEARCH_KEYS {
        // There is no microphone.
        match binding.command {
            StudentCommand::Listen | StudentCommand::Quiet => {
                assert!(nowhere(&text, binding.does));
            }
            _ => drop(line_with(&text, binding.does)),
        }
    }
    for binding in CALLER_KEYS {
        line_with(&text, binding.does);
    }
}

#[test]
fn the_help_begins_with_few_keys_and_the_rest_is_one_key_away() {
    let mut student = busy_student();
    assert_eq!(
        host::keys::short_help().lines.len(),
        fifthpeg_front::SHORT_HELP
    );
    let students = student::keys::short_help(&student).lines.len();
    assert!((5..=fifthpeg_front::SHORT_HELP).contains(&students));
    let mut host = busy_host();
    press_host(&mut host, Key::Char('?'));
    press(&mut student, Key::Char('?'));
    for (columns, rows) in [(60, 20), (80, 24), (120, 40)] {
        for text in [
            host_text(&host, columns, rows),
            student_text(&student, columns, rows),
        ] {
            line_with(&text, "? shows all keys; any other key goes back.");
            assert!(nowhere(&text, "microphone"), "{text:?}");
        }
    }
    line_with(
        &student_text(&student, 80, 24),
        "move the cursor on the neck",
    );
    press(&mut student, Key::Char('?'));
    line_with(&student_text(&student, 80, 24), "more below: Down");
    press_host(&mut host, Key::Code(KeyCode::Esc));
    line_with(&host_text(&host, 80, 24), "Call 1, open");
}

#[test]
fn ctrl_c_asks_whether_to_leave_from_every_box() {
    let (mut host, mut student) = (busy_host(), busy_student());
    for presses in 0..3 {
        for _ in 0..presses {
            press_host(&mut host, Key::Char('?'));
            press(&mut student, Key::Char('?'));
        }
        press_host(&mut host, Key::Ctrl('c'));
        press(&mut student, Key::Ctrl('c'));
        line_with(&host_text(&host, 80, 24), "End the lesson?");
        line_with(&student_text(&student, 80, 24), "Leave the lesson?");
        press_host(&mut host, Key::Code(KeyCode::Esc));
        press(&mut student, Key::Code(KeyCode::Esc));
    }
    let room = Room::of(&["Mette"]);
    let view = room.students[0].1.view(room.now);
    let status = fifthpeg_student::Status::Finding { lesson: None };
    let mut student = StudentState::new(view.into(), status, ScreenOptions::default());
    line_with(&student_text(&student, 80, 24), "Mind your ears");
    press(&mut student, Key::Ctrl('c'));
    line_with(&student_text(&student, 80, 24), "Leave the lesson?");
}
