//! What must hold of every screen at every size: nothing in colour when colour
//! is off, nothing beyond ASCII when asked, no panic at any size, and what
//! colour says is said by a sign or a word too.

use crossterm::event::KeyCode;
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::terminal::StudentOrder;
use ratatui::Frame;
use ratatui::buffer::Buffer;
use ratatui::style::Color;

use super::room::{
    Room, Screens as _, at, drawn, host_text, line_with, lines, press, press_host, student_text,
};
use crate::keys::Key;
use crate::options::{Colour, ScreenOptions};
use crate::{host, student};

type Draw = Box<dyn Fn(&mut Frame)>;

/// Screens of every kind, in the middle of a lesson.
fn screens(options: ScreenOptions, neck: &str) -> Vec<(String, Draw)> {
    let mut room = Room::on(neck, &["Mette", "Jonas", "Åse"], |_| {});
    let place = room.lesson.neck().positions()[7];
    room.call(&place.to_string());
    let other = room.lesson.neck().positions()[9].to_string();
    room.student(0, StudentOrder::Try(at(&other)));
    room.student(1, StudentOrder::Answer(at(&other)));
    room.student(2, StudentOrder::Answer(at(&place.to_string())));
    let mut out: Vec<(String, Draw)> = Vec::new();
    for revealed in [false, true] {
        if revealed {
            room.host(HostOrder::Reveal);
        }
        for key in ['-', 'c', 'e', 'm', 'd', 'q', '?', 'k', 'l'] {
            let mut state = room.host_screen(options);
            press_host(&mut state, Key::Char(key));
            let name = format!("host {key} {revealed}");
            out.push((name, Box::new(move |f| host::draw::draw(&state, f))));
        }
        let mut state = room.host_screen(options);
        press_host(&mut state, Key::Code(KeyCode::Tab));
        out.push((
            "answers".to_owned(),
            Box::new(move |f| host::draw::draw(&state, f)),
        ));
        for which in 0..3 {
            for key in ['-', 't', 'q', '?', 'l'] {
                let mut state = room.student_screen(which, options);
                press(&mut state, Key::Char(key));
                let name = format!("student {which} {key} {revealed}");
                out.push((name, Box::new(move |f| student::draw::draw(&state, f))));
            }
        }
    }
    out
}

fn coloured(buffer: &Buffer) -> bool {
    let plain = |cell: &ratatui::buffer::Cell| cell.fg == Color::Reset && cell.bg == Color::Reset;
    !buffer.content.iter().all(plain)
}

#[test]
fn without_colour_no_cell_has_one() {
    let options = ScreenOptions {
        colour: Colour::None,
        ..ScreenOptions::default()
    };
    for (columns, rows) in [(80, 24), (200, 50), (40, 10)] {
        for (name, draw) in screens(options, "banjo-open-g") {
            let buffer = drawn(columns, rows, |frame| draw(frame));
            assert!(!coloured(&buffer), "{name} at {columns} by {rows}");
        }
    }
}

#[test]
fn colours_are_of_the_sixteen_and_text_is_the_same_without() {
    let with = screens(ScreenOptions::default(), "banjo-open-g");
    let options = ScreenOptions {
        colour: Colour::None,
        ..ScreenOptions::default()
    };
    let without = screens(options, "banjo-open-g");
    let mut some = false;
    for ((name, a), (_, b)) in with.iter().zip(&without) {
        let a = drawn(80, 24, |frame| a(frame));
        let b = drawn(80, 24, |frame| b(frame));
        assert_eq!(lines(&a), lines(&b), "{name}");
        some |= coloured(&a);
        for cell in &a.content {
            let named = |c: Color| !matches!(c, Color::Rgb(..) | Color::Indexed(_));
            assert!(named(cell.fg) && named(cell.bg), "{name}");
        }
    }
    assert!(some, "nothing was in colour");
}

#[test]
fn ascii_screens_hold_nothing_else() {
    let options = ScreenOptions {
        ascii: true,
        ..ScreenOptions::default()
    };
    for (columns, rows) in [(80, 24), (200, 50)] {
        for (name, draw) in screens(options, "banjo-open-g") {
            for line in lines(&drawn(columns, rows, |frame| draw(frame))) {
                assert!(line.is_ascii(), "{name}: {line}");
            }
        }
    }
}

#[test]
fn every_size_and_neck_is_drawn_without_a_panic() {
    for neck in ["banjo-open-g", "guitar-twelve-string", "ukulele"] {
        let screens = screens(ScreenOptions::default(), neck);
        for (columns, rows) in [
            (1, 1),
            (2, 50),
            (400, 2),
            (59, 24),
            (60, 15),
            (60, 16),
            (79, 17),
            (139, 20),
            (140, 24),
            (300, 90),
        ] {
            for (_, draw) in &screens {
                drawn(columns, rows, |frame| draw(frame));
            }
        }
    }
}

#[test]
fn a_small_window_gets_a_clear_sentence() {
    for (name, draw) in screens(ScreenOptions::default(), "banjo-open-g") {
        let text = lines(&drawn(50, 12, |frame| draw(frame))).join(" ");
        assert!(text.contains("make it at least 60 by 16"), "{name}: {text}");
    }
}

#[test]
fn foot_and_message_are_the_last_rows_at_every_size() {
    let room = Room::of(&["Mette"]);
    for (columns, rows) in [(60, 16), (80, 24), (200, 50)] {
        let state = room.host_screen(ScreenOptions::default());
        let text = super::room::host_text(&state, columns, rows);
        assert!(text[usize::from(rows) - 1].starts_with("c call by hand"));
        assert!(text[usize::from(rows) - 1].contains("? help"));
        let state = room.student_screen(0, ScreenOptions::default());
        let text = super::room::student_text(&state, columns, rows);
        assert!(text[usize::from(rows) - 1].starts_with("Wait for the next call"));
        assert!(text[usize::from(rows) - 1].ends_with("? help"));
    }
}

/// What a tired eye would stumble on: half a word, half an address.
#[test]
fn on_the_smallest_screen_nothing_that_matters_is_cut() {
    let mut room = Room::of(&["Mette", "Jonas"]);
    let mut host = room.host_screen(ScreenOptions::default());
    host.joining = "To join: Thursday class (2), or by address: 192.168.178.123:47500 or \
                    [fd00::2]:47500"
        .to_owned();
    let mut host = host.with_door(crate::door::DoorShown::Open);
    room.call("2/2");
    room.student(1, StudentOrder::Answer(at("2/0")));
    room.show_host(&mut host);
    let text = host_text(&host, 60, 20);
    let joins = line_with(&text, "To join");
    assert_eq!(
        joins,
        "To join: Thursday class (2), or 192.168.178.123:47500"
    );
    let open = line_with(&text, "This lesson");
    assert_eq!(
        open,
        "This lesson is open: anyone on this network can join it"
    );
    assert!(
        line_with(&text, "Jonas").contains("2/0 2 semitones low"),
        "{text:#?}"
    );
    // Beside a column for sound there is less room yet.
    room.students[0]
        .1
        .handle_silent(fifthpeg_lesson::terminal::SoundId(1));
    room.settle();
    room.show_host(&mut host);
    let text = host_text(&host, 60, 20);
    assert!(
        line_with(&text, "Jonas").contains("2/0 low by 2"),
        "{text:#?}"
    );
    assert!(
        line_with(&text, "name ").contains("last answer "),
        "{text:#?}"
    );
    press_host(&mut host, Key::Char('?'));
    let text = host_text(&host, 60, 20);
    let ends = text
        .iter()
        .position(|line| line.contains("? shows all keys"));
    assert!(ends.is_some(), "{text:#?}");
    line_with(&text, "end the lesson (asks first)");
    press_host(&mut host, Key::Char('z'));
    host.say_no_page();
    let text = host_text(&host, 120, 40).join(" ");
    assert!(
        text.contains("listen in. There is no page for phones"),
        "{text}"
    );
    let options = ScreenOptions {
        silence: Some("no sound here"),
        ..ScreenOptions::default()
    };
    let jonas = room.student_screen(1, options);
    let text = student_text(&jonas, 60, 20);
    assert!(text[0].starts_with("Jonas  "), "{text:#?}");
    line_with(&text, "● found");
}
