//! The student's neck: as far as it is needed, and no place that nobody chose.

use crossterm::event::KeyCode;
use fifthpeg_core::ReachStep;
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::terminal::StudentOrder;

use super::room::{Room, Screens as _, at, line_with, nowhere, press, student_text};
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::student::layers::StudentAction;
use crate::student::state::StudentState;

const ENTER: Key = Key::Code(KeyCode::Enter);
const RIGHT: Key = Key::Code(KeyCode::Right);

/// The first two strings to fret 5, which are 12 places.
fn narrow() -> Room {
    Room::with(&["Mette"], |setup| {
        setup.rules.reach = "strings=1,2 frets=0-5".parse().expect("a reach");
    })
}

#[test]
fn the_reach_and_a_little_more_is_drawn_with_dots_and_names() {
    let mut room = narrow();
    room.call("1/4");
    room.student(0, StudentOrder::Try(at("1/2")));
    let screen = room.student_screen(0, ScreenOptions::default());
    for (columns, rows) in [(60, 20), (80, 24), (120, 40)] {
        let text = student_text(&screen, columns, rows);
        let ruler = text
            .iter()
            .find(|line| line.contains(" 3 ") && line.contains(" 5 "));
        let ruler = ruler.expect("the fret numbers");
        assert!(ruler.contains('7') && !ruler.contains('8'), "{ruler}");
        assert!(text.iter().any(|line| line.contains('•')), "{text:?}");
        line_with(&text, "○E");
    }
    // What is shown is shown whole.
    room.host(HostOrder::Reveal);
    let screen = room.student_screen(0, ScreenOptions::default());
    let text = student_text(&screen, 80, 24);
    let strings = text
        .iter()
        .filter(|line| line.contains('●') && line.contains('┼'));
    assert_eq!(strings.count(), 4);
}

#[test]
fn the_whole_neck_is_drawn_where_it_is_all_in_reach() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    let screen = room.student_screen(0, ScreenOptions::default());
    line_with(&student_text(&screen, 80, 24), "22");
}

#[test]
fn nothing_is_chosen_until_the_student_moves_whatever_the_note_is() {
    let mut shown = Vec::new();
    for place in ["1/0", "1/1", "1/4", "2/0", "2/3", "2/5"] {
        let mut room = narrow();
        room.call(place);
        let mut screen = room.student_screen(0, ScreenOptions::default());
        let text = student_text(&screen, 80, 24);
        line_with(&text, "No place yet: arrows start at 1/0 (string 1, open)");
        shown.push(text);
        assert_eq!(press(&mut screen, ENTER), None);
        line_with(&student_text(&screen, 80, 24), "Choose a place first");
        press(&mut screen, RIGHT);
        let answer = StudentAction::Order(StudentOrder::Answer(at("1/1")));
        assert_eq!(press(&mut screen, ENTER), Some(answer));
    }
    assert!(shown.windows(2).all(|two| two[0] == two[1]));
}

#[test]
fn a_place_that_was_tried_is_chosen_until_the_next_call() {
    let mut room = narrow();
    room.call("1/4");
    let mut screen = room.student_screen(0, ScreenOptions::default());
    let tried = press(&mut screen, Key::Char(' '));
    assert_eq!(
        tried,
        Some(StudentAction::Order(StudentOrder::Try(at("1/0"))))
    );
    let answer = StudentAction::Order(StudentOrder::Answer(at("1/0")));
    assert_eq!(press(&mut screen, ENTER), Some(answer));
    room.host(HostOrder::Close);
    room.call("2/1");
    room.show_student(0, &mut screen);
    assert_eq!(press(&mut screen, ENTER), None);
}

#[test]
fn after_a_reveal_the_count_has_the_call_just_shown() {
    let mut room = Room::with(&["Mette"], |setup| {
        setup.rules.reach = ReachStep::TwoOpen.into();
    });
    room.call("1/0");
    room.student(0, StudentOrder::Answer(at("2/0")));
    for closed in [false, true] {
        room.host(if closed {
            HostOrder::Close
        } else {
            HostOrder::Reveal
        });
        let screen = room.student_screen(0, ScreenOptions::default());
        let text = student_text(&screen, 80, 24);
        line_with(&text, "ound 0 of 1");
        assert!(nowhere(&text, "ound 0 of 0"));
    }
}

#[test]
fn a_terminal_without_sound_says_so_in_the_middle_with_what_to_try() {
    let mut room = narrow();
    let silent = ScreenOptions {
        silence: Some("no sound here"),
        ..ScreenOptions::default()
    };
    let view = room.students[0].1.view(room.now);
    let status = fifthpeg_student::Status::Finding { lesson: None };
    let at_first = StudentState::new(view.into(), status, silent);
    room.call("1/4");
    let mut later = room.student_screen(0, ScreenOptions::default());
    later.tell_no_sound("the sound device is gone");
    for (columns, rows) in [(60, 20), (80, 24), (120, 40)] {
        for screen in [&at_first, &later] {
            let text = student_text(screen, columns, rows);
            let at = text.iter().position(|line| line.contains("makes no sound"));
            let at = at.expect("it is said");
            assert!((2..usize::from(rows) - 2).contains(&at), "{text:?}");
            line_with(&text, "fifthpeg check");
        }
    }
    // A key goes on, and a line that is being typed is not taken away.
    press(&mut later, Key::Char('x'));
    assert!(nowhere(&student_text(&later, 80, 24), "Try this"));
    press(&mut later, Key::Char('t'));
    later.tell_no_sound("the sound device is gone");
    line_with(&student_text(&later, 80, 24), "Answer with a note name");
}
