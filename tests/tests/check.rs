//! `fifthpeg check`, completions and manual pages, as the real program gives them.

use std::net::TcpListener;
use std::process::{Command, Stdio};

use fifthpeg_tests::{program, run, temporary};

/// What is looked at, in order.
const CHECKS: [&str; 9] = [
    "sound",
    "microphone",
    "network",
    "port",
    "discovery",
    "firewall",
    "book",
    "disk",
    "clock",
];

#[test]
fn a_machine_is_looked_at_and_nobody_is_named() {
    // A home that a person's name could stand in.
    let home = temporary("home-of-ruth");
    let check = |more: &[&str]| {
        let mut command = Command::new(program());
        command.args(["check", "--output", "none", "--microphone", "none"]);
        command.args(more).env("XDG_DATA_HOME", &home);
        let output = command.output().expect("it runs");
        let said = String::from_utf8(output.stdout).expect("UTF-8");
        (output.status.code(), said)
    };
    let (code, said) = check(&[]);
    let words: Vec<&str> = said
        .lines()
        .filter_map(|line| line.split_whitespace().next())
        .collect();
    assert_eq!(words, CHECKS, "{said}");
    assert!(!said.contains("ruth"), "{said}");
    // Nothing is left where the book will be.
    let left = std::fs::read_dir(&home).expect("the folder").count();
    assert_eq!(left, 0, "{}", home.display());

    let (json_code, json) = check(&["--as", "json"]);
    assert_eq!(json_code, code);
    let told: serde_json::Value = serde_json::from_str(&json).expect("JSON");
    let checks = told["checks"].as_array().expect("a list");
    let names: Vec<&str> = checks.iter().filter_map(|c| c["check"].as_str()).collect();
    assert_eq!(names, CHECKS);
    let failed = checks.iter().filter(|c| c["state"] == "fails").count();
    assert_eq!(told["ready"], failed == 0);
    assert_eq!(code, Some(i32::from(failed > 0)), "{said}");
    for check in checks.iter().filter(|c| c["state"] != "good") {
        assert!(check["to_do"].is_string(), "{check}");
    }

    // A book that is none is said to be so, and left as it is.
    std::fs::create_dir_all(home.join("fifthpeg")).expect("a folder");
    let book = home.join("fifthpeg/lessons.book");
    std::fs::write(&book, "shopping list").expect("a file");
    let (code, said) = check(&[]);
    assert_eq!(code, Some(1));
    let line = said.lines().find(|line| line.starts_with("book"));
    let line = line.expect("a line");
    assert!(line.contains("fails it is not a lesson book"), "{line}");
    assert!(!said.contains("ruth"), "{said}");
    assert_eq!(std::fs::read(&book).expect("it is there"), b"shopping list");
    std::fs::remove_dir_all(&home).expect("taken away");
}

#[test]
fn another_machine_is_reached_or_not() {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a port");
    let address = listener.local_addr().expect("an address").to_string();
    let reached = run(&["check", "--reach", &address]);
    assert_eq!(reached.code, Some(0), "{reached:?}");
    assert!(reached.output.starts_with("reach      good"), "{reached:?}");
    drop(listener);
    let closed = run(&["check", "--reach", &address]);
    assert_eq!(closed.code, Some(1), "{closed:?}");
    assert!(closed.output.contains("start fifthpeg host"), "{closed:?}");
    assert_eq!(run(&["check", "--reach", "the hall"]).code, Some(2));
    assert_eq!(run(&["check", "--output", "lute"]).code, Some(2));
}

/// Against bash itself: what is printed for it can be read by it, and completes.
#[test]
fn bash_takes_its_completions() {
    let made = run(&["completions", "bash"]);
    assert_eq!(made.code, Some(0));
    let ask = "\nCOMP_WORDS=(fifthpeg hom); COMP_CWORD=1; _fifthpeg fifthpeg hom fifthpeg; \
               printf '%s\\n' \"${COMPREPLY[@]}\"\n";
    let bash = Command::new("bash")
        .args(["-c", &(made.output + ask)])
        .stderr(Stdio::inherit())
        .output()
        .expect("bash runs");
    assert!(bash.status.success());
    assert_eq!(String::from_utf8_lossy(&bash.stdout).trim(), "homework");
    assert_eq!(run(&["completions", "abacus"]).code, Some(2));
}
