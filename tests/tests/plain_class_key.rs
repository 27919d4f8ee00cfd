//! One person, one seat, with the real program in plain mode: the host says who
//! is who, a class key is given and taken, and next week's lesson needs no words
//! on that machine, unless it is somebody else who sits there.

#![cfg(unix)]

use std::path::Path;
use std::process::Command;

use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::{PLACES as STATE, Process, host_with, join_with, program, run, temporary};

fn lesson(folder: &Path) -> (Process, String) {
    let book = folder.join("lessons.book");
    let data = folder.join("data");
    let arguments = ["--class", "Thursday", "--name", "Hall", "--book"];
    let arguments = [&arguments[..], &[book.to_str().expect("UTF-8")]].concat();
    let data = data.to_str().expect("UTF-8");
    host_with(&arguments, &[("XDG_DATA_HOME", data)])
}

/// A student without words, and perhaps without a name, on this machine.
fn wordless(address: &str, machine: &Path, more: &[&str]) -> Process {
    let mut command = Command::new(program());
    command
        .args(["join", address, "--plain", "--output", "none"])
        .args(more)
        .env(STATE, machine);
    Process::start("wordless", &mut command)
}

fn people(folder: &Path, more: &[&str]) -> String {
    let book = folder.join("lessons.book");
    let arguments = ["book", "people", "--book", book.to_str().expect("UTF-8")];
    let told = run(&[&arguments[..], more].concat());
    assert_eq!(told.code, Some(0), "{told:?}");
    told.output
}

#[test]
fn a_class_key_is_given_used_by_its_student_alone_and_taken_back() {
    let folder = temporary("plain-class-key");
    let machine = folder.join("mia");
    let state = [(STATE, machine.to_str().expect("UTF-8"))];
    let (mut host, address) = lesson(&folder);
    let mut mia = join_with("Mia", &address, &[], &state);
    host.wait_for("joined Mia");
    host.type_line("class-key");
    host.wait_for("class-key Mia has none");
    host.type_line("class-key Mia");
    mia.wait_for("class-key Your teacher offers");
    mia.type_line("take-key yes");
    mia.wait_for("class-key This machine has a class key");
    host.wait_for("class-key Mia has a class key now");
    host.type_line("class-key");
    host.wait_for("class-key Mia has one");
    host.type_line("end");
    host.finish();
    mia.finish();

    // Next week, without words or name.
    let (mut host, address) = lesson(&folder);
    let mut mia = wordless(&address, &machine, &[]);
    mia.wait_for("class-key You come in as Mia");
    mia.wait_for("joined Mia");
    // It is another child of the same account.
    mia.type_line("not-me Ole");
    mia.wait_for("hint type the words");
    mia.type_line(&format!("passphrase {PASSPHRASE}"));
    mia.wait_for("joined Ole");
    host.wait_for("joined Ole");
    mia.type_line("leave");
    assert_eq!(mia.finish().0, Some(0));
    host.type_line("end");
    host.finish();
    let listed = people(&folder, &[]);
    assert!(listed.contains("class key used"), "{listed}");

    let told = people(&folder, &["--take-back-key", "Mia"]);
    assert!(told.contains("is taken back"), "{told}");
    let (mut host, address) = lesson(&folder);
    let mut mia = wordless(&address, &machine, &[]);
    let told = mia.wait_for("link This machine's class key does not open");
    assert!(told.contains("not used for 90 days"), "{told}");
    mia.kill();
    host.type_line("end");
    host.finish();
    let forget = Command::new(program())
        .args(["join", "--forget-keys"])
        .env(STATE, &machine)
        .output()
        .expect("it runs");
    let said = String::from_utf8_lossy(&forget.stdout).into_owned();
    assert!(said.contains("is deleted"), "{said}");
    let nobody = Command::new(program())
        .args(["join", &address, "--plain"])
        .env(STATE, &machine)
        .output()
        .expect("it runs");
    assert_eq!(nobody.status.code(), Some(2));
    let said = String::from_utf8_lossy(&nobody.stderr).into_owned();
    assert!(said.contains("say who you are with --as"), "{said}");
}

#[test]
fn who_came_from_another_machine_is_one_in_the_lesson_and_in_the_book() {
    let folder = temporary("plain-known");
    let (mut host, address) = lesson(&folder);
    let machine = |name: &str| folder.join(name).to_str().expect("UTF-8").to_owned();
    let (one, other) = (machine("one"), machine("other"));
    let mut mia = join_with("Mia", &address, &[], &[(STATE, &one)]);
    host.type_line("call 1/0");
    mia.wait_for("call 1 sounding");
    mia.type_line("answer 1/0");
    mia.wait_for("mark 1/0 right");
    host.type_line("close");
    mia.wait_for("closed call 1");
    mia.type_line("leave");
    mia.finish();
    let mut again = join_with("Mia", &address, &[], &[(STATE, &other)]);
    host.wait_for("joined Mia 2");
    host.type_line("known");
    host.wait_for("known Mia");
    host.type_line("known Mia 2 is Sol");
    let refused = host.wait_for("error: ");
    assert!(
        refused.contains("nobody known here is called Sol"),
        "{refused}"
    );
    host.type_line("known Mia 2 is Mia");
    host.wait_for("known Mia 2 is Mia");
    // The student's terminal hears of it a moment after the host's line.
    again.wait_for("joined Mia");
    again.type_line("tally");
    let tally = again.wait_for("tally ");
    assert!(tally.contains("1 of 1"), "{tally}");
    host.type_line("end");
    let (_, lines, _) = host.finish();
    let results: Vec<_> = lines
        .iter()
        .filter(|l| l.starts_with("result Mia"))
        .collect();
    assert_eq!(results.len(), 1, "{lines:#?}");
    again.finish();
    let listed = people(&folder, &[]);
    assert_eq!(listed.matches("Mia").count(), 1, "{listed}");
}
