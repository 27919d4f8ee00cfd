//! Two friends who take turns to call, on the same screen as students have.

use crossterm::event::KeyCode;
use fifthpeg_lesson::message::Mode;
use fifthpeg_lesson::terminal::StudentOrder;

use super::room::{Room, Screens as _, at, line_with, nowhere, press, student_text};
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::student::layers::StudentAction;

fn friends() -> Room {
    Room::with(&["Mette", "Jonas"], |setup| {
        setup.rules.mode = Mode::Friends;
    })
}

#[test]
fn the_friend_whose_turn_it_is_calls_and_sees_the_others() {
    let mut room = friends();
    let mut mette = room.student_screen(0, ScreenOptions::default());
    let mut jonas = room.student_screen(1, ScreenOptions::default());
    let text = student_text(&mette, 80, 24);
    line_with(&text, "Your turn to call: Enter calls a place, n any note.");
    line_with(&text, "Enter call it");
    line_with(&student_text(&jonas, 80, 24), "Listen: Mette calls next.");

    press(&mut mette, Key::Code(KeyCode::Right));
    let action = press(&mut mette, Key::Code(KeyCode::Enter));
    let wanted = StudentOrder::Pick(Some(at("1/1")));
    assert_eq!(action, Some(StudentAction::Order(wanted)));
    room.student_does(0, action);
    room.wait(1.0);
    room.show_student(0, &mut mette);
    room.show_student(1, &mut jonas);
    let text = student_text(&mette, 80, 24);
    line_with(&text, "You called D♯4 at 1/1. The others search.");
    line_with(&text, "The others, call 1");
    assert!(text[23].starts_with("h hear again  r reveal  x close"));
    line_with(&text, "· Jonas: silent");
    line_with(&student_text(&jonas, 80, 24), "Search, then answer.");

    room.student(1, StudentOrder::Answer(at("2/4")));
    room.show_student(0, &mut mette);
    let text = student_text(&mette, 80, 24);
    line_with(&text, "● Jonas: found");
    line_with(&text, "It was D♯4: 1/1, 2/4, 3/8 and 4/13.");

    for (key, order) in [
        ('h', StudentOrder::CallerHearAgain),
        ('x', StudentOrder::CallerClose),
    ] {
        let action = press(&mut mette, Key::Char(key));
        assert_eq!(action, Some(StudentAction::Order(order)));
        room.student_does(0, action);
        room.show_student(0, &mut mette);
    }
    room.show_student(1, &mut jonas);
    line_with(&student_text(&jonas, 80, 24), "Your turn to call");
    line_with(&student_text(&mette, 80, 24), "Listen: Jonas calls next.");
}

#[test]
fn the_caller_reveals_before_everyone_has_found_it() {
    let mut room = friends();
    room.student(0, StudentOrder::Pick(Some(at("2/1"))));
    room.wait(1.0);
    let mut mette = room.student_screen(0, ScreenOptions::default());
    let mut jonas = room.student_screen(1, ScreenOptions::default());
    room.student(1, StudentOrder::Answer(at("2/3")));
    room.show_student(0, &mut mette);
    line_with(&student_text(&mette, 80, 24), "× Jonas: not yet");
    let action = press(&mut mette, Key::Char('r'));
    assert_eq!(
        action,
        Some(StudentAction::Order(StudentOrder::CallerReveal))
    );
    room.student_does(0, action);
    room.show_student(1, &mut jonas);
    line_with(
        &student_text(&jonas, 80, 24),
        "It was C4: 2/1, 3/5 and 4/10. Your turn to call.",
    );
    room.show_student(0, &mut mette);
    line_with(
        &student_text(&mette, 80, 24),
        "It was C4: 2/1, 3/5 and 4/10. Jonas calls next.",
    );
}

#[test]
fn any_note_may_be_left_to_chance() {
    let mut room = friends();
    let mut mette = room.student_screen(0, ScreenOptions::default());
    let action = press(&mut mette, Key::Char('n'));
    assert_eq!(action, Some(StudentAction::Order(StudentOrder::Pick(None))));
    room.student_does(0, action);
    room.show_student(0, &mut mette);
    line_with(&student_text(&mette, 80, 24), "You called ");
}

#[test]
fn a_friend_who_does_not_call_has_the_keys_of_a_student() {
    let room = friends();
    let mut jonas = room.student_screen(1, ScreenOptions::default());
    press(&mut jonas, Key::Char('t'));
    line_with(&student_text(&jonas, 80, 24), "Answer with a note name");
}

#[test]
fn the_caller_sees_what_was_called_and_nobody_else_does() {
    let mut room = friends();
    room.student(0, StudentOrder::Pick(Some(at("2/1"))));
    let mette = room.student_screen(0, ScreenOptions::default());
    let jonas = room.student_screen(1, ScreenOptions::default());
    for (columns, rows) in [(80, 24), (200, 50)] {
        let text = student_text(&mette, columns, rows);
        line_with(&text, "You called C4 at 2/1. The others search.");
        assert!(line_with(&text, "2 B3").contains('◆'), "the place picked");
        for string in ["3 G3", "4 D3"] {
            assert!(line_with(&text, string).contains('●'), "another place");
        }
        let text = student_text(&jonas, columns, rows);
        assert!(nowhere(&text, "C4 at") && nowhere(&text, "◆"));
        for string in ["2 B3", "3 G3", "4 D3"] {
            assert!(!line_with(&text, string).contains('●'));
        }
    }
    let quiet = ScreenOptions {
        names: false,
        ..ScreenOptions::default()
    };
    let text = student_text(&room.student_screen(0, quiet), 80, 24);
    line_with(&text, "You called 2/1. The others search.");
    assert!(nowhere(&text, "C4"));
}

#[test]
fn the_caller_sees_what_chance_picked() {
    let mut room = friends();
    room.student(0, StudentOrder::Pick(None));
    let mette = room.student_screen(0, ScreenOptions::default());
    let call = mette.view.call.as_ref().expect("a call");
    let (pitch, _) = call.target.expect("told to the caller");
    assert_eq!(Some(pitch), room.lesson.view().call.map(|call| call.pitch));
    let text = student_text(&mette, 80, 24);
    let name = mette.writing().pitch(pitch);
    line_with(&text, &format!("You called {name}"));
    let marked = text
        .iter()
        .any(|line| line.contains('║') && (line.contains('●') || line.contains('◆')));
    assert!(marked);
}
