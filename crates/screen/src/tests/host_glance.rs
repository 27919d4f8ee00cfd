//! How each student fares on the host's screen, who needs help, how notes are
//! picked, and what is suggested for the reach.

use crossterm::event::KeyCode;
use fifthpeg_core::ReachStep;
use fifthpeg_lesson::message::Answer;
use fifthpeg_lesson::terminal::StudentOrder;
use fifthpeg_lesson::{HostOrder, Picking};
use fifthpeg_vocab::Setting;

use super::room::{Room, Screens as _, at, host_text, line_with, nowhere, press_host as press};
use crate::host::deeds::HostDeed;
use crate::host::layers::HostAction;
use crate::keys::Key;
use crate::options::ScreenOptions;

const DOWN: Key = Key::Code(KeyCode::Down);
const ENTER: Key = Key::Code(KeyCode::Enter);

/// Mette finds, Jonas is a whole tone off, and nothing comes from Åse.
fn four_calls(room: &mut Room) {
    for _ in 0..4 {
        room.call("1/4");
        room.student(0, StudentOrder::Answer(at("1/4")));
        room.student(1, StudentOrder::Answer(at("1/2")));
        room.host(HostOrder::Close);
    }
}

fn row(text: &[String], name: &str) -> usize {
    // Below the heading, which may name them too.
    let heading = text.iter().position(|line| line.contains("Students ("));
    let heading = heading.expect("the roster");
    let row = text[heading + 1..]
        .iter()
        .position(|line| line.contains(name));
    row.expect(name)
}

#[test]
fn who_needs_help_stands_first_in_words_and_with_a_sign() {
    let mut room = Room::of(&["Mette", "Jonas", "Åse"]);
    let mut screen = room.host_screen(ScreenOptions::default());
    let text = host_text(&screen, 80, 24);
    assert!(row(&text, "Mette") < row(&text, "Jonas"));
    assert!(nowhere(&text, "need"));
    press(&mut screen, DOWN);
    four_calls(&mut room);
    room.show_host(&mut screen);
    let text = host_text(&screen, 80, 24);
    line_with(&text, "Students (3): 2 need help");
    // The reason stands in the row, where the last answer of the others is.
    line_with(&text, "silent 4 calls");
    line_with(&text, "missed 4 of 4, whole tones");
    line_with(&text, "1/4 F♯4 right");
    assert!(row(&text, "! Åse") < row(&text, "! Jonas"));
    assert!(row(&text, "! Jonas") < row(&text, "  Mette"));
    // The chosen student stays chosen, whatever row that is now.
    let chosen: Vec<&String> = text.iter().filter(|line| line.starts_with('›')).collect();
    assert_eq!(chosen.len(), 1);
    assert!(chosen[0].contains("Jonas"), "{chosen:?}");
    // The last line is still that of the keys.
    assert!(text[23].contains("help"), "{}", text[23]);

    let roomy = host_text(&screen, 120, 40);
    assert!(line_with(&roomy, "Åse").ends_with("silent 4 calls"));
    assert!(line_with(&roomy, "Mette").ends_with("steady"));
}

#[test]
fn a_long_search_in_the_open_call_is_told() {
    let mut room = Room::of(&["Mette", "Jonas"]);
    room.call("1/4");
    room.student(0, StudentOrder::Try(at("2/5")));
    room.student(1, StudentOrder::Answer(at("1/4")));
    room.wait(50.0);
    let text = host_text(&room.host_screen(ScreenOptions::default()), 80, 24);
    let mette = line_with(&text, "! Mette");
    assert!(mette.contains("stuck") && mette.contains("searching 50 s, 1 try"));
    assert!(nowhere(&text, "! Jonas"));
}

#[test]
fn wrong_answers_are_counted_and_graded_and_stay_until_the_next_call() {
    let mut room = Room::of(&["Mette", "Jonas", "Åse"]);
    room.call("1/4");
    for _ in 0..10 {
        room.student(1, StudentOrder::Answer(at("4/0")));
    }
    for _ in 0..3 {
        room.student(2, StudentOrder::Answer(at("1/2")));
    }
    let mut screen = room.host_screen(ScreenOptions::default());
    for shown in [false, true] {
        if shown {
            room.host(HostOrder::Reveal);
            room.show_host(&mut screen);
        }
        for (columns, rows) in [(60, 20), (80, 24), (120, 40)] {
            let text = host_text(&screen, columns, rows);
            line_with(&text, "2 need help");
            let jonas = line_with(&text, "! Jonas");
            assert!(jonas.contains("× far off   10"), "{jonas}");
            let reason = if columns < 80 {
                "10 wrong"
            } else {
                "10 wrong, far off"
            };
            assert!(jonas.contains(reason), "{jonas}");
            assert!(line_with(&text, "! Åse").contains("○ stuck     3"));
            assert!(row(&text, "! Jonas") < row(&text, "! Åse"));
            assert!(row(&text, "! Åse") < row(&text, "Mette"));
        }
    }
    room.call("1/4");
    room.show_host(&mut screen);
    assert!(nowhere(&host_text(&screen, 80, 24), "10 wrong"));
}

#[test]
fn when_all_are_stuck_it_is_said_once_with_what_helps() {
    let mut room = Room::of(&["Mette", "Jonas"]);
    room.call("1/4");
    let mut screen = room.host_screen(ScreenOptions::default());
    screen.mind_stuck();
    assert_eq!(screen.message, None);
    room.student(0, StudentOrder::Try(at("2/5")));
    room.wait(50.0);
    room.show_host(&mut screen);
    screen.mind_stuck();
    line_with(
        &host_text(&screen, 80, 24),
        "Everyone is stuck: sound it again (h), sing it",
    );
    screen.message = None;
    screen.mind_stuck();
    assert_eq!(screen.message, None);
    room.student(1, StudentOrder::Answer(at("1/4")));
    room.host(HostOrder::Close);
    room.call("2/1");
    room.student(0, StudentOrder::Answer(at("2/1")));
    room.wait(50.0);
    room.show_host(&mut screen);
    screen.mind_stuck();
    assert_eq!(screen.message, None);
}

#[test]
fn more_than_there_is_room_for_are_counted() {
    let names: Vec<String> = (1..=30).map(|n| format!("Student{n:02}")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let mut room = Room::of(&names);
    for _ in 0..3 {
        room.call("1/4");
        room.host(HostOrder::Close);
    }
    let text = host_text(&room.host_screen(ScreenOptions::default()), 80, 24);
    let heading = line_with(&text, "Students 1 to 8 of 30");
    assert!(heading.contains(": 30 need help"), "{heading}");
}

#[test]
fn on_a_screen_that_students_see_nobody_is_pointed_at() {
    let mut room = Room::of(&["Mette", "Jonas", "Åse"]);
    four_calls(&mut room);
    let mut screen = room.host_screen(ScreenOptions::default());
    press(&mut screen, Key::Char('k'));
    for (columns, rows) in [(80, 24), (120, 40), (200, 50)] {
        let text = host_text(&screen, columns, rows);
        assert!(nowhere(&text, "need help"));
        assert!(nowhere(&text, "! "));
        assert!(nowhere(&text, "steady"));
        assert!(row(&text, "Mette") < row(&text, "Åse"));
    }
}

#[test]
fn how_notes_are_picked_is_chosen_from_a_list() {
    let mut room = Room::of(&["Mette"]);
    let mut screen = room.host_screen(ScreenOptions::default());
    assert!(nowhere(&host_text(&screen, 80, 24), "picked to teach"));
    press(&mut screen, Key::Char('a'));
    line_with(&host_text(&screen, 80, 24), "› random: plainly at random");
    press(&mut screen, DOWN);
    let action = press(&mut screen, ENTER);
    let wanted = HostOrder::Set(Setting::Picking(Picking::Teaching));
    assert_eq!(action, Some(HostAction::Host(HostDeed::Order(wanted))));
    room.host_does(action);
    room.show_host(&mut screen);
    line_with(
        &host_text(&screen, 80, 24),
        "Reach: the whole neck (110 places), picked to teach",
    );
}

#[test]
fn a_suggestion_stands_in_one_line_between_calls_and_the_list_begins_at_it() {
    let mut room = Room::with(&["Mette", "Jonas"], |setup| {
        setup.rules.reach = ReachStep::TwoOpen.into();
    });
    for _ in 0..15 {
        room.host(HostOrder::CallRandom);
        room.wait(2.0);
        let pitch = room.lesson.view().call.expect("a call").pitch;
        for which in 0..2 {
            room.student(which, StudentOrder::Answer(Answer::Pitch(pitch)));
        }
        room.host(HostOrder::Reveal);
    }
    let mut screen = room.host_screen(ScreenOptions::default());
    let text = host_text(&screen, 80, 24);
    assert_eq!(
        text[22].trim(),
        "Found 30 of 30: try all strings open. Key: e."
    );
    assert!(row(&text, "Mette") < row(&text, "Jonas"));
    let whole = "Found 30 of the last 30 in this reach, most at first hearing: \
                 try all strings open. Key: e.";
    line_with(&host_text(&screen, 120, 40), whole);
    press(&mut screen, Key::Char('e'));
    let text = host_text(&screen, 80, 24);
    line_with(&text, "› all strings open (suggested)");
    line_with(&text, "first and second string open (now)");
    // The teacher decides: only taking the line orders it.
    let action = press(&mut screen, ENTER);
    let wanted = HostOrder::Set(Setting::Reach(ReachStep::AllOpen.into()));
    assert_eq!(action, Some(HostAction::Host(HostDeed::Order(wanted))));
    room.host(HostOrder::CallRandom);
    room.show_host(&mut screen);
    assert!(nowhere(&host_text(&screen, 80, 24), "Key: e"));
}
