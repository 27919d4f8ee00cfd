//! The lists of the host's screen: reach, rules, removing, ending.

use crossterm::event::KeyCode;
use fifthpeg_core::ReachStep;
use fifthpeg_host::KnownPerson;
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{Sounding, Voice};
use fifthpeg_vocab::Setting;

use super::room::{Room, Screens as _, host_text, line_with, nowhere, press_host as press};
use crate::host::deeds::{Came, HostDeed, People};
use crate::host::layers::{HostAction, Layer};
use crate::host::state::HostState;
use crate::keys::Key;
use crate::options::ScreenOptions;

const DOWN: Key = Key::Code(KeyCode::Down);
const UP: Key = Key::Code(KeyCode::Up);
const ENTER: Key = Key::Code(KeyCode::Enter);
const ESC: Key = Key::Code(KeyCode::Esc);

fn screen() -> (Room, HostState) {
    let room = Room::of(&["Mette", "Jonas"]);
    let screen = room.host_screen(ScreenOptions::default());
    (room, screen)
}

fn typed(state: &mut HostState, text: &str) {
    press(state, Key::Ctrl('u'));
    for c in text.chars() {
        press(state, Key::Char(c));
    }
}

#[test]
fn the_reach_list_names_every_step_and_begins_at_the_present_one() {
    let (mut room, mut screen) = screen();
    press(&mut screen, Key::Char('e'));
    let text = host_text(&screen, 80, 24);
    for step in ReachStep::all() {
        line_with(&text, step.title());
    }
    line_with(&text, "› the whole neck");
    press(&mut screen, UP);
    let action = press(&mut screen, ENTER);
    let wanted = HostOrder::Set(Setting::Reach(ReachStep::TwelveFrets.into()));
    assert_eq!(action, Some(HostAction::Host(HostDeed::Order(wanted))));
    room.host_does(action);
    room.show_host(&mut screen);
    line_with(&host_text(&screen, 80, 24), "Reach: twelve frets");
}

#[test]
fn a_narrow_reach_shows_on_the_neck() {
    let (mut room, mut screen) = screen();
    room.host(HostOrder::Set(Setting::Reach(
        "strings=1 frets=1-3".parse().expect("a reach"),
    )));
    room.show_host(&mut screen);
    let text = host_text(&screen, 200, 50);
    let heavy = |line: &str| line.matches('━').count();
    assert!(heavy(line_with(&text, "1 D4")) > 20);
    assert_eq!(heavy(line_with(&text, "2 B3")), 0);
    assert!(line_with(&text, "2 B3").contains('─'));
}

#[test]
fn a_reach_of_ones_own_is_typed_and_mended() {
    let (mut room, mut screen) = screen();
    press(&mut screen, Key::Char('e'));
    for _ in 0..10 {
        press(&mut screen, DOWN);
    }
    assert_eq!(press(&mut screen, ENTER), None);
    line_with(&host_text(&screen, 80, 24), "A reach of your own");
    typed(&mut screen, "strings=1,9");
    assert_eq!(press(&mut screen, ENTER), None);
    assert!(matches!(screen.layer, Layer::TypeReach(_)));
    let Layer::TypeReach(line) = &screen.layer else {
        panic!("the line is closed");
    };
    let why = line.trouble().expect("a sentence that says why").to_owned();
    let start: String = why.chars().take(20).collect();
    line_with(&host_text(&screen, 80, 24), &start);
    line_with(&host_text(&screen, 80, 24), "The reach is now: ");
    press(&mut screen, Key::Ctrl('u'));
    assert!(nowhere(&host_text(&screen, 80, 24), &start));
    typed(&mut screen, "strings=1,2 frets=0-5");
    let action = press(&mut screen, ENTER);
    assert!(matches!(
        action,
        Some(HostAction::Host(HostDeed::Order(HostOrder::Set(
            Setting::Reach(_)
        ))))
    ));
    room.host_does(action);
    room.show_host(&mut screen);
    line_with(&host_text(&screen, 80, 24), "Reach: strings=1,2 frets=0-5");
}

#[test]
fn rules_are_chosen_from_lists() {
    for (key, order, shown) in [
        (
            'm',
            HostOrder::Set(Setting::Marking(Marking::ExactPlace)),
            "Right: exact place",
        ),
        (
            's',
            HostOrder::Set(Setting::Sounding(Sounding::HostSpeakers)),
            "Sound: host speakers",
        ),
        (
            't',
            HostOrder::Set(Setting::Telling(Telling::Interval)),
            "A miss tells: interval",
        ),
        (
            'v',
            HostOrder::Set(Setting::Voice(Voice::Guitar)),
            "Voice: guitar",
        ),
    ] {
        let (mut room, mut screen) = screen();
        press(&mut screen, Key::Char(key));
        press(&mut screen, DOWN);
        let action = press(&mut screen, ENTER);
        assert_eq!(action, Some(HostAction::Host(HostDeed::Order(order))));
        room.host_does(action);
        room.show_host(&mut screen);
        line_with(&host_text(&screen, 80, 24), shown);
    }
}

#[test]
fn removing_asks_first() {
    let (mut room, mut screen) = screen();
    press(&mut screen, DOWN);
    press(&mut screen, Key::Char('d'));
    line_with(&host_text(&screen, 80, 24), "Remove Jonas?");
    assert_eq!(press(&mut screen, ENTER), None);
    assert_eq!(screen.layer, Layer::Main);
    press(&mut screen, Key::Char('d'));
    press(&mut screen, DOWN);
    let action = press(&mut screen, ENTER);
    assert_eq!(
        action,
        Some(HostAction::Host(HostDeed::Order(HostOrder::Remove(
            room.students[1].0
        ))))
    );
    room.host_does(action);
    room.show_host(&mut screen);
    line_with(&host_text(&screen, 80, 24), "Students (1)");
}

#[test]
fn ending_asks_first_and_enter_alone_ends_nothing() {
    for key in [Key::Char('q'), Key::Ctrl('c')] {
        let (mut room, mut screen) = screen();
        press(&mut screen, key);
        line_with(&host_text(&screen, 80, 24), "End the lesson?");
        assert_eq!(press(&mut screen, ENTER), None);
        press(&mut screen, key);
        assert_eq!(press(&mut screen, ESC), None);
        press(&mut screen, key);
        press(&mut screen, DOWN);
        let action = press(&mut screen, ENTER);
        assert_eq!(
            action,
            Some(HostAction::Host(HostDeed::Order(HostOrder::End)))
        );
        room.host_does(action);
        room.show_host(&mut screen);
        assert!(screen.view.ended);
    }
}

#[test]
fn ctrl_c_twice_ends_and_only_closes_other_lists() {
    let (_, mut screen) = screen();
    press(&mut screen, Key::Char('m'));
    assert_eq!(press(&mut screen, Key::Ctrl('c')), None);
    assert_eq!(screen.layer, Layer::Main);
    press(&mut screen, Key::Ctrl('c'));
    let action = press(&mut screen, Key::Ctrl('c'));
    assert_eq!(
        action,
        Some(HostAction::Host(HostDeed::Order(HostOrder::End)))
    );
}

#[test]
fn the_host_says_who_somebody_is_and_gives_class_keys_from_a_list() {
    let (_, mut screen) = screen();
    let known = |name: &str, has_key| KnownPerson {
        name: name.to_owned(),
        has_key,
    };
    let own = screen.chosen_student().expect("somebody").clone();
    let book = || vec![known(&own.name, true), known("Kaja", false)];
    let asked = press(&mut screen, Key::Char('w'));
    assert_eq!(
        asked,
        Some(HostAction::Host(HostDeed::People(People::AskWho)))
    );
    screen.take_came(Came::Known(People::AskWho, book()));
    let text = host_text(&screen, 80, 24);
    line_with(&text, &format!("Who is {}?", own.name));
    line_with(&text, "Kaja");
    // Enter alone says nothing.
    assert_eq!(press(&mut screen, ENTER), None);
    screen.take_came(Came::Known(People::AskWho, book()));
    press(&mut screen, DOWN);
    let is = People::KnownAs(own.id, "Kaja".to_owned());
    assert_eq!(
        press(&mut screen, ENTER),
        Some(HostAction::Host(HostDeed::People(is)))
    );
    screen.take_came(Came::Known(People::AskWho, Vec::new()));
    line_with(&host_text(&screen, 80, 24), "There is nobody to choose");

    let asked = press(&mut screen, Key::Char('g'));
    assert_eq!(
        asked,
        Some(HostAction::Host(HostDeed::People(People::AskKeys)))
    );
    screen.take_came(Came::Known(People::AskKeys, book()));
    line_with(
        &host_text(&screen, 80, 24),
        &format!("{} (has one)", own.name),
    );
    assert_eq!(press(&mut screen, ENTER), None);
    screen.take_came(Came::Known(People::AskKeys, book()));
    press(&mut screen, DOWN);
    let offered = press(&mut screen, ENTER);
    assert!(matches!(
        offered,
        Some(HostAction::Host(HostDeed::People(People::OfferKey(_))))
    ));
}

#[test]
fn what_waits_for_the_end_of_a_call_says_so_at_once() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    let mut screen = room.host_screen(ScreenOptions::default());
    for key in ['c', 'n', 'm', 's'] {
        screen.message = None;
        assert_eq!(press(&mut screen, Key::Char(key)), None);
        line_with(&host_text(&screen, 80, 24), "A call is open: r reveals it");
    }
    // The reach may be changed: it is for the next call.
    press(&mut screen, Key::Char('e'));
    line_with(&host_text(&screen, 80, 24), "Where calls are picked from");
}

#[test]
fn speakers_that_are_silent_are_told_before_the_call() {
    let room = Room::with(&["Mette"], |setup| {
        setup.rules.sounding = Sounding::HostSpeakers;
    });
    let silent = ScreenOptions {
        silence: Some("no sound here"),
        ..ScreenOptions::default()
    };
    for (columns, rows) in [(80, 24), (120, 40)] {
        let text = host_text(&room.host_screen(silent), columns, rows);
        line_with(&text, "is silent: s chooses who sounds the notes.");
        let text = host_text(&room.host_screen(ScreenOptions::default()), columns, rows);
        assert!(nowhere(&text, "makes no sound"));
    }
}
