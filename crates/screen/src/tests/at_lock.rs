//! The lock on the screens: asked for a passphrase, warned of another key, and
//! told all the time who gets in.

use crossterm::event::KeyCode;
use fifthpeg_lock::{Fingerprint, Passphrase};
use fifthpeg_student::{KeyTalk, Status, Wanted};

use super::room::{
    Room, Screens as _, host_text, line_with, nowhere, press, press_host, student_text,
};
use crate::door::DoorShown;
use crate::keys::Key;
use crate::options::ScreenOptions;
use crate::student::layers::{Layer, LockLayer, StudentAction};
use crate::student::state::StudentState;

const ENTER: Key = Key::Code(KeyCode::Enter);
const DOWN: Key = Key::Code(KeyCode::Down);
const ESCAPE: Key = Key::Code(KeyCode::Esc);

fn newcomer() -> StudentState {
    let room = Room::of(&["Mette"]);
    let view = fifthpeg_lesson::terminal::Terminal::new().view(room.now);
    let connecting = Status::Connecting {
        addresses: Vec::new(),
    };
    StudentState::new(view.into(), connecting, ScreenOptions::default())
}

fn now(state: &mut StudentState, status: Status) {
    state.status = status;
    state.tell_status();
}

fn wanted(wanted: Wanted) -> Status {
    Status::PassphraseWanted {
        lesson: "Thursday class".to_owned(),
        wanted,
    }
}

fn type_words(state: &mut StudentState, words: &str) -> Option<StudentAction> {
    for letter in words.chars() {
        press(state, Key::Char(letter));
    }
    press(state, ENTER)
}

#[test]
fn the_passphrase_is_asked_for_once_the_caution_is_read() {
    let mut state = newcomer();
    now(&mut state, wanted(Wanted::First));
    assert_eq!(state.layer, Layer::Caution);
    press(&mut state, ENTER);
    for (columns, rows) in [(80, 24), (60, 16), (200, 50)] {
        let text = student_text(&state, columns, rows);
        line_with(&text, "The lesson's passphrase");
        line_with(&text, "\"Thursday class\" is locked");
    }
    // What can be no passphrase stays to be mended.
    assert_eq!(type_words(&mut state, " - "), None);
    line_with(&student_text(&state, 80, 24), "has letters or digits in it");
    let typed = type_words(&mut state, "acorn river");
    let words = Passphrase::typed("Acorn-River").unwrap();
    assert_eq!(typed, Some(StudentAction::Passphrase(words)));
    assert_eq!(state.layer, Layer::Main);
    // A wrong one is said so, above a line to type it again.
    now(&mut state, wanted(Wanted::Wrong));
    let text = student_text(&state, 80, 24);
    line_with(&text, "That is not the passphrase");
    assert!(nowhere(&text, "Trying the passphrase"));
    // Twice, and it may be somebody in between: what there is to compare.
    let key = Fingerprint(core::array::from_fn(|at| u8::try_from(at).unwrap()));
    now(&mut state, wanted(Wanted::WrongAgain(key)));
    for (columns, rows) in [(80, 24), (60, 16), (200, 50)] {
        let text = student_text(&state, columns, rows);
        line_with(&text, "0001-0203-0405-0607");
        line_with(&text, "Enter takes it");
    }
    // Leaving is asked about, and staying comes back to the line.
    press(&mut state, ESCAPE);
    line_with(&student_text(&state, 80, 24), "Leave the lesson?");
    press(&mut state, ENTER);
    assert!(matches!(state.layer, Layer::Lock(LockLayer::Passphrase(_))));
}

#[test]
fn a_changed_key_goes_on_only_with_an_explicit_yes() {
    let changed = || Status::KeyChanged {
        lesson: "Thursday class".to_owned(),
        now: "4f76-e99b-29e6-db55".to_owned(),
        before: "a9dc-ad37-03b2-d2a6".to_owned(),
    };
    let mut state = newcomer();
    press(&mut state, ENTER);
    now(&mut state, changed());
    let text = student_text(&state, 80, 24);
    line_with(&text, "4f76-e99b-29e6-db55");
    line_with(&text, "The host's key has changed. Go on?");
    // Enter alone is no yes.
    assert_eq!(press(&mut state, ENTER), None);
    line_with(&student_text(&state, 80, 24), "Leave the lesson?");
    press(&mut state, ESCAPE);
    press(&mut state, DOWN);
    assert_eq!(press(&mut state, ENTER), Some(StudentAction::NewKey));
}

#[test]
fn every_screen_says_who_gets_in() {
    let room = Room::of(&["Mette"]);
    for (columns, rows) in [(80, 24), (60, 16), (200, 50)] {
        let open = room.host_screen(ScreenOptions::default());
        let open = open.with_door(DoorShown::Open);
        line_with(&host_text(&open, columns, rows), "This lesson is open");
        let words = DoorShown::Passphrase {
            words: "acorn river candle tiger".to_owned(),
            key: "4f76-e99b-29e6-db55".to_owned(),
        };
        let mut locked = room.host_screen(ScreenOptions::default()).with_door(words);
        let text = host_text(&locked, columns, rows);
        line_with(&text, "Passphrase: acorn river candle tiger");
        press_host(&mut locked, Key::Char('j'));
        let said = locked.message.expect("how to join").text;
        assert!(said.contains("acorn river candle tiger"), "{said}");
        assert!(said.contains("192.168.1.20:4750"), "{said}");
        assert!(
            said.contains("This host's key: 4f76-e99b-29e6-db55"),
            "{said}"
        );

        let mut student = room.student_screen(0, ScreenOptions::default());
        line_with(&student_text(&student, columns, rows), "locked");
        student.status = Status::In {
            address: ([192, 168, 1, 20], 4750).into(),
            locked: false,
        };
        line_with(
            &student_text(&student, columns, rows),
            "open, not encrypted",
        );
    }
}

#[test]
fn who_comes_in_by_a_class_key_is_asked_and_may_be_somebody_else() {
    let came = || KeyTalk::CameIn {
        name: "Mette".to_owned(),
    };
    let mut state = newcomer();
    state.set_key_talk(came());
    assert_eq!(state.layer, Layer::Caution);
    press(&mut state, ENTER);
    for (columns, rows) in [(80, 24), (60, 16), (200, 50)] {
        let text = student_text(&state, columns, rows);
        line_with(&text, "You come in as Mette; not you?");
        line_with(&text, "not me: come in as somebody else");
    }
    // Enter alone goes on as who the key says.
    assert_eq!(press(&mut state, ENTER), None);
    assert_eq!(state.layer, Layer::Main);
    state.set_key_talk(came());
    press(&mut state, Key::Code(KeyCode::Up));
    press(&mut state, ENTER);
    line_with(&student_text(&state, 80, 24), "Your name");
    let typed = type_words(&mut state, "Jonas");
    assert_eq!(typed, Some(StudentAction::SomebodyElse("Jonas".to_owned())));
}

#[test]
fn a_class_key_is_taken_only_with_an_explicit_yes() {
    let offered = || KeyTalk::Offered {
        class: "Thursday".to_owned(),
        name: "Mette".to_owned(),
    };
    let mut state = newcomer();
    press(&mut state, ENTER);
    state.set_key_talk(offered());
    let text = student_text(&state, 80, 24);
    line_with(&text, "Come in as Mette without the passphrase");
    line_with(&text, "nobody else uses this account");
    assert_eq!(
        press(&mut state, ENTER),
        Some(StudentAction::TakeKey(false))
    );
    state.set_key_talk(offered());
    press(&mut state, DOWN);
    assert_eq!(press(&mut state, ENTER), Some(StudentAction::TakeKey(true)));
    state.set_key_talk(KeyTalk::Kept {
        class: "Thursday".to_owned(),
    });
    line_with(
        &student_text(&state, 80, 24),
        "This machine has a class key",
    );
}
