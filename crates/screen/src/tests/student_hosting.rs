//! The friend who hosts: the student's screen with the host's keys besides.

use crossterm::event::KeyCode;
use fifthpeg_core::ReachStep;
use fifthpeg_host::{BookState, Notice};
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::marking::Telling;
use fifthpeg_lesson::message::{Mode, StudentId};
use fifthpeg_lesson::terminal::StudentOrder;
use fifthpeg_vocab::Setting;

use super::room::{Room, Screens as _, at, line_with, nowhere, press, student_text};
use crate::host::deeds::HostDeed;
use crate::keys::Key;
use crate::menu::MENU_KEYS;
use crate::options::ScreenOptions;
use crate::student::feeds::Heard;
use crate::student::host_keys::HOSTING_KEYS;
use crate::student::layers::{Hosting, Layer, StudentAction};
use crate::student::state::StudentState;

const ENTER: Key = Key::Code(KeyCode::Enter);
const DOWN: Key = Key::Code(KeyCode::Down);
const UP: Key = Key::Code(KeyCode::Up);

/// Mette hosts.
fn friends(names: &[&str]) -> (Room, StudentState) {
    let room = Room::with(names, |setup| {
        setup.rules.mode = Mode::Friends;
        setup.rules.telling = Telling::Hint;
    });
    let screen = room.student_screen(0, ScreenOptions::default());
    let screen = screen.with_hosting(Hosting {
        view: room.lesson.view().into(),
        joining: "To join: Thursday class, or by address: 192.168.1.20:4750".to_owned(),
        joining_in_full: "To join, by address: 192.168.1.20:4750. This host's key: 4f76".to_owned(),
        book: BookState::None,
        known: Vec::new(),
        alone: None,
    });
    (room, screen)
}

fn show(room: &Room, screen: &mut StudentState) {
    room.show_student(0, screen);
    let hosting = screen.hosting.as_mut().expect("Mette hosts");
    hosting.view = room.lesson.view().into();
}

fn host_does(room: &mut Room, screen: &mut StudentState, action: Option<StudentAction>) {
    let Some(StudentAction::Host(HostDeed::Order(order))) = action else {
        panic!("the screen asked for {action:?}");
    };
    room.host(order);
    show(room, screen);
}

#[test]
fn how_to_join_shows_while_few_are_here_and_on_asking() {
    for (columns, rows) in [(80, 24), (60, 16), (200, 50)] {
        let (_, screen) = friends(&["Mette", "Jonas"]);
        let text = student_text(&screen, columns, rows);
        line_with(&text, "To join: Thursday class, or by address");
    }
    let (mut room, mut screen) = friends(&["Mette", "Jonas"]);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Search: the whole neck");
    line_with(&text, "Right is: ");
    room.join("Nele");
    show(&room, &mut screen);
    assert!(nowhere(&student_text(&screen, 80, 24), "To join"));
    let asked = press(&mut screen, Key::Char('j'));
    assert_eq!(asked, Some(StudentAction::Host(HostDeed::Joining)));
    let text = student_text(&screen, 80, 24);
    line_with(&text, "192.168.1.20:4750");
    line_with(&text, "This host's key: 4f76");
}

#[test]
fn only_the_one_who_hosts_has_the_hosts_keys() {
    let (room, mut mette) = friends(&["Mette", "Jonas"]);
    let mut jonas = room.student_screen(1, ScreenOptions::default());
    for key in ['e', 'p', 's', 'd', 'j', 'r', 'x'] {
        let before = jonas.clone();
        assert_eq!(press(&mut jonas, Key::Char(key)), None);
        assert_eq!(jonas, before, "{key} does something");
    }
    let foot = |screen: &StudentState| student_text(screen, 80, 24)[23].clone();
    assert!(foot(&mette).contains("e reach  q end  p pass"));
    assert!(foot(&mette).ends_with("? help"));
    assert!(!foot(&jonas).contains("reach") && foot(&jonas).contains("q leave"));

    for screen in [&mut mette, &mut jonas] {
        press(screen, Key::Char('?'));
        press(screen, Key::Char('?'));
    }
    let (mette, jonas) = (student_text(&mette, 200, 60), student_text(&jonas, 200, 60));
    for binding in HOSTING_KEYS {
        line_with(&mette, binding.does);
        assert!(nowhere(&jonas, binding.does));
    }
    assert!(nowhere(&mette, "leave the lesson"));
    line_with(&jonas, "leave the lesson (asks first)");
}

#[test]
fn every_key_of_the_one_who_hosts_does_something_and_stands_for_one_thing() {
    let mut seen = Vec::new();
    for binding in HOSTING_KEYS {
        for key in binding.keys {
            let (_, before) = friends(&["Mette", "Jonas"]);
            let mut after = before.clone();
            let action = press(&mut after, *key);
            assert!(action.is_some() || after != before, "{key:?} does nothing");
            assert!(!seen.contains(key), "{key:?} is there twice");
            seen.push(*key);
        }
    }
    let taken = MENU_KEYS.iter().flat_map(|binding| binding.keys);
    assert!(
        taken
            .filter(|key| seen.contains(key))
            .all(|key| *key == Key::Ctrl('c')),
        "a list's keys are its own"
    );
}

#[test]
fn the_reach_is_changed_from_a_list_or_typed() {
    let (mut room, mut screen) = friends(&["Mette", "Jonas"]);
    press(&mut screen, Key::Char('e'));
    line_with(&student_text(&screen, 80, 24), "› the whole neck");
    press(&mut screen, UP);
    let action = press(&mut screen, ENTER);
    let wanted = HostOrder::Set(Setting::Reach(ReachStep::TwelveFrets.into()));
    assert_eq!(action, Some(StudentAction::Host(HostDeed::Order(wanted))));
    host_does(&mut room, &mut screen, action);
    line_with(&student_text(&screen, 80, 24), "Search: twelve frets");

    press(&mut screen, Key::Char('e'));
    press(&mut screen, DOWN);
    press(&mut screen, DOWN);
    assert_eq!(press(&mut screen, ENTER), None);
    line_with(&student_text(&screen, 80, 24), "A reach of your own");
    screen.handle_paste("strings=1,9");
    assert_eq!(press(&mut screen, ENTER), None);
    assert!(matches!(&screen.layer, Layer::TypeReach(line) if line.trouble().is_some()));
    press(&mut screen, Key::Ctrl('u'));
    screen.handle_paste("strings=1,2 frets=0-5");
    let action = press(&mut screen, ENTER);
    host_does(&mut room, &mut screen, action);
    line_with(
        &student_text(&screen, 80, 24),
        "Search: strings=1,2 frets=0-5",
    );
}

#[test]
fn a_rule_is_changed_from_a_list_within_a_list() {
    let (mut room, mut screen) = friends(&["Mette", "Jonas"]);
    press(&mut screen, Key::Char('s'));
    let text = student_text(&screen, 80, 24);
    line_with(&text, "The rules of the lesson");
    line_with(&text, "what is right: same pitch, any place");
    line_with(&text, "the voice: banjo");
    press(&mut screen, DOWN);
    press(&mut screen, DOWN);
    assert_eq!(press(&mut screen, ENTER), None);
    line_with(&student_text(&screen, 80, 24), "› hint:");
    press(&mut screen, UP);
    let action = press(&mut screen, ENTER);
    let wanted = HostOrder::Set(Setting::Telling(Telling::Verdict));
    assert_eq!(action, Some(StudentAction::Host(HostDeed::Order(wanted))));
    host_does(&mut room, &mut screen, action);
    let welcome = screen.view.welcome.as_ref().expect("in the lesson");
    assert_eq!(welcome.rules.telling, Telling::Verdict);
}

#[test]
fn a_friend_who_has_nodded_off_does_not_hold_the_others_up() {
    let (mut room, mut screen) = friends(&["Mette", "Jonas", "Nele"]);
    room.student(0, StudentOrder::Pick(Some(at("1/0"))));
    room.student(0, StudentOrder::CallerClose);
    show(&room, &mut screen);
    line_with(&student_text(&screen, 80, 24), "Jonas calls next.");
    // Jonas does not call.
    let action = press(&mut screen, Key::Char('p'));
    assert_eq!(
        action,
        Some(StudentAction::Host(HostDeed::Order(HostOrder::PassTurn)))
    );
    host_does(&mut room, &mut screen, action);
    line_with(&student_text(&screen, 80, 24), "Nele calls next.");
    // Nele calls, and nods off in turn.
    room.student(2, StudentOrder::Pick(Some(at("2/1"))));
    show(&room, &mut screen);
    let action = press(&mut screen, Key::Char('r'));
    assert_eq!(
        action,
        Some(StudentAction::Host(HostDeed::Order(HostOrder::Reveal)))
    );
    host_does(&mut room, &mut screen, action);
    line_with(&student_text(&screen, 80, 24), "It was C4");
    // The reveal has passed the turn: passing it once more skips nobody.
    let action = press(&mut screen, Key::Char('p'));
    host_does(&mut room, &mut screen, action);
    line_with(&student_text(&screen, 80, 24), "Your turn to call");
    room.student(0, StudentOrder::Pick(Some(at("2/1"))));
    show(&room, &mut screen);
    let action = press(&mut screen, Key::Char('x'));
    assert_eq!(
        action,
        Some(StudentAction::Host(HostDeed::Order(HostOrder::Close)))
    );
    host_does(&mut room, &mut screen, action);
    line_with(&student_text(&screen, 80, 24), "Jonas calls next.");
}

#[test]
fn a_friend_is_removed_after_two_questions_but_never_oneself() {
    let (mut room, mut screen) = friends(&["Mette", "Jonas", "Nele"]);
    press(&mut screen, Key::Char('d'));
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Remove whom?");
    line_with(&text, "› Jonas");
    assert!(nowhere(&text, "› Mette") && nowhere(&text, "  Mette "));
    press(&mut screen, DOWN);
    assert_eq!(press(&mut screen, ENTER), None);
    line_with(&student_text(&screen, 80, 24), "Remove Nele?");
    press(&mut screen, DOWN);
    let action = press(&mut screen, ENTER);
    let nele: StudentId = room.students[2].0;
    assert_eq!(
        action,
        Some(StudentAction::Host(HostDeed::Order(HostOrder::Remove(
            nele
        ))))
    );
    host_does(&mut room, &mut screen, action);
    let (_, mut alone) = friends(&["Mette"]);
    assert_eq!(press(&mut alone, Key::Char('d')), None);
    line_with(&student_text(&alone, 80, 24), "Nobody else is here");
}

#[test]
fn the_one_who_hosts_ends_the_lesson_and_does_not_leave_it() {
    for key in [Key::Char('q'), Key::Ctrl('c')] {
        let (mut room, mut screen) = friends(&["Mette", "Jonas"]);
        assert_eq!(press(&mut screen, key), None);
        line_with(&student_text(&screen, 80, 24), "End the lesson?");
        assert_eq!(press(&mut screen, ENTER), None, "Enter alone ends nothing");
        press(&mut screen, key);
        press(&mut screen, DOWN);
        let action = press(&mut screen, ENTER);
        assert_eq!(
            action,
            Some(StudentAction::Host(HostDeed::Order(HostOrder::End)))
        );
        host_does(&mut room, &mut screen, action);
        assert!(screen.view.ended);
        let mut jonas = room.student_screen(1, ScreenOptions::default());
        line_with(&student_text(&jonas, 80, 24), "The lesson is over.");
        assert_eq!(
            press(&mut jonas, Key::Char('q')),
            Some(StudentAction::Leave)
        );
    }
}

#[test]
fn the_friend_who_hosts_hears_of_the_book_and_may_go_on_without_it() {
    let (_, mut screen) = friends(&["Mette", "Ole"]);
    assert_eq!(press(&mut screen, Key::Char('b')), None);
    line_with(
        &student_text(&screen, 80, 24),
        "This lesson is not being written down.",
    );
    let sentence = "the disk is full".to_owned();
    screen.take_heard(Heard::Book(BookState::Waits {
        sentence: sentence.clone(),
        is_lost: false,
    }));
    screen.take_heard(Heard::Notice(Notice::BookWaits { sentence }));
    line_with(&student_text(&screen, 120, 30), "the disk is full");
    assert_eq!(press(&mut screen, Key::Char('b')), None);
    line_with(
        &student_text(&screen, 80, 24),
        "Go on without the lesson book?",
    );
    assert_eq!(press(&mut screen, DOWN), None);
    assert_eq!(
        press(&mut screen, ENTER),
        Some(StudentAction::Host(HostDeed::WithoutBook))
    );

    // One that is gone: the lesson may go on in a new one.
    screen.take_heard(Heard::Book(BookState::Waits {
        sentence: "the lesson book was moved".to_owned(),
        is_lost: true,
    }));
    assert_eq!(press(&mut screen, Key::Char('b')), None);
    line_with(
        &student_text(&screen, 80, 24),
        "in a new book, with all of this lesson",
    );
    assert_eq!(
        press(&mut screen, ENTER),
        Some(StudentAction::Host(HostDeed::NewBook))
    );
}
