//! Two friends take turns, with the real program in plain mode.

use std::process::Command;

use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::{Process, join, program};

fn hosting_friend() -> (Process, String) {
    let mut command = Command::new(program());
    command.args([
        "host",
        "--plain",
        "--friends",
        "--as",
        "Mia",
        "--no-announce",
        "--bind",
        "127.0.0.1",
        "--output",
        "none",
        "--reach",
        "twelve",
        "--passphrase",
        PASSPHRASE,
    ]);
    let mut mia = Process::start("Mia", &mut command);
    let address = mia.wait_for("address ");
    mia.wait_for("joined Mia");
    (mia, address.trim_start_matches("address ").to_owned())
}

#[test]
fn friends_call_in_turn_and_the_caller_does_not_answer() {
    let (mut mia, address) = hosting_friend();
    let mut ole = join("Ole", &address, &[]);

    mia.wait_for("turn you");
    ole.wait_for("turn Mia");
    ole.type_line("pick 1/2");
    assert!(ole.wait_for("error").contains("not your turn"));
    mia.type_line("pick 2/1");
    mia.wait_for("call 1 sounding, called by you");
    ole.wait_for("call 1 sounding, called by Mia");
    mia.type_line("target");
    assert_eq!(mia.wait_for("target"), "target C4 at 2/1");
    ole.type_line("target");
    assert!(ole.wait_for("error").contains("only the one who called"));
    mia.type_line("answer 2/1");
    assert!(mia.wait_for("error").contains("you called this note"));
    ole.type_line("answer 3/5");
    ole.wait_for("mark 3/5 right");
    // Everyone has found it, so it is revealed and the turn passes by itself.
    ole.wait_for("reveal C4: 2/1 3/5 4/10");
    ole.wait_for("turn you");
    mia.wait_for("turn Ole");

    ole.type_line("pick");
    ole.wait_for("call 2 sounding, called by you");
    mia.wait_for("call 2 sounding, called by Ole");
    mia.type_line("hear");
    ole.type_line("again");
    // He had it picked at random, and may look what it is.
    ole.type_line("target");
    let target = ole.wait_for("target ");
    let note = target.trim_start_matches("target ").to_owned();
    ole.type_line("reveal");
    let revealed = mia.wait_for("reveal ");
    assert!(
        revealed.starts_with(&format!("reveal {note}: ")),
        "{target}, {revealed}"
    );
    // Whoever called, the one who hosts may end it.
    mia.type_line("close");
    // The turn passes at the reveal; both may show at one look or at two.
    mia.wait_for_both("turn you", "closed call 2: not found");

    // The friend who hosts has some of a host's commands, and only she.
    mia.type_line("reach open");
    ole.wait_for("reach open");
    ole.type_line("reach whole");
    assert!(ole.wait_for("error").contains("no command"));

    mia.type_line("end");
    let (code, lines, errors) = mia.finish();
    assert_eq!((code, errors.as_str()), (Some(0), ""));
    assert!(lines.iter().any(|line| line.starts_with("result Ole ")));
    assert!(lines.iter().any(|line| line.starts_with("result Mia ")));
    ole.wait_for("ended ");
    assert_eq!(ole.finish().0, Some(0));
}

#[test]
fn a_turn_can_be_waited_for_in_a_script() {
    let (mut mia, address) = hosting_friend();
    let mut ole = join("Ole", &address, &[]);
    for line in [
        "wait turn for 20",
        "pick 1/4",
        "wait call for 20",
        "wait found 1 for 20",
    ] {
        mia.type_line(line);
    }
    for line in [
        "wait call for 20",
        "answer 2/7",
        "wait mark for 20",
        "wait turn for 20",
        "leave",
    ] {
        ole.type_line(line);
    }
    for waited in ["waited turn", "waited call", "waited found 1"] {
        assert_eq!(mia.wait_for("waited"), waited);
    }
    for waited in ["waited call", "waited mark"] {
        assert_eq!(ole.wait_for("waited"), waited);
    }
    assert_eq!(ole.wait_for("waited turn"), "waited turn");
    assert_eq!(ole.finish().0, Some(0));
}
