//! Exact marking on the student's screen: a pitch is heard, its place is asked
//! for.

use crossterm::event::KeyCode;
use fifthpeg_lesson::marking::{Mark, Marking};
use fifthpeg_lesson::terminal::StudentOrder;
use ratatui::layout::Rect;

use super::room::{Room, Screens as _, click, line_with, nowhere, press, student_text, with_ear};
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::student::layers::StudentAction;
use crate::student::layout;
use crate::student::state::StudentState;

/// 2/7 is called and F♯4 plucked twice; which of its places, cannot be heard.
fn plucked() -> (Room, StudentState) {
    let mut room = Room::with(&["Mette"], |setup| {
        setup.rules.marking = Marking::ExactPlace;
    });
    room.plays(0, true);
    room.call("2/7");
    let mut screen = with_ear(room.student_screen(0, ScreenOptions::default()));
    room.plucks(0, 1, 66);
    room.rest(0.6);
    room.plucks(0, 2, 66);
    room.rest(0.5);
    room.show_student(0, &mut screen);
    (room, screen)
}

#[test]
fn the_cursor_goes_among_the_places_of_the_note_heard() {
    let (mut room, mut screen) = plucked();
    let text = student_text(&screen, 80, 24);
    line_with(
        &text,
        "Heard it: which place was it? Left and Right choose, Space answers.",
    );
    line_with(&text, "Heard F♯4");
    assert!(text[23].starts_with("Space it was here"), "{}", text[23]);
    assert!(room.lesson.view().students[0].answers.is_empty());
    line_with(&text, "Cursor: string 1, fret 4");
    for place in [
        "string 2, fret 7",
        "string 3, fret 11",
        "string 4, fret 16",
        "string 1, fret 4",
    ] {
        assert_eq!(press(&mut screen, Key::Code(KeyCode::Right)), None);
        line_with(&student_text(&screen, 80, 24), place);
    }
    press(&mut screen, Key::Code(KeyCode::Right));
    let action = press(&mut screen, Key::Char(' '));
    let wanted = StudentOrder::AnswerPlace("2/7".parse().expect("a place"));
    assert_eq!(action, Some(StudentAction::Order(wanted)));
    room.student_does(0, action);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    assert!(nowhere(&text, "which place"));
    line_with(&text, "● 2/7 F♯4 right");
    let answer = &room.lesson.view().students[0].answers[0];
    assert_eq!(answer.mark, Mark::Right);
    // The time is that of the second pluck, 1.66 s after the call was ordered
    // and 0.25 s less after it sounded; not that of the key.
    let response = answer.response.expect("known").as_secs_f64();
    assert!((response - 1.41).abs() < 0.1, "{response}");
}

#[test]
fn a_click_says_where_it_was() {
    let (_, mut screen) = plucked();
    let area = Rect::new(0, 0, 80, 24);
    let neck = layout::areas(&screen, area).neck;
    let picture = crate::student::draw::picture(&screen, &[]).expect("a neck");
    let grid = picture.grid(neck).expect("room");
    let place = "3/11".parse().expect("a place");
    let (x, y) = grid.place(place).expect("a cell");
    let action = screen.handle_mouse(&click(x, y), area);
    let wanted = StudentOrder::AnswerPlace(place);
    assert_eq!(action, Some(StudentAction::Order(wanted)));
}
