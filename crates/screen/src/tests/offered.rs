//! What a screen offers can be done, and nothing that matters is cut on a narrow one.

use std::sync::Arc;

use crossterm::event::KeyCode;
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::message::{Mode, Sounding};
use fifthpeg_lesson::terminal::{StudentOrder, Terminal};
use fifthpeg_student::Status;
use fifthpeg_vocab::{Rule, Setting};

use super::room::{
    Room, Screens as _, alone_in, at, host_text, invite, line_with, nowhere, press, press_host,
    student_text,
};
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::student::layers::{Layer, StudentAction};
use crate::student::state::StudentState;

const SIZES: [(u16, u16); 3] = [(60, 20), (80, 24), (120, 40)];
const ENTER: Key = Key::Code(KeyCode::Enter);

/// The words of a screen without the sides of boxes.
fn words(text: &[String]) -> String {
    let text = text.join(" ").replace(['│', '›'], " ");
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn before_a_lesson_is_joined_no_key_of_a_lesson_is_offered() {
    let room = Room::of(&["Mette"]);
    let view = Terminal::new().view(room.now);
    let lessons = ["Monday".to_owned(), "Thursday class".to_owned()];
    let status = Status::Several {
        lessons: lessons.into(),
    };
    let mut screen = StudentState::new(view.into(), status, ScreenOptions::default());
    press(&mut screen, ENTER);
    for (columns, rows) in SIZES {
        let text = student_text(&screen, columns, rows);
        assert!(
            words(&text).contains("(Monday, Thursday class)"),
            "{text:?}"
        );
        assert_eq!(text[usize::from(rows) - 1], "q leave  ? help");
    }
    for key in [' ', 'h', 't', 'l'] {
        assert_eq!(press(&mut screen, Key::Char(key)), None);
        assert_eq!(screen.layer, Layer::Main, "{key}");
    }
    press(&mut screen, Key::Char('?'));
    let text = student_text(&screen, 80, 24);
    line_with(&text, "leave the lesson");
    assert!(nowhere(&text, "hear the call again") && nowhere(&text, "arrows"));
}

#[test]
fn hearing_again_is_offered_while_there_is_something_to_hear() {
    let mut room = Room::of(&["Mette"]);
    let mut screen = room.student_screen(0, ScreenOptions::default());
    let offers = |screen: &StudentState| {
        let seen = SIZES.map(|(columns, rows)| {
            let text = student_text(screen, columns, rows);
            !nowhere(&text, "h hear again")
        });
        assert!(seen.iter().all(|one| *one == seen[0]));
        seen[0]
    };
    assert!(!offers(&screen));
    for (order, there) in [
        (HostOrder::CallAt(at("1/4")), true),
        (HostOrder::Reveal, true),
        (HostOrder::Close, false),
    ] {
        room.host(order);
        room.wait(1.0);
        room.show_student(0, &mut screen);
        assert_eq!(offers(&screen), there);
    }
}

#[test]
fn what_is_shown_already_is_not_offered_to_be_revealed() {
    let mut room = Room::with(&["Mette", "Jonas"], |setup| {
        setup.rules.mode = Mode::Friends;
    });
    room.student(0, StudentOrder::Pick(Some(at("2/1"))));
    room.wait(1.0);
    let mut mette = room.student_screen(0, ScreenOptions::default());
    line_with(&student_text(&mette, 60, 20), "r reveal");
    room.student(1, StudentOrder::Answer(at("2/1")));
    room.show_student(0, &mut mette);
    for (columns, rows) in SIZES {
        let text = student_text(&mette, columns, rows);
        line_with(&text, "It was C4");
        line_with(&text, "x close");
        assert!(nowhere(&text, "r reveal"), "{text:?}");
    }
}

#[test]
fn the_tally_counts_at_once_and_is_cut_nowhere() {
    let mut room = Room::of(&["Mette"]);
    let mut screen = room.student_screen(0, ScreenOptions::default());
    room.call("1/4");
    room.wait(1.0);
    room.show_student(0, &mut screen);
    press(&mut screen, Key::Code(KeyCode::Right));
    let action = press(&mut screen, Key::Char(' '));
    assert!(matches!(action, Some(StudentAction::Order(_))));
    room.student_does(0, action);
    let action = press(&mut screen, Key::Char('h'));
    room.student_does(0, action);
    room.show_student(0, &mut screen);
    // Nothing was answered, so the host has sent no tally yet.
    let narrow = "Found 0 of 0 (0 at first), 1 more hearing, 1 try.";
    line_with(&student_text(&screen, 60, 20), narrow);
    line_with(&student_text(&screen, 60, 20), "call 1: 1 again, 1 try");
    room.student(0, StudentOrder::Answer(at("1/4")));
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 60, 20);
    let tally = line_with(&text, "Found 1 of 1");
    assert!(tally.ends_with("1 more hearing"), "{tally}");
}

#[test]
fn choices_take_the_lines_they_need() {
    let room = Room::of(&["Mette"]);
    let pace = Rule::named("pace").expect("a rule");
    for (columns, rows) in SIZES {
        for chosen in 0..(pace.choices)().len() {
            let mut screen = room.host_screen(ScreenOptions::default());
            press_host(&mut screen, Key::Char('y'));
            for _ in 0..chosen {
                press_host(&mut screen, Key::Code(KeyCode::Down));
            }
            let text = host_text(&screen, columns, rows);
            for choice in (pace.choices)() {
                let line = format!("{}: {}", choice.word, choice.meaning);
                assert!(words(&text).contains(&line), "{line}\n{text:#?}");
            }
        }
    }
}

#[test]
fn that_the_lesson_goes_on_by_itself_stands_on_top() {
    let mut room = Room::of(&["Mette"]);
    let steady = Rule::named("pace").expect("a rule").choice("steady");
    for (setting, there) in [
        (steady.expect("a pace").setting, true),
        (Setting::Pace(None), false),
    ] {
        room.host(HostOrder::Set(setting));
        let screen = room.host_screen(ScreenOptions::default());
        for (columns, rows) in SIZES {
            let text = host_text(&screen, columns, rows);
            assert_eq!(text[0].ends_with("closed, at a pace"), there, "{}", text[0]);
        }
    }
}

#[test]
fn what_the_host_is_to_do_is_whole_on_a_narrow_screen() {
    let mut room = Room::of(&["Mette"]);
    let screen = room.host_screen(ScreenOptions::default());
    let text = host_text(&screen, 60, 20);
    assert_eq!(
        line_with(&text, "No call is open"),
        "No call is open: c calls a place by hand"
    );
    room.host(HostOrder::Set(Setting::Sounding(Sounding::HostSpeakers)));
    let silent = ScreenOptions {
        silence: Some("no sound here"),
        ..ScreenOptions::default()
    };
    let screen = room.host_screen(silent);
    for (columns, rows) in SIZES {
        line_with(
            &host_text(&screen, columns, rows),
            "This machine is silent: s chooses who sounds the notes.",
        );
    }
}

#[test]
fn the_reason_for_help_is_whole_beside_the_column_of_sound() {
    let mut room = Room::of(&["Mette", "Jonas"]);
    room.call("1/4");
    for _ in 0..10 {
        room.student(1, StudentOrder::Answer(at("4/0")));
    }
    let mut screen = room.host_screen(ScreenOptions::default());
    Arc::make_mut(&mut screen.view).students[0].no_sound = true;
    for ((columns, rows), reason) in
        SIZES
            .into_iter()
            .zip(["10 wrong ", "10 wrong, far off ", "10 wrong, far off"])
    {
        let text = host_text(&screen, columns, rows);
        let jonas = line_with(&text, "! Jonas");
        assert!(jonas.contains(reason) && !jonas.contains('…'), "{jonas}");
    }
}

#[test]
fn a_code_is_spoken_of_only_where_it_is_drawn() {
    let room = Room::of(&["Mette"]);
    let mut screen = room.host_screen(ScreenOptions::default());
    screen.show_joining(&invite());
    let text = host_text(&screen, 60, 20);
    line_with(
        &text,
        "With a phone, type (a larger window has a code to scan)",
    );
    line_with(
        &host_text(&screen, 80, 24),
        "With a phone: scan this, or type",
    );
}

#[test]
fn who_is_alone_without_sound_is_told_so_as_well() {
    let room = Room::with(&["Mia"], |setup| setup.alone = true);
    let silent = ScreenOptions {
        silence: Some("no sound here"),
        ..ScreenOptions::default()
    };
    let view = room.students[0].1.view(room.now);
    let screen =
        StudentState::new(view.into(), Status::Inside, silent).with_hosting(alone_in(&room));
    for (columns, rows) in SIZES {
        let text = student_text(&screen, columns, rows);
        line_with(&text, "This terminal makes no sound.");
        line_with(&text, "fifthpeg check");
        assert!(nowhere(&text, "The host sees"), "{text:?}");
    }
}
