//! Playing on an instrument, on the student's screen: before, keys, after.

use std::time::{Duration, Instant};

use crossterm::event::KeyCode;
use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::message::{Answer, Mode, Source};
use fifthpeg_lesson::terminal::{Doubt, HeardNote, StudentOrder};
use fifthpeg_student::ear::{EarState, EarStatus, LastHeard, RoomNews};

use super::room::{
    Room, Screens as _, at, line_with, listening, nowhere, press, student_text, with_ear,
};
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::student::layers::StudentAction;
use crate::student::state::StudentState;

const SPACE: Key = Key::Char(' ');
const ENTER: Key = Key::Code(KeyCode::Enter);
const PAGE_DOWN: Key = Key::Code(KeyCode::PageDown);
/// F♯4, as midi number.
const F_SHARP: u8 = 66;

/// A call of F♯4, whose first student plays.
fn called() -> (Room, StudentState) {
    let mut room = Room::of(&["Mette", "Jonas"]);
    room.plays(0, true);
    room.call("1/4");
    let screen = with_ear(room.student_screen(0, ScreenOptions::default()));
    (room, screen)
}

fn order(order: StudentOrder) -> Option<StudentAction> {
    Some(StudentAction::Order(order))
}

#[test]
fn a_note_plucked_twice_is_found_without_a_key() {
    let (mut room, mut screen) = called();
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Microphone: listening ■■■■■···");
    line_with(&text, "Space try  Enter answer");

    room.plucks(0, 1, F_SHARP);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Heard F♯4 once: pluck it again to answer");

    room.rest(0.5);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    // One's own pluck lies at each of its places.
    let tried = text.iter().filter(|l| l.contains('║') && l.contains('○'));
    assert_eq!(tried.count(), 4);
    line_with(&text, "0 again, 1 try");

    room.plucks(0, 2, F_SHARP);
    room.rest(0.5);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Found. Wait for the others.");
    line_with(&text, "● F♯4 right");
    assert!(nowhere(&text, "pluck it again"));
    let answer = &room.lesson.view().students[0].answers[0];
    assert_eq!(answer.source, Source::Instrument);
}

#[test]
fn before_the_reveal_a_pluck_tells_of_itself_alone() {
    let (mut room, mut screen) = called();
    room.plucks(0, 1, 60);
    room.rest(0.5);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 200, 50);
    line_with(&text, "Heard C4");
    assert!(nowhere(&text, "F♯4") && nowhere(&text, "3/11"));
    // Without names on the screen a pluck is its places.
    press(&mut screen, Key::Char('l'));
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Heard 2/1 = 3/5 = 4/10");
    assert!(nowhere(&text, "C4"));
}

#[test]
fn space_enter_and_a_foot_switch_answer_with_the_note_until_the_cursor_moves() {
    for key in [SPACE, ENTER, PAGE_DOWN] {
        let (mut room, mut screen) = called();
        room.plucks(0, 1, F_SHARP);
        room.show_student(0, &mut screen);
        let text = student_text(&screen, 80, 24);
        assert!(text[23].starts_with("Space answer with it"), "{}", text[23]);
        let action = press(&mut screen, key);
        assert_eq!(action, order(StudentOrder::AnswerHeard));
        room.student_does(0, action);
        room.rest(0.5);
        room.show_student(0, &mut screen);
        line_with(
            &student_text(&screen, 80, 24),
            "Found. Wait for the others.",
        );
    }
    for moves in [Key::Code(KeyCode::Right), Key::Code(KeyCode::Esc)] {
        let (mut room, mut screen) = called();
        room.plucks(0, 1, F_SHARP);
        room.show_student(0, &mut screen);
        assert_eq!(press(&mut screen, moves), None);
        let text = student_text(&screen, 80, 24);
        assert!(
            text[23].starts_with("Space try  Enter answer"),
            "{}",
            text[23]
        );
        let action = press(&mut screen, SPACE);
        assert!(matches!(
            action,
            Some(StudentAction::Order(StudentOrder::Try(Answer::Place(_))))
        ));
    }
}

#[test]
fn an_answer_gives_the_keys_back_to_the_cursor() {
    let (mut room, mut screen) = called();
    for id in [1, 2] {
        room.plucks(0, id, 60);
        room.show_student(0, &mut screen);
        room.rest(0.5);
        room.show_student(0, &mut screen);
    }
    let text = student_text(&screen, 80, 24);
    line_with(&text, "far too low: look higher.");
    assert!(
        text[23].starts_with("Space try  Enter answer"),
        "{}",
        text[23]
    );
    assert!(nowhere(&text, "Space answers"));
    // A third of the same has answered with the second.
    room.plucks(0, 3, 60);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    assert!(
        text[23].starts_with("Space try  Enter answer"),
        "{}",
        text[23]
    );
    room.plucks(0, 4, 62);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    assert!(text[23].starts_with("Space answer with it"), "{}", text[23]);
}

#[test]
fn a_note_that_does_not_count_is_shown_with_what_helps_and_then_with_a_key() {
    let (mut room, mut screen) = called();
    let mut pluck = |id, why, screen: &mut StudentState| {
        room.plucks_so(0, id, F_SHARP, HeardNote::MayNotAnswer { id, why });
        room.show_student(0, screen);
        student_text(screen, 80, 24)
    };
    let text = pluck(1, Doubt::Unsteady, &mut screen);
    line_with(&text, "Heard F♯4, not counted: let it ring");
    let text = pluck(2, Doubt::SeveralNotes, &mut screen);
    line_with(&text, "Heard F♯4, not counted: Space answers with it");
    let answered = press(&mut screen, SPACE);
    assert_eq!(answered, order(StudentOrder::AnswerHeard));
    // A voice that was taken for a note is nothing to speak of.
    let text = pluck(3, Doubt::NotAPluck, &mut screen);
    assert!(nowhere(&text, "not counted: pluck"));
}

#[test]
fn who_plucks_again_and_again_in_vain_is_shown_another_way() {
    let (room, mut screen) = called();
    room.show_student(0, &mut screen);
    let heard_at = Instant::now();
    screen.at = heard_at;
    for (in_a_row, shown) in [
        (1, "No clear note: not counted"),
        (2, "Not counted again: use the arrow keys"),
    ] {
        screen.set_ear(EarStatus {
            last: Some((
                LastHeard::Unsure(fifthpeg_core::Doubt::NoClearPitch),
                heard_at,
            )),
            unsure_in_a_row: in_a_row,
            ..listening()
        });
        line_with(&student_text(&screen, 80, 24), shown);
    }
}

#[test]
fn what_is_not_counted_is_told_gently_for_a_moment() {
    let (mut room, mut screen) = called();
    let why = Doubt::SeveralNotes;
    room.hears(0, HeardNote::Unsure { at: room.now, why });
    room.show_student(0, &mut screen);
    let heard_at = Instant::now();
    screen.at = heard_at;
    screen.set_ear(EarStatus {
        last: Some((
            LastHeard::Unsure(fifthpeg_core::Doubt::SeveralNotes),
            heard_at,
        )),
        ..listening()
    });
    line_with(
        &student_text(&screen, 80, 24),
        "Several strings at once: not counted",
    );
    screen.at = heard_at + Duration::from_secs(4);
    assert!(nowhere(&student_text(&screen, 80, 24), "not counted"));
}

#[test]
fn it_shows_when_nothing_is_listened_to() {
    let mut room = Room::of(&["Mette"]);
    room.plays(0, false);
    room.host(HostOrder::CallAt(at("1/4")));
    room.rest(0.5);
    let mut screen = with_ear(room.student_screen(0, ScreenOptions::default()));
    line_with(
        &student_text(&screen, 80, 24),
        "Microphone: not listening, the tone sounds",
    );
    // What sounds now may be the tone itself.
    room.plucks(0, 1, F_SHARP);
    room.rest(4.0);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Microphone: listening");
    line_with(&text, "0 again, 0 tries");
    assert!(nowhere(&text, "Heard"));

    screen.set_ear(EarStatus {
        state: EarState::Off,
        ..EarStatus::new(false)
    });
    line_with(
        &student_text(&screen, 80, 24),
        "Microphone: off (i turns it on)",
    );
    let why = "the microphone was unplugged: plug it in again";
    screen.set_ear(EarStatus {
        state: EarState::Lost(why.to_owned()),
        ..listening()
    });
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Microphone: the microphone was unplugged");
    line_with(&text, "The microphone was unplugged: plug it in again.");
}

#[test]
fn the_microphone_is_turned_off_and_on_and_the_room_measured() {
    let (_, mut screen) = called();
    let off = press(&mut screen, Key::Char('i'));
    assert_eq!(off, Some(StudentAction::Listen(false)));
    let quiet = press(&mut screen, Key::Char('o'));
    assert_eq!(quiet, Some(StudentAction::Calibrate));
    screen.set_ear(EarStatus {
        state: EarState::Calibrating(0.5),
        ..listening()
    });
    line_with(
        &student_text(&screen, 80, 24),
        "Microphone: measuring the room: quiet, please ■■■■····",
    );
    let measured = |number, trouble| EarStatus {
        room: Some(RoomNews {
            number,
            noise_db: -61.6,
            trouble,
        }),
        ..listening()
    };
    screen.set_ear(measured(1, None));
    line_with(
        &student_text(&screen, 80, 24),
        "The room is measured: its noise is 62 dB below the loudest.",
    );
    screen.set_ear(measured(2, Some("it is too loud: move nearer".to_owned())));
    line_with(
        &student_text(&screen, 80, 24),
        "It is too loud: move nearer.",
    );

    screen.set_ear(EarStatus::new(false));
    let on = press(&mut screen, Key::Char('i'));
    assert_eq!(on, Some(StudentAction::Listen(true)));
}

#[test]
fn without_a_microphone_nothing_is_shown_of_one_and_the_key_says_how() {
    let mut room = Room::of(&["Mette"]);
    room.call("1/4");
    let mut screen = room.student_screen(0, ScreenOptions::default());
    assert!(nowhere(&student_text(&screen, 80, 24), "Microphone"));
    assert_eq!(press(&mut screen, Key::Char('i')), None);
    let text = student_text(&screen, 80, 24);
    line_with(
        &text,
        "No microphone was asked for: start again with --microphone",
    );
}

#[test]
fn singing_is_invited_shown_and_answered_for() {
    let mut room = Room::with(&["Mette"], |setup| setup.rules.sing_first = true);
    room.plays(0, true);
    room.call("1/4");
    let mut screen = with_ear(room.student_screen(0, ScreenOptions::default()));
    line_with(
        &student_text(&screen, 80, 24),
        "Sing the note first, if you like. Then search, and answer.",
    );
    screen.set_ear(EarStatus {
        singing: Some((184.0, screen.at)),
        ..listening()
    });
    // F♯3 is 185.0 Hz.
    line_with(&student_text(&screen, 80, 24), "You sing F♯3 -9 cents");
    press(&mut screen, Key::Char('l'));
    line_with(&student_text(&screen, 80, 24), "You sing at 184 Hz");
    press(&mut screen, Key::Char('l'));

    room.hears(
        0,
        HeardNote::Sung {
            frequency_hz: 184.0,
            spread_cents: 20.0,
            at: room.now,
            lasted: Duration::from_millis(900),
        },
    );
    screen.set_ear(listening());
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Sung, an octave below, 9 cents low.");
    line_with(&text, "Search, then pluck the note twice to answer.");
    assert!(nowhere(&text, "F♯4"));

    let host = room.host_screen(ScreenOptions::default());
    let text = super::room::host_text(&host, 80, 24);
    line_with(&text, "sang");
    line_with(&text, "8vb -9c");
}

#[test]
fn on_the_turn_to_call_a_pluck_is_offered_and_a_key_calls_it() {
    let mut room = Room::with(&["Mette", "Jonas"], |setup| {
        setup.rules.mode = Mode::Friends;
        setup.rules.reach = "twelve".parse().expect("a reach");
    });
    room.plays(0, true);
    let mut screen = with_ear(room.student_screen(0, ScreenOptions::default()));
    room.plucks(0, 1, 84);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Heard C6: outside the reach");

    room.plucks(0, 2, 60);
    room.show_student(0, &mut screen);
    let text = student_text(&screen, 80, 24);
    line_with(&text, "Heard C4: Space calls it");
    assert!(text[23].starts_with("Space call it"), "{}", text[23]);
    // Nothing is called before the key.
    assert!(room.lesson.view().call.is_none());
    let action = press(&mut screen, SPACE);
    assert_eq!(action, order(StudentOrder::CallHeard));
    room.student_does(0, action);
    room.show_student(0, &mut screen);
    line_with(
        &student_text(&screen, 80, 24),
        "You called C4. The others search.",
    );
}

#[test]
fn everything_fits_with_a_microphone_on_the_smallest_screen_and_every_neck() {
    for neck in ["banjo-open-g", "guitar", "ukulele"] {
        let mut room = Room::on(neck, &["Mette"], |_| {});
        room.plays(0, true);
        room.call("1/3");
        room.plucks(0, 1, 60);
        for ascii in [false, true] {
            let options = ScreenOptions {
                ascii,
                ..ScreenOptions::default()
            };
            let screen = with_ear(room.student_screen(0, options));
            for (columns, rows) in [(60, 16), (80, 24), (200, 50)] {
                let text = student_text(&screen, columns, rows);
                let last = usize::from(rows) - 1;
                assert!(text[last].ends_with("? help"), "{neck}: {}", text[last]);
                line_with(&text, "Heard C4 once: pluck it again to answer");
                assert!(!ascii || text.iter().all(|line| line.is_ascii()));
            }
        }
    }
}
