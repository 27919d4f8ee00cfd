//! The student's screen when the lesson ends: the last reveal and the tally
//! stay in sight until the student closes it.

use crossterm::event::KeyCode;
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::message::Refusal;
use fifthpeg_lesson::terminal::StudentOrder;
use fifthpeg_student::Status;
use ratatui::layout::Rect;

use super::room::{Room, Screens as _, at, click, line_with, nowhere, press, student_text};
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::student::layers::{Layer, StudentAction};

/// A call missed, shown, and then the end of the lesson.
fn ended() -> (Room, crate::student::state::StudentState) {
    let mut room = Room::of(&["Mette"]);
    let mut screen = room.student_screen(0, ScreenOptions::default());
    room.call("1/4");
    room.student(0, StudentOrder::Answer(at("1/2")));
    room.host(HostOrder::Reveal);
    room.show_student(0, &mut screen);
    press(&mut screen, Key::Char('q'));
    room.host(HostOrder::End);
    room.show_student(0, &mut screen);
    screen.status = Status::Ended;
    (room, screen)
}

#[test]
fn the_last_reveal_and_the_tally_stay() {
    let (_, screen) = ended();
    assert!(!screen.is_nothing_left());
    let text = student_text(&screen, 80, 24);
    line_with(
        &text,
        "The lesson is over. It was F♯4: 1/4, 2/7, 3/11 and 4/16.",
    );
    line_with(&text, "ound 0 of 1");
    line_with(&text, "× 1/2 E4 low by a whole tone");
    assert!(line_with(&text, "1 D4").contains('●'));
    assert!(
        nowhere(&text, "Leave the lesson?"),
        "the question has gone with the lesson"
    );
    assert!(text[23].starts_with("q close the screen"));
}

#[test]
fn keys_meant_for_the_lesson_do_not_close_it() {
    let (_, mut screen) = ended();
    for key in [
        Key::Char(' '),
        Key::Code(KeyCode::Enter),
        Key::Char('h'),
        Key::Char('n'),
        Key::Code(KeyCode::Right),
    ] {
        assert_eq!(press(&mut screen, key), None);
        assert_eq!(screen.layer, Layer::Main);
    }
    let area = Rect::new(0, 0, 80, 24);
    for row in 0..24 {
        assert_eq!(screen.handle_mouse(&click(20, row), area), None);
    }
    for key in [Key::Char('q'), Key::Code(KeyCode::Esc), Key::Ctrl('c')] {
        assert_eq!(
            press(&mut screen.clone(), key),
            Some(StudentAction::Leave),
            "without a question"
        );
    }
}

#[test]
fn a_call_closed_unshown_tells_nothing_at_the_end() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    room.host(HostOrder::End);
    let screen = room.student_screen(0, ScreenOptions::default());
    let text = student_text(&screen, 80, 24);
    line_with(&text, "The lesson is over.");
    assert!(nowhere(&text, "F♯4"));
    line_with(&text, "found 0 of 1");
}

#[test]
fn who_left_or_was_not_let_in_has_nothing_to_read() {
    let mut screen = Room::of(&["Mette"]).student_screen(0, ScreenOptions::default());
    assert!(!screen.is_nothing_left());
    for status in [Status::Left, Status::Refused(Refusal::Full(3))] {
        screen.status = status;
        assert!(screen.is_nothing_left());
    }
}

#[test]
fn the_open_call_counts_in_the_tally_once_it_is_found_or_closed() {
    let mut room = Room::of(&["Mette", "Jonas"]);
    let mut screen = room.student_screen(0, ScreenOptions::default());
    let mut host = room.host_screen(ScreenOptions::default());
    let check = |room: &Room, screen: &mut _, host: &mut _, student: &str, rows: [&str; 2]| {
        room.show_student(0, screen);
        room.show_host(host);
        let text = student_text(screen, 80, 24);
        line_with(&text, &format!("ound {student} ("));
        let text = super::room::host_text(host, 80, 24);
        assert!(line_with(&text, "Mette").ends_with(rows[0]));
        assert!(line_with(&text, "Jonas").ends_with(rows[1]));
    };
    room.call("1/4");
    check(&room, &mut screen, &mut host, "0 of 0", ["0/0", "0/0"]);
    room.student(0, StudentOrder::Answer(at("1/2")));
    check(&room, &mut screen, &mut host, "0 of 0", ["0/0", "0/0"]);
    room.student(0, StudentOrder::Answer(at("1/4")));
    check(&room, &mut screen, &mut host, "1 of 1", ["1/1", "0/0"]);
    room.host(HostOrder::Close);
    check(&room, &mut screen, &mut host, "1 of 1", ["1/1", "0/1"]);
}
