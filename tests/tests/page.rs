//! The page for phones in headless Chromium, on a machine of its own: plain http at an
//! address that is not loopback, where a browser gives a page the least.
//!
//! Whoever plays it is `scripts/page/play.mjs`: it fails on anything that axe-core
//! finds (WCAG 2.2, A and AA), on any error of the page, and if the page asks anybody
//! but its host.

use std::path::{Path, PathBuf};
use std::process::Command;

use fifthpeg_core::{Pitch, Reference};
use fifthpeg_sound::{Level, ToneSpec, Voice, render};
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

/// What the microphone hears: a string plucked every 0.8 seconds, over and over.
fn plucked(folder: &Path, note: &str) -> PathBuf {
    const RATE_HZ: u32 = 48_000;
    let pitch: Pitch = note.parse().expect("a note");
    let tone = ToneSpec {
        frequency_hz: pitch.frequency_hz(Reference::default()),
        voice: Voice::Banjo,
        pluck_seed: 1,
        level: Level::from_percent(100).expect("a level"),
    };
    let mut samples = render(&tone, RATE_HZ).expect("a tone");
    samples.resize(RATE_HZ as usize * 4 / 5, 0.0);
    let path = folder.join("plucked.wav");
    let spec = hound::WavSpec {
        channels: 1,
        sample_rate: RATE_HZ,
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let mut writer = hound::WavWriter::create(&path, spec).expect("a sound file");
    for sample in samples {
        let sample = (sample * f32::from(i16::MAX)) as i16;
        writer.write_sample(sample).expect("room on the disk");
    }
    writer.finalize().expect("room on the disk");
    path
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

/// To https, with the seat; and there by a microphone that the browser believes in.
fn answers_on_the_instrument(test: &str, arguments: &[&str]) {
    let Some(mut hall) = Hall::open(test, arguments) else {
        return;
    };
    let heard = plucked(&hall.folder, "D4");
    let variables = [("PLUCKED", heard.to_str().expect("a path in Unicode"))];
    let scenes = [
        "open",
        "in",
        "welcomed",
        "over-https",
        "listens",
        "plucked",
        "forbidden",
        "over",
        "no-storage-left",
    ];
    let mut phone = hall.phone(&hall.link, &variables, &scenes);
    phone.wait_for("over https");
    hall.host.wait_for("back Mia");
    phone.wait_for("listens");
    hall.host.type_line("call 1/0");
    hall.host.wait_for("tried Mia D4, played");
    let answer = hall.host.wait_for("answer Mia D4 right");
    assert!(answer.ends_with(", played"), "{answer}");
    phone.wait_for("found");
    hall.host.type_line("taps-only on");
    phone.wait_for("forbidden");
    hall.host.type_line("end");
    ended_well(phone);
}

#[test]
fn a_phone_answers_on_the_instrument_over_https() {
    answers_on_the_instrument("page-plucked", &["--no-book"]);
}

#[test]
fn a_phone_answers_on_the_instrument_in_an_open_lesson() {
    answers_on_the_instrument("page-plucked-open", &["--no-book", "--open"]);
}

fn shows_the_lesson_on_a_wall(test: &str, arguments: &[&str]) {
    let Some(mut hall) = Hall::open(test, arguments) else {
        return;
    };
    let scenes = [
        "hall",
        "hall-called",
        "hall-found",
        "hall-names",
        "hall-revealed",
        "over",
        "no-storage-left",
    ];
    let mut wall = hall.phone(&hall.link, &[("SIZE", "1280x800")], &scenes);
    wall.wait_for("hall");
    let scenes = ["open", "in", "welcomed", "called", "tried", "answered"];
    let variables = [("PLACE", "1/0")];
    let mut phone = hall.phone(&hall.link, &variables, &scenes);
    phone.wait_for("in");
    hall.host.type_line("call 1/0");
    wall.wait_for("hall called");
    hall.host.wait_for("answer Mia 1/0 right");
    wall.wait_for("hall found");
    hall.host.type_line("hall-names on");
    wall.wait_for("hall names");
    hall.host.type_line("reveal");
    wall.wait_for("hall revealed");
    ended_well(phone);
    // It is nobody's seat.
    hall.host.type_line("end");
    ended_well(wall);
    let (_, lines, _) = hall.host.finish();
    let rows = lines.iter().filter(|line| line.starts_with("result "));
    assert_eq!(rows.count(), 2, "the head of the table, and Mia: {lines:?}");
}

#[test]
fn a_projector_shows_the_lesson_and_is_no_student() {
    shows_the_lesson_on_a_wall("page-hall", &["--no-book"]);
}

#[test]
fn a_projector_shows_an_open_lesson_too() {
    shows_the_lesson_on_a_wall("page-hall-open", &["--no-book", "--open"]);
}

#[test]
fn a_friend_on_their_turn_calls_from_the_page() {
    let arguments = ["--no-book", "--friends", "--as", "Rosa"];
    let Some(mut hall) = Hall::open("page-friends", &arguments) else {
        return;
    };
    let scenes = [
        "open",
        "in",
        "welcomed",
        "called",
        "tried",
        "answered-among-friends",
        "my-turn",
        "all-found",
    ];
    let mut phone = hall.phone(&hall.link, &[("PLACE", "1/0")], &scenes);
    phone.wait_for("in");
    hall.host.type_line("pick 1/0");
    // Everyone has found it, so it is shown and the turn passes by itself.
    hall.host.wait_for("turn Mia");
    hall.host.wait_for("call 2 sounding, called by Mia");
    phone.wait_for("called by me");
    hall.host.type_line("answer 2/1");
    hall.host.wait_for("mark 2/1 right");
    phone.wait_for("all found");
    ended_well(phone);
}

#[test]
fn the_certificate_for_browsers_is_as_they_want_it() {
    // Checked by OpenSSL, which had no part in making it.
    let Some(hall) = Hall::open(
        "page-certificate",
        &["--no-book", "--host-name", "hall.example"],
    ) else {
        return;
    };
    let said = hall.host.lines();
    let of = |start: &str| said.iter().find_map(|line| line.strip_prefix(start));
    let shown = of("page fingerprint ").expect("a fingerprint");
    let at = hall.link.split('/').nth(2).expect("an address");
    let asked = format!(
        "openssl s_client -connect {at} -alpn http/1.1 </dev/null 2>/dev/null | openssl x509 -noout \
         -fingerprint -sha256 -text -checkend $((819 * 86400)); openssl s_client -connect {at} \
         </dev/null 2>/dev/null | openssl x509 -noout -text"
    );
    let output = hall.machines.on("mia", "sh").args(["-c", &asked]).output();
    let text = String::from_utf8(output.expect("openssl").stdout).expect("text");
    let ip = at.split(':').next().expect("an address");
    for wanted in [
        format!("Fingerprint={}", shown.replace(' ', ":")),
        "NIST CURVE: P-256".to_owned(),
        "TLS Web Server Authentication".to_owned(),
        format!("IP Address:{ip}"),
        "DNS:hall.example".to_owned(),
        // It holds for less than 820 days from now, where 825 are the most.
        "Certificate will expire".to_owned(),
        // Without a word of HTTP it is the key that terminals know.
        "Public Key Algorithm: ED25519".to_owned(),
    ] {
        let text = text.to_lowercase();
        assert!(text.contains(&wanted.to_lowercase()), "{wanted}: {text}");
    }
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
