//! The page for phones in headless Chromium, on a machine of its own: plain http at an
//! address that is not loopback, where a browser gives a page the least.
//!
//! Whoever plays it is `scripts/page/play.mjs`: it fails on anything that axe-core
//! finds (WCAG 2.2, A and AA), on any error of the page, and if the page asks anybody
//! but its host.

use std::path::{Path, PathBuf};
use std::process::Command;

use fifthpeg_tests::machines::{Addresses, Machines};
use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::process::BOOKS;
use fifthpeg_tests::{PLACES, Process, program, skip, temporary};

const CHROMIUM: &str = "/usr/bin/chromium";

fn root() -> &'static Path {
    Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/.."))
}

/// A host whose key is kept in that folder, so that it is the same when it starts again.
fn start(machines: &Machines, folder: &Path, arguments: &[&str]) -> Process {
    let mut command = machines.on("host", program());
    command.args(["host", "--plain", "--output", "none", "--reach", "twelve"]);
    command.args(["--name", "Village hall"]).args(arguments);
    if !arguments.contains(&"--open") {
        command.args(["--passphrase", PASSPHRASE]);
    }
    let mut host = Process::start("host", command.env(BOOKS, folder).env(PLACES, folder));
    host.wait_for("address ");
    host
}

/// A hall with a host, and a link to its page.
struct Hall {
    machines: Machines,
    host: Process,
    link: String,
    folder: PathBuf,
}

impl Hall {
    /// `None`, and said, where something is missing.
    fn open(test: &str, arguments: &[&str]) -> Option<Self> {
        let tools = root().join("target/pages-tools/node_modules/playwright-core");
        if !Path::new(CHROMIUM).exists() || !tools.exists() {
            skip(
                "the page is not tried: Chromium and playwright-core are needed (scripts/test brings both)",
            );
            return None;
        }
        let machines = Machines::build(Addresses::FourAlone)?;
        let folder = temporary(test);
        let mut host = start(&machines, &folder, arguments);
        host.type_line("page");
        host.type_line("pause 0.1");
        host.wait_for("waited pause");
        let said = host.lines();
        let of = |start: &str| said.iter().find_map(|line| line.strip_prefix(start));
        let Some(address) = of("page http").map(|rest| format!("http{rest}")) else {
            skip("the page is not tried: this program was built without it (scripts/build-page)");
            return None;
        };
        let words = of("page words ").map(|words| format!("#{}", words.replace(' ', "-")));
        Some(Self {
            machines,
            host,
            link: format!("{address}{}", words.unwrap_or_default()),
            folder,
        })
    }

    /// A phone that plays these scenes.
    fn phone(&self, link: &str, variables: &[(&str, &str)], scenes: &[&str]) -> Process {
        let mut phone: Command = self.machines.on("mia", "node");
        phone
            .current_dir(root().join("target/pages-tools"))
            .arg(root().join("scripts/page/play.mjs"))
            .arg(link)
            .arg(&self.folder)
            .args(scenes)
            .env("CHROMIUM", CHROMIUM)
            .envs(variables.iter().copied());
        Process::start("the phone", &mut phone)
    }
}

fn ended_well(mut phone: Process) {
    let (code, lines, errors) = phone.finish();
    assert_eq!(code, Some(0), "{}\n{errors}", lines.join("\n"));
}

#[test]
fn a_phone_answers_a_call_of_a_locked_lesson_over_plain_http() {
    let Some(mut hall) = Hall::open("page-locked", &["--no-book"]) else {
        return;
    };
    let scenes = [
        "open",
        "in",
        "welcomed",
        "called",
        "tried",
        "answered",
        "found",
        "revealed",
        "over",
        "no-storage-left",
    ];
    let mut phone = hall.phone(&hall.link, &[], &scenes);
    phone.wait_for("in");
    hall.host.wait_for("link Mia came in by a page");
    hall.host.type_line("call 2/1");
    hall.host.wait_for("answer Mia 2/1 right");
    phone.wait_for("found");
    hall.host.type_line("reveal");
    phone.wait_for("revealed");
    hall.host.type_line("end");
    ended_well(phone);
}

#[test]
fn a_reload_in_mid_call_and_a_host_killed_lose_no_place() {
    let folder = temporary("page-book");
    let book = folder.join("lessons.book");
    let book = book.to_str().expect("a path in Unicode");
    let Some(mut hall) = Hall::open("page-reload", &["--book", book, "--class", "Tuesday"]) else {
        return;
    };
    let scenes = [
        "open",
        "in",
        "welcomed",
        "called",
        "missed-answer",
        "missed",
        "reloaded",
        "sound-on",
        "lost",
        "again",
        "called-after",
        "answered",
        "found",
    ];
    let mut phone = hall.phone(&hall.link, &[], &scenes);
    phone.wait_for("in");
    hall.host.type_line("call 2/1");
    phone.wait_for("missed");
    phone.wait_for("back");
    hall.host.wait_for("back Mia");
    hall.host.kill();
    phone.wait_for("lost");
    let mut host = start(
        &hall.machines,
        &hall.folder,
        &["--book", book, "--class", "Tuesday"],
    );
    phone.wait_for("again");
    host.wait_for("answer Mia 2/1 right");
    ended_well(phone);
    // Nothing is lost or doubled over it.
    host.type_line("end");
    let (_, lines, errors) = host.finish();
    let row = lines.iter().find(|line| line.starts_with("result Mia"));
    let columns: Vec<_> = row.expect("a row").split_whitespace().collect();
    assert_eq!(columns[2..5], ["1", "1", "0"], "{errors}");
}

#[test]
fn old_words_and_the_class_s_own_let_no_page_in_and_new_ones_do() {
    let Some(mut hall) = Hall::open("page-words", &["--no-book"]) else {
        return;
    };
    let scenes = ["open", "in", "words-wanted", "words-given", "welcomed"];
    hall.host.type_line("page new");
    hall.host.wait_for("page http");
    let new = hall.host.wait_for("page words ");
    let new = new.trim_start_matches("page words ");
    let phone = hall.phone(&hall.link, &[("GIVEN", new)], &scenes);
    hall.host.wait_for("link a wrong passphrase came from");
    hall.host.wait_for("link Mia came in by a page");
    ended_well(phone);
    // The words that terminals know are none of a page's.
    let address = hall.link.split('#').next().unwrap_or_default();
    let link = format!("{address}#{}", PASSPHRASE.replace(' ', "-"));
    ended_well(hall.phone(&link, &[("NAME", "Ivo")], &["open", "in", "words-wanted"]));
}

#[test]
fn a_phone_answers_in_an_open_lesson_too() {
    if let Some(mut hall) = Hall::open("page-open", &["--no-book", "--open"]) {
        let scenes = [
            "open", "in", "welcomed", "called", "tried", "answered", "found",
        ];
        let mut phone = hall.phone(&hall.link, &[], &scenes);
        phone.wait_for("in");
        hall.host.type_line("call 2/1");
        phone.wait_for("found");
        ended_well(phone);
    }
}
