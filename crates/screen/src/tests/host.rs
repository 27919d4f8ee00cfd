//! The host's screen in a lesson: before, keys, after.

use crossterm::event::KeyCode;
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::marking::{Marking, Telling};
use fifthpeg_lesson::message::{Sounding, Voice};
use fifthpeg_lesson::terminal::StudentOrder;
use fifthpeg_vocab::Setting;
use ratatui::layout::Rect;

use super::room::{
    Room, Screens as _, at, click, host_text, line_with, nowhere, press_host as press,
};
use crate::host::deeds::HostDeed;
use crate::host::layers::{HostAction, Layer};
use crate::host::layout;
use crate::host::state::HostState;
use crate::keys::{Key, PAGE_UP};
use crate::options::ScreenOptions;

fn three() -> Room {
    Room::of(&["Mette", "Jonas", "Åse"])
}

#[test]
fn nobody_yet_tells_how_to_join() {
    let room = Room::of(&[]);
    let text = host_text(&room.host_screen(ScreenOptions::default()), 80, 24);
    assert!(text[0].starts_with("Thursday class") && text[0].ends_with("0 here, 0 calls closed"));
    line_with(
        &text,
        "To join: Thursday class, or by address: 192.168.1.20:4750",
    );
    line_with(&text, "Nobody is here yet.");
    line_with(&text, "Students (0)");
}

#[test]
fn the_rules_stand_in_the_head() {
    let text = host_text(&three().host_screen(ScreenOptions::default()), 80, 24);
    line_with(&text, "Reach: the whole neck (110 places)");
    line_with(
        &text,
        "Right: same pitch. Sound: every terminal. A miss tells: hint. Voice: banjo.",
    );
    let wide = host_text(&three().host_screen(ScreenOptions::default()), 200, 50);
    line_with(&wide, "Right: same pitch, any place.");
}

#[test]
fn a_place_is_called_by_hand() {
    let mut room = three();
    let mut screen = room.host_screen(ScreenOptions::default());
    assert_eq!(press(&mut screen, Key::Char('c')), None);
    line_with(
        &host_text(&screen, 80, 24),
        "Call this place? string 1, open (D4)",
    );
    for _ in 0..4 {
        press(&mut screen, Key::Code(KeyCode::Right));
    }
    line_with(
        &host_text(&screen, 80, 24),
        "Call this place? string 1, fret 4 (F♯4)",
    );
    let action = press(&mut screen, Key::Code(KeyCode::Enter));
    assert_eq!(
        action,
        Some(HostAction::Host(HostDeed::Order(HostOrder::CallAt(at(
            "1/4"
        )))))
    );
    room.host_does(action);
    room.wait(65.25);
    room.show_host(&mut screen);
    let text = host_text(&screen, 80, 24);
    line_with(&text, "Call 1, open 1:05: 1/4 F♯4. 0 of 3 found it.");
    assert!(line_with(&text, "1 D4").contains("◆"));
    assert!(line_with(&text, "2 B3").contains("●"));
}

#[test]
fn escape_calls_nothing_and_the_cursor_is_remembered_after_a_call() {
    let room = three();
    let mut screen = room.host_screen(ScreenOptions::default());
    press(&mut screen, Key::Char('c'));
    assert_eq!(press(&mut screen, Key::Code(KeyCode::Esc)), None);
    assert_eq!(screen.layer, Layer::Main);
    press(&mut screen, Key::Char('c'));
    press(&mut screen, Key::Code(KeyCode::Down));
    press(&mut screen, Key::Code(KeyCode::Enter));
    press(&mut screen, Key::Char('c'));
    line_with(
        &host_text(&screen, 80, 24),
        "Call this place? string 2, open (B3)",
    );
}

#[test]
fn a_click_on_the_neck_begins_to_choose_that_place() {
    let room = three();
    for (columns, rows) in [(80, 24), (200, 50)] {
        let mut screen = room.host_screen(ScreenOptions::default());
        let area = Rect::new(0, 0, columns, rows);
        let neck = layout::areas(screen.shape(), area).neck;
        let picture = screen.picture(&[]);
        let grid = picture.grid(neck).expect("room");
        let (x, y) = grid
            .place("3/11".parse().expect("a place"))
            .expect("a cell");
        assert_eq!(screen.handle_mouse(&click(x, y), area), None);
        line_with(
            &host_text(&screen, columns, rows),
            "string 3, fret 11 (F♯4)",
        );
    }
}

#[test]
fn the_roster_says_who_is_how_far() {
    let mut room = three();
    room.call("1/4");
    room.student(0, StudentOrder::Try(at("2/5")));
    room.wait(1.5);
    room.student(0, StudentOrder::Answer(at("2/7")));
    room.student(1, StudentOrder::Hear);
    room.wait(1.0);
    room.student(1, StudentOrder::Answer(at("3/6")));
    let screen = room.host_screen(ScreenOptions::default());
    let text = host_text(&screen, 80, 24);
    let mette = line_with(&text, "Mette");
    assert!(mette.contains("● found"), "{mette}");
    assert!(mette.contains("2/7 F♯4 right"), "{mette}");
    assert!(mette.ends_with("1/1"), "{mette}");
    let jonas = line_with(&text, "Jonas");
    assert!(jonas.contains("looking   1 "), "{jonas}");
    assert!(jonas.contains("3/6 5 semitones low"), "{jonas}");
    assert!(line_with(&text, "Åse").contains("looking"));
    // Where there is room nothing is cut, and the time stands beside it.
    let text = host_text(&screen, 200, 50);
    line_with(&text, "3/6 C♯4 low by a perfect fourth");
    assert!(line_with(&text, "Mette").contains("2.25 ±0.08 s"));
    line_with(&text, "1 of 3 found it.");
}

#[test]
fn the_answers_come_in_the_order_of_the_roster_beside_the_roster_or_on_tab() {
    let mut room = three();
    room.call("1/4");
    room.student(1, StudentOrder::Answer(at("3/6")));
    room.wait(2.0);
    room.student(0, StudentOrder::Answer(at("2/7")));
    let mut screen = room.host_screen(ScreenOptions::default());
    let order = |text: &[String]| {
        let from = text.iter().position(|line| line.contains("Answers (2)"));
        let from = from.expect("the answers");
        let row = |name: &str| text[from..].iter().position(|line| line.contains(name));
        (row("3/6 C♯4 low by a perfect fourth"), row("2/7 F♯4 right"))
    };
    let wide = host_text(&screen, 200, 50);
    // Jonas was quicker; nobody is ranked by that.
    let (jonas, mette) = order(&wide);
    assert!(mette.expect("Mette") < jonas.expect("Jonas"));
    assert!(nowhere(&host_text(&screen, 80, 24), "Answers (2)"));
    press(&mut screen, Key::Code(KeyCode::Tab));
    let narrow = host_text(&screen, 80, 24);
    let (jonas, mette) = order(&narrow);
    assert!(mette.expect("Mette") < jonas.expect("Jonas"));
    assert!(line_with(&narrow, "2/7 F♯4 right").contains(" ±0.0"));
    assert!(nowhere(&narrow, "Students"));
}

#[test]
fn hiding_hides_everything_that_gives_the_note_away() {
    let mut room = three();
    room.call("1/4");
    room.student(0, StudentOrder::Try(at("2/6")));
    room.student(0, StudentOrder::Answer(at("2/7")));
    room.student(1, StudentOrder::Answer(at("3/6")));
    let mut screen = room.host_screen(ScreenOptions::default());
    press(&mut screen, Key::Char('k'));
    for (columns, rows) in [(80, 24), (200, 50)] {
        let text = host_text(&screen, columns, rows);
        line_with(&text, "hidden (k shows it)");
        for telling in ["F♯4", "1/4", "2/7", "3/6", "low by", "semitones", "◆"] {
            assert!(nowhere(&text, telling), "{telling} shows");
        }
        let neck_marks = text.iter().filter(|line| line.contains('║'));
        for line in neck_marks {
            assert!(!line.contains(['●', '○', '×']), "{line}");
        }
        assert!(line_with(&text, "Mette").contains("right"));
    }
    room.host(HostOrder::Reveal);
    room.show_host(&mut screen);
    line_with(
        &host_text(&screen, 80, 24),
        "It was F♯4: 1/4, 2/7, 3/11 and 4/16.",
    );
}

#[test]
fn a_screen_for_a_projector_begins_hidden() {
    let mut room = three();
    room.call("1/4");
    let screen = room.host_screen(ScreenOptions {
        hide_target_at_start: true,
        ..ScreenOptions::default()
    });
    let text = host_text(&screen, 80, 24);
    assert!(nowhere(&text, "F♯4") && nowhere(&text, "◆"));
}

#[test]
fn hear_again_reveal_and_close_go_to_the_lesson() {
    let mut room = three();
    room.call("3/2");
    let mut screen = room.host_screen(ScreenOptions::default());
    for (key, order) in [
        ('h', HostOrder::HearAgain),
        ('r', HostOrder::Reveal),
        ('x', HostOrder::Close),
        ('n', HostOrder::CallRandom),
    ] {
        let action = press(&mut screen, Key::Char(key));
        assert_eq!(action, Some(HostAction::Host(HostDeed::Order(order))));
        room.host_does(action);
        room.show_host(&mut screen);
    }
    line_with(&host_text(&screen, 80, 24), "Call 2, open 0:00");
}

#[test]
fn a_long_roster_scrolls_with_the_chosen_student() {
    let names: Vec<String> = (1..=30).map(|n| format!("Student{n:02}")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let room = Room::of(&names);
    let mut screen = room.host_screen(ScreenOptions::default());
    assert!(nowhere(&host_text(&screen, 80, 24), "Student30"));
    for _ in 0..40 {
        press(&mut screen, Key::Code(KeyCode::Down));
    }
    assert!(line_with(&host_text(&screen, 80, 24), "Student30").starts_with('›'));
    for _ in 0..40 {
        press(&mut screen, Key::Code(KeyCode::Up));
    }
    assert!(line_with(&host_text(&screen, 80, 24), "Student01").starts_with('›'));
    assert!(nowhere(&host_text(&screen, 80, 24), "Student30"));
    line_with(&host_text(&screen, 200, 60), "Student30");
}

#[test]
fn someone_away_is_marked() {
    let mut room = three();
    let (id, _) = room.students[1];
    room.lesson.handle_disconnect(id, room.now);
    let text = host_text(&room.host_screen(ScreenOptions::default()), 80, 24);
    assert!(line_with(&text, "Jonas").contains("- away"));
    line_with(&text, "2 here, 1 away");
}

#[test]
fn thirty_students_scroll_and_their_number_is_told() {
    let names: Vec<String> = (1..=30).map(|n| format!("Guest {n:02}")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let mut room = Room::of(&names);
    room.call("1/4");
    for which in 0..30 {
        room.student(which, StudentOrder::Answer(at("1/4")));
    }
    let mut screen = room.host_screen(ScreenOptions::default());
    let text = host_text(&screen, 80, 24);
    line_with(&text, "Students 1 to 8 of 30");
    line_with(&text, "Guest 08");
    assert!(nowhere(&text, "Guest 09"));
    for _ in 0..29 {
        press(&mut screen, Key::Code(KeyCode::Down));
    }
    let text = host_text(&screen, 80, 24);
    line_with(&text, "Students 23 to 30 of 30");
    line_with(&text, "Guest 30");
    assert!(nowhere(&text, "Guest 22"));
    for _ in 0..29 {
        press(&mut screen, Key::Code(KeyCode::Up));
    }
    line_with(&host_text(&screen, 80, 24), "Students 1 to 8 of 30");
    press(&mut screen, Key::Code(KeyCode::Tab));
    line_with(&host_text(&screen, 80, 24), "Answers 1 to 8 of 30");
}

#[test]
fn the_rules_fit_every_width() {
    let mut room = three();
    room.host(HostOrder::Set(Setting::Marking(Marking::ExactPlace)));
    room.host(HostOrder::Set(Setting::Sounding(Sounding::HostSpeakers)));
    room.host(HostOrder::Set(Setting::Telling(Telling::Interval)));
    room.host(HostOrder::Set(Setting::Voice(Voice::Guitar)));
    let screen = room.host_screen(ScreenOptions::default());
    let whole = "Right: exact place. Sound: host speakers. A miss tells: interval.";
    line_with(
        &host_text(&screen, 80, 24),
        &format!("{whole} Voice: guitar."),
    );
    let narrow = host_text(&screen, 70, 24);
    line_with(&narrow, whole);
    assert!(nowhere(&narrow, "Voice"));
}

#[test]
fn a_call_by_hand_is_typed_unseen_while_the_target_is_hidden() {
    let room = three();
    let mut screen = room.host_screen(ScreenOptions {
        hide_target_at_start: true,
        ..ScreenOptions::default()
    });
    let typed = |screen: &mut HostState, text: &str| {
        for letter in text.chars() {
            press(screen, Key::Char(letter));
        }
    };
    press(&mut screen, Key::Char('c'));
    typed(&mut screen, "9/7");
    assert_eq!(press(&mut screen, Key::Code(KeyCode::Enter)), None);
    let text = host_text(&screen, 80, 24);
    line_with(&text, "that is no place of this neck");
    line_with(&text, "> ***");
    press(&mut screen, Key::Ctrl('u'));
    typed(&mut screen, "2/7");
    let text = host_text(&screen, 80, 24);
    for telling in ["2/7", "Call this place", "(F♯4)", "string 2"] {
        assert!(nowhere(&text, telling), "{telling} shows");
    }
    let action = press(&mut screen, Key::Code(KeyCode::Enter));
    let wanted = HostOrder::CallAt(at("2/7"));
    assert_eq!(action, Some(HostAction::Host(HostDeed::Order(wanted))));
    // Nor does a click show a place.
    let before = screen.layer.clone();
    for row in 0..24 {
        screen.handle_mouse(&click(40, row), Rect::new(0, 0, 80, 24));
    }
    assert_eq!(screen.layer, before);
}

#[test]
fn a_silent_host_says_so_and_one_that_sounds_begins_with_the_caution() {
    let room = three();
    let silent = ScreenOptions {
        silence: Some("no sound here"),
        ..ScreenOptions::default()
    };
    let view = || room.lesson.view().into();
    let screen = HostState::new(view(), String::new(), silent).expect("a screen");
    let text = host_text(&screen, 80, 24);
    line_with(&text, "no sound here");
    assert!(nowhere(&text, "Mind your ears"));
    let options = ScreenOptions::default();
    let mut screen = HostState::new(view(), String::new(), options).expect("a screen");
    line_with(&host_text(&screen, 80, 24), "Mind your ears");
    assert_eq!(press(&mut screen, Key::Char('n')), None);
    assert!(nowhere(&host_text(&screen, 80, 24), "Mind your ears"));
}

/// Who holds an instrument has a foot for it: the other side of the switch.
#[test]
fn page_up_sounds_the_call_again() {
    let mut room = Room::of(&["Mette"]);
    room.call("3/4");
    let mut screen = room.host_screen(ScreenOptions::default());
    let again = Some(HostAction::Host(HostDeed::Order(HostOrder::HearAgain)));
    assert_eq!(press(&mut screen, PAGE_UP), again);
    assert_eq!(press(&mut screen, Key::Char('h')), again);
}
