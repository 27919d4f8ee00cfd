//! The screens that the teacher's guide shows are drawn here, so that they cannot go stale. To draw them anew:
//! `FIFTHPEG_WRITE_PAGES=1 cargo test -p fifthpeg-screen guide`.

use fifthpeg_lesson::HostOrder;
use fifthpeg_lesson::terminal::StudentOrder;

use super::room::{Room, Screens as _, at, host_text, invite, student_text};
use crate::door::DoorShown;
use crate::options::ScreenOptions;

/// What each picture of the guide is called, and what it shows.
fn pictures() -> Vec<(&'static str, Vec<String>)> {
    let mut room = Room::with(&["Mette", "Jonas", "Ole"], |setup| {
        setup.rules.reach = "octave".parse().expect("a reach");
    });
    let door = DoorShown::Passphrase {
        words: "acorn river candle tiger".to_owned(),
        key: "4f76 18c2".to_owned(),
    };
    let mut host = room.host_screen(ScreenOptions::default()).with_door(door);
    let mut jonas = room.student_screen(1, ScreenOptions::default());
    let waiting = host_text(&host, 80, 24);
    let mut joining = room.host_screen(ScreenOptions::default());
    joining.show_joining(&invite());
    let joining = host_text(&joining, 80, 24);
    room.call("3/2");
    room.student(0, StudentOrder::Try(at("3/0")));
    room.wait(4.5);
    room.student(0, StudentOrder::Answer(at("3/2")));
    room.student(1, StudentOrder::Hear);
    room.wait(3.0);
    room.student(1, StudentOrder::Try(at("2/0")));
    room.student(1, StudentOrder::Answer(at("4/2")));
    room.wait(2.0);
    room.show_host(&mut host);
    room.show_student(1, &mut jonas);
    let (searching, missed) = (host_text(&host, 80, 24), student_text(&jonas, 80, 24));
    room.student(1, StudentOrder::Answer(at("3/2")));
    room.host(HostOrder::Reveal);
    room.show_student(1, &mut jonas);
    vec![
        ("the host, before a call", waiting),
        ("the host, how to come in", joining),
        ("the host, while the class searches", searching),
        ("a student, after a miss", missed),
        ("a student, after the reveal", student_text(&jonas, 80, 24)),
    ]
}

#[test]
fn the_guide_shows_the_screens_as_they_are() {
    let path = concat!(env!("CARGO_MANIFEST_DIR"), "/../../docs/teachers-guide.md");
    let stored = std::fs::read_to_string(path).expect("the teacher's guide");
    let mut page = stored.clone();
    for (name, lines) in pictures() {
        let begins = format!("<!-- screen: {name} -->\n```text\n");
        let from = page.find(&begins).map(|at| at + begins.len());
        let from = from.unwrap_or_else(|| panic!("the guide shows no screen '{name}'"));
        let to = page[from..].find("```").expect("its end") + from;
        let picture = lines.join("\n") + "\n";
        page.replace_range(from..to, &picture);
    }
    if std::env::var_os("FIFTHPEG_WRITE_PAGES").is_some() {
        std::fs::write(path, &page).expect("written");
    } else {
        assert!(
            page == stored,
            "the guide's screens are out of date: run FIFTHPEG_WRITE_PAGES=1 cargo test -p fifthpeg-screen guide"
        );
    }
}
