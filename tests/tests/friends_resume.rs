//! A lesson of friends whose host is killed and started again: whose turn it is
//! stays, and the one who hosts gets the old seat back.

#![cfg(unix)]

use std::path::Path;
use std::process::Command;
use std::time::Duration;

use fifthpeg_book::Reader;
use fifthpeg_lesson::{LessonEvent, Picked};
use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::{Process, join, program, temporary};

/// Mia opens the lesson on her machine, where her seat is kept in `folder`.
fn mia_hosts(folder: &Path, port: &str) -> Process {
    let mut command = Command::new(program());
    command
        .args(["host", "--plain", "--friends", "--as", "Mia"])
        .args(["--name", "Kitchen", "--reach", "twelve", "--no-announce"])
        .args(["--passphrase", PASSPHRASE])
        .args(["--bind", "127.0.0.1", "--port", port, "--output", "none"])
        .arg("--book")
        .arg(folder.join("lessons.book"))
        .env("XDG_STATE_HOME", folder.join("state"))
        // The host's key is kept there, and must be the same again.
        .env("XDG_DATA_HOME", folder.join("data"));
    Process::start("Mia", &mut command)
}

#[test]
fn friends_go_on_in_turn_after_a_kill() {
    let folder = temporary("friends-resume");
    let mut mia = mia_hosts(&folder, "0");
    let line = mia.wait_for("address ");
    let address = line.trim_start_matches("address ").to_owned();
    let port = address.rsplit(':').next().expect("a port").to_owned();
    mia.wait_for("joined Mia");
    let mut ole = join("Ole", &address, &[]);
    mia.wait_for("turn you");
    mia.type_line("pick 2/1");
    ole.wait_for("call 1 sounding, called by Mia");
    ole.type_line("answer 2/1");
    ole.wait_for("mark 2/1 right");
    ole.wait_for("turn you");
    mia.wait_for("turn Ole");

    mia.kill();
    ole.wait_for("link the connection was lost");
    let mut mia = mia_hosts(&folder, &port);
    assert!(mia.wait_for("book ").contains("goes on where it was"));
    mia.wait_for("joined Mia");
    ole.wait_for("link In the lesson");
    // Ole's turn it was, and it is.
    mia.wait_for("turn Ole");
    mia.type_line("pick 1/0");
    assert!(mia.wait_for("error").contains("not your turn"));
    // His terminal may be back a moment before it is told so.
    for _ in 0..100 {
        ole.type_line("pick 1/2");
        std::thread::sleep(Duration::from_millis(100));
        let calls = ole.lines_of("call");
        if calls.iter().any(|line| line.contains("called by you")) {
            break;
        }
    }
    ole.wait_for("call 2 sounding, called by you");
    mia.wait_for("call 2 sounding, called by Ole");
    mia.type_line("answer 1/2");
    mia.wait_for("mark 1/2 right");
    // And Mia's seat is the one she had: two friends, not three.
    ole.wait_for("turn Mia");
    mia.wait_for("turn you");
    mia.type_line("pick");
    ole.wait_for("call 3 sounding, called by Mia");
    mia.type_line("end");
    let (code, lines, _) = mia.finish();
    assert_eq!(code, Some(0), "{}", lines.join("\n"));
    let results = lines.iter().filter(|l| l.starts_with("result "));
    assert_eq!(results.count(), 3, "{}", lines.join("\n"));

    let reader = Reader::open(&folder.join("lessons.book")).expect("the book");
    let lessons = reader.lessons("Kitchen").expect("its lessons");
    assert_eq!(lessons.len(), 1);
    assert_eq!((lessons[0].students, lessons[0].calls), (2, 3));
    let events = reader.events(lessons[0].id).expect("its events");
    let calls: Vec<_> = events
        .iter()
        .filter_map(|event| match event {
            LessonEvent::CallMade { caller, picked, .. } => Some((caller.map(|s| s.0), *picked)),
            _ => None,
        })
        .collect();
    let (friend, random) = (Some(Picked::Friend), Some(Picked::Random));
    assert_eq!(
        calls,
        [(Some(1), friend), (Some(2), friend), (Some(1), random)]
    );
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

/// The friend who hosts hears of the book, and may go on without it; the lesson
/// that ended in good order is not offered again.
#[test]
fn the_friend_who_hosts_may_leave_the_book() {
    let folder = temporary("friends-book");
    let mut mia = mia_hosts(&folder, "0");
    let line = mia.wait_for("address ");
    let address = line.trim_start_matches("address ").to_owned();
    mia.wait_for("joined Mia");
    let mut ole = join("Ole", &address, &[]);
    mia.wait_for("turn you");
    let book = folder.join("lessons.book");
    let other = rusqlite::Connection::open(&book).expect("the file opens");
    other.execute_batch("BEGIN IMMEDIATE").expect("a lock");
    mia.type_line("pick 2/1");
    ole.wait_for("call 1 sounding");
    ole.type_line("answer 2/1");
    let said = mia.wait_for("book answers wait");
    assert!(said.contains("in use by another program"), "{said}");
    mia.type_line("without-book");
    mia.wait_for("book the lesson goes on without");
    ole.wait_for("mark 2/1 right");
    other.execute_batch("ROLLBACK").expect("let go");
    mia.type_line("end");
    assert_eq!(mia.finish().0, Some(0));
    let open = fifthpeg_book::Book::open(&book).expect("the book");
    assert_eq!(open.open_lessons().expect("its lessons"), []);
    std::fs::remove_dir_all(folder).expect("the folder goes");
}
