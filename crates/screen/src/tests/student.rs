//! The student's screen in a lesson: before, keys, after.

use std::time::Duration;

use crossterm::event::KeyCode;
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::marking::Telling;
use fifthpeg_lesson::message::{Answer, SeatKey, Sounding};
use fifthpeg_lesson::terminal::{StudentOrder, TerminalEvent};
use fifthpeg_student::Status;
use fifthpeg_vocab::Setting;
use ratatui::layout::Rect;

use super::room::{Room, Screens as _, at, click, line_with, nowhere, press, student_text};
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::parts::Message;
use crate::student::layers::{Layer, StudentAction};
use crate::student::layout;
use crate::student::state::StudentState;

const ENTER: Key = Key::Code(KeyCode::Enter);
const RIGHT: Key = Key::Code(KeyCode::Right);

fn order(order: StudentOrder) -> Option<StudentAction> {
    Some(StudentAction::Order(order))
}

#[test]
fn the_caution_comes_before_anything_and_any_key_closes_it() {
    let room = Room::of(&["Mette"]);
    let view = room.students[0].1.view(room.now);
    let status = Status::Finding { lesson: None };
    let mut screen = StudentState::new(view.into(), status, ScreenOptions::default());
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Mind your ears");
    line_with(&text, "80 dB(A)");
    line_with(&text, "turn headphones and amplifiers down");
    assert_eq!(press(&mut screen, Key::Char('h')), None);
    assert!(nowhere(&student_text(&screen, 80, 24), "Mind your ears"));
}

#[test]
fn before_the_welcome_the_connection_is_told() {
    let room = Room::of(&["Mette"]);
    let view = fifthpeg_lesson::terminal::Terminal::new().view(room.now);
    let status = Status::Finding {
        lesson: Some("Thursday class".to_owned()),
    };
    let mut screen = StudentState::new(view.into(), status, ScreenOptions::default());
    press(&mut screen, ENTER);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Looking for the lesson 'Thursday class'");
    assert!(text[0].ends_with("looking for the lesson"));
    // After five seconds it is said what to do.
    screen.mind_looking();
    assert!(nowhere(&text, "No lesson found so far"));
    screen.at += Duration::from_secs(5);
    for (columns, rows) in [(60, 20), (80, 24), (120, 40)] {
        let text = student_text(&screen, columns, rows).join(" ");
        let words: Vec<&str> = text.split_whitespace().collect();
        assert!(
            words
                .join(" ")
                .contains("keep machines apart: then use another network."),
            "{text}"
        );
    }
}

#[test]
fn a_call_is_searched_and_found() {
    let mut room = Room::of(&["Mette", "Jonas"]);
    let mut screen = room.student_screen(0, ScreenOptions::default());
    line_with(&student_text(&screen, 80, 24), "Listen for the next call.");
    room.host(HostOrder::CallAt(at("1/4")));
    room.show_student(0, &mut screen);
    line_with(&student_text(&screen, 80, 24), "Listen.");
    room.wait(1.0);
    room.show_student(0, &mut screen);
    line_with(&student_text(&screen, 80, 24), "Search, then answer.");

    press(&mut screen, RIGHT);
    let action = press(&mut screen, Key::Char(' '));
    assert_eq!(action, order(StudentOrder::Try(at("1/1"))));
    room.student_does(0, action);
    press(&mut screen, RIGHT);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    assert!(line_with(&text, "1 D4").contains('○'));
    line_with(&text, "0 again, 1 try");

    let action = press(&mut screen, ENTER);
    assert_eq!(action, order(StudentOrder::Answer(at("1/2"))));
    room.student_does(0, action);
    press(&mut screen, RIGHT);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Your note is a little low: look higher.");
    line_with(&text, "× 1/2 E4 a little low");
    assert!(line_with(&text, "1 D4").contains('×'));

    press(&mut screen, RIGHT);
    let action = press(&mut screen, ENTER);
    room.student_does(0, action);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Found. Wait for the others.");
    line_with(&text, "● 1/4 F♯4 right");
    line_with(
        &text,
        "Found 1 of 1 (0 at first), median 0.7 s, 0 more hearings, 1 try.",
    );
    let wide = student_text(&screen, 200, 50);
    line_with(&wide, "So far: found 1 of 1 (0 at the first answer)");
}

#[test]
fn the_target_is_not_on_the_screen_before_the_reveal() {
    let mut room = Room::of(&["Mette"]);
    let mut screen = room.student_screen(0, ScreenOptions::default());
    let before = student_text(&screen, 200, 50);
    room.call("3/11");
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 200, 50);
    for (was, is) in before.iter().zip(&text) {
        if was.contains('║') {
            assert_eq!(was, is, "the neck tells something");
        }
    }
    assert!(nowhere(&text, "F♯4") && nowhere(&text, "3/11"));
    room.host(HostOrder::Reveal);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 200, 50);
    line_with(&text, "It was F♯4: 1/4, 2/7, 3/11 and 4/16.");
    let places = text
        .iter()
        .filter(|line| line.contains('║') && line.contains('●'));
    assert_eq!(places.count(), 4);
}

#[test]
fn h_hears_again_or_for_the_first_time() {
    let mut room = Room::with(&["Mette"], |setup| {
        setup.rules.sounding = Sounding::OnAsking;
    });
    room.call("1/4");
    let mut screen = room.student_screen(0, ScreenOptions::default());
    line_with(
        &student_text(&screen, 80, 24),
        "A note is called. Press h to hear it.",
    );
    for hearings in ["0 again", "1 again"] {
        let action = press(&mut screen, Key::Char('h'));
        assert_eq!(action, order(StudentOrder::Hear));
        room.student_does(0, action);
        room.wait(1.0);
        room.show_student(0, &mut screen);
        line_with(&student_text(&screen, 80, 24), hearings);
    }
}

#[test]
fn a_click_tries_the_place_under_it() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    for (columns, rows, left_handed) in [(80, 24, false), (200, 50, true)] {
        let mut screen = room.student_screen(
            0,
            ScreenOptions {
                left_handed,
                ..ScreenOptions::default()
            },
        );
        let area = Rect::new(0, 0, columns, rows);
        let neck = layout::areas(&screen, area).neck;
        let picture = crate::student::draw::picture(&screen, &[]).expect("a neck");
        let grid = picture.grid(neck).expect("room");
        let (x, y) = grid.place("5/7".parse().expect("a place")).expect("a cell");
        let action = screen.handle_mouse(&click(x, y), area);
        assert_eq!(action, order(StudentOrder::Try(at("5/7"))));
        line_with(
            &student_text(&screen, columns, rows),
            "Cursor: string 5, fret 7",
        );
        assert_eq!(screen.handle_mouse(&click(0, rows - 1), area), None);
    }
}

#[test]
fn a_note_name_is_an_answer_too_and_a_wrong_one_is_mended() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    let mut screen = room.student_screen(0, ScreenOptions::default());
    press(&mut screen, Key::Char('t'));
    for c in "f#x4".chars() {
        press(&mut screen, Key::Char(c));
    }
    assert_eq!(press(&mut screen, ENTER), None);
    assert!(matches!(screen.layer, Layer::TypeName(_)));
    assert!(matches!(&screen.layer, Layer::TypeName(line) if line.trouble().is_some()));
    press(&mut screen, Key::Ctrl('u'));
    for c in "gb4".chars() {
        press(&mut screen, Key::Char(c));
    }
    let action = press(&mut screen, ENTER);
    assert!(matches!(
        action,
        Some(StudentAction::Order(StudentOrder::Answer(Answer::Pitch(p)))) if p.midi() == 66
    ));
    room.student_does(0, action);
    room.show_student(0, &mut screen);
    line_with(&student_text(&screen, 80, 24), "● F♯4 right");
}

#[test]
fn without_names_everything_goes_by_place() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    room.student(0, StudentOrder::Answer(at("1/3")));
    room.host(HostOrder::Reveal);
    let screen = room.student_screen(
        0,
        ScreenOptions {
            names: false,
            ..ScreenOptions::default()
        },
    );
    for (columns, rows) in [(80, 24), (200, 50)] {
        let text = student_text(&screen, columns, rows);
        for name in ["D4", "B3", "G3", "F♯", "F4", "G4"] {
            assert!(nowhere(&text, name), "{name} shows");
        }
        line_with(&text, "It was here: 1/4, 2/7, 3/11 and 4/16.");
    }
}

#[test]
fn a_lost_connection_shows_and_the_answer_waits() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    let mut screen = room.student_screen(0, ScreenOptions::default());
    room.students[0].1.handle_disconnected(room.now);
    screen.status = Status::Lost {
        why: "The connection was lost".to_owned(),
        retry_in: std::time::Duration::from_millis(500),
    };
    screen.tell_status();
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    assert!(text[0].ends_with("connection lost, coming back"));
    line_with(&text, "The connection was lost; trying again in 0.5 s.");
    room.student(0, StudentOrder::Answer(at("1/4")));
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    line_with(
        &text,
        "Answered. It is kept here, and sent when the connection is back.",
    );
    line_with(&text, "… 1/4 F♯4 not confirmed yet");
}

/// One answer whose mark was lost on the way, and one given while nobody listened:
/// another call is open by the time the connection is back.
#[test]
fn what_came_of_answers_to_an_earlier_call_is_told() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    let mut screen = room.student_screen(0, ScreenOptions::default());
    let (mette, now) = (room.students[0].0, room.now);
    let terminal = &mut room.students[0].1;
    let answer = |place| StudentOrder::Answer(at(place));
    terminal.handle_order(answer("1/3"), now).expect("granted");
    while let Some(message) = terminal.poll_message() {
        let _ = room.lesson.handle_message(mette, message, now);
    }
    room.lesson.handle_disconnect(mette, now);
    terminal.handle_disconnected(now);
    terminal.handle_order(answer("1/4"), now).expect("granted");
    room.host(HostOrder::Close);
    room.call("2/1");
    room.show_student(0, &mut screen);
    let key = room.students[0].1.key();
    let back = room.lesson.handle_join("Mette", key, SeatKey(9), room.now);
    back.expect("back");
    room.students[0].1.handle_connected(room.now);
    room.settle();
    let news = room.take_news(0);
    let told = news
        .iter()
        .filter(|event| matches!(event, TerminalEvent::Told { .. }));
    let mut texts = Vec::new();
    for event in told {
        screen.take_event(event);
        texts.push(screen.message.clone().expect("told").text);
    }
    let [marked, late] = &texts[..] else {
        panic!("{texts:?}");
    };
    assert!(marked.starts_with("Answer 1/3"), "{marked}");
    assert!(marked.contains("to call 1: a neighbour"), "{marked}");
    assert!(late.starts_with("Answer 1/4"), "{late}");
    assert!(late.contains("so it does not count"), "{late}");
    assert!(room.students[0].1.view(room.now).owed.is_empty());
}

#[test]
fn a_long_message_is_shown_whole() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    let mut screen = room.student_screen(0, ScreenOptions::default());
    let long = Message::trouble(fifthpeg_lesson::message::Refusal::OctaveNeeded);
    screen.message = Some(long.clone());
    for (columns, rows) in [(60, 16), (80, 24), (200, 50)] {
        let text = student_text(&screen, columns, rows);
        let end = text[usize::from(rows) - 4..].join(" ");
        let squeezed: Vec<&str> = end.split_whitespace().collect();
        assert!(squeezed.join(" ").contains(&long.text), "{end}");
    }
}

#[test]
fn a_miss_fits_the_screen() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    room.student(0, StudentOrder::Answer(at("1/2")));
    let screen = room.student_screen(0, ScreenOptions::default());
    line_with(
        &student_text(&screen, 60, 16),
        "Your note is a little low: look higher.",
    );
    // The longest hint, from a lesson that gives hints.
    room.student(0, StudentOrder::Answer(at("4/0")));
    let screen = room.student_screen(0, ScreenOptions::default());
    line_with(
        &student_text(&screen, 60, 16),
        "Further off; far too low: look higher.",
    );
}

#[test]
fn a_lesson_that_tells_intervals_goes_on_telling_them() {
    let mut room = Room::of(&["Mette"]);
    room.host(HostOrder::Set(Setting::Telling(Telling::Interval)));
    room.call("1/4");
    room.student(0, StudentOrder::Answer(at("1/2")));
    let screen = room.student_screen(0, ScreenOptions::default());
    line_with(
        &student_text(&screen, 60, 16),
        "Not found yet: low by a whole tone.",
    );
    let wide = student_text(&screen, 80, 24);
    line_with(&wide, "low by a whole tone. Search on, then answer again.");
}

#[test]
fn leaving_asks_first() {
    for key in [Key::Char('q'), Key::Ctrl('c')] {
        let room = Room::of(&["Mette"]);
        let mut screen = room.student_screen(0, ScreenOptions::default());
        press(&mut screen, key);
        line_with(&student_text(&screen, 80, 24), "Leave the lesson?");
        assert_eq!(press(&mut screen, ENTER), None);
        press(&mut screen, key);
        press(&mut screen, Key::Code(KeyCode::Down));
        assert_eq!(press(&mut screen, ENTER), Some(StudentAction::Leave));
    }
}

#[test]
fn ctrl_c_twice_leaves() {
    let room = Room::of(&["Mette"]);
    let mut screen = room.student_screen(0, ScreenOptions::default());
    assert_eq!(press(&mut screen, Key::Ctrl('c')), None);
    assert_eq!(
        press(&mut screen, Key::Ctrl('c')),
        Some(StudentAction::Leave)
    );
}

#[test]
fn the_foot_offers_an_answer_only_to_an_open_call() {
    let mut room = Room::of(&["Mette"]);
    let mut screen = room.student_screen(0, ScreenOptions::default());
    let foot = |screen: &StudentState| student_text(screen, 80, 24)[23].clone();
    assert!(foot(&screen).starts_with("Wait for the next call"));
    assert!(!foot(&screen).contains("answer"));
    room.call("1/4");
    room.show_student(0, &mut screen);
    assert!(foot(&screen).starts_with("Space try  Enter answer"));
    room.host(HostOrder::Reveal);
    room.show_student(0, &mut screen);
    assert!(!foot(&screen).contains("answer") && foot(&screen).contains("hear again"));
}

#[test]
fn a_silent_terminal_says_so_all_the_time() {
    let room = Room::of(&["Mette"]);
    let silent = ScreenOptions {
        silence: Some("no sound here"),
        ..ScreenOptions::default()
    };
    let screen = room.student_screen(0, silent);
    assert!(student_text(&screen, 80, 24)[0].contains("no sound here"));
}
