//! The page for phones in headless Chromium, on a machine of its own: plain http at an
//! address that is not loopback, where a browser gives a page the least.
//!
//! Whoever plays it is `scripts/page/play.mjs`: it fails on anything that axe-core
//! finds (WCAG 2.2, A and AA), on any error of the page, and if the page asks anybody
//! but its host.

use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::phones::{Hall, ended_well, start, turn_goes_to_mia};
use fifthpeg_tests::temporary;

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
fn a_whole_lesson_is_tapped_in_firefox() {
    let Some(mut hall) = Hall::open("page-firefox", &["--no-book"]) else {
        return;
    };
    let Some(sound) = fifthpeg_tests::Hall::start("page-firefox") else {
        return;
    };
    let Some(mut phone) = hall.firefox(&sound) else {
        return;
    };
    phone.wait_for("in");
    hall.host.type_line("call 2/1");
    phone.wait_for("missed");
    phone.wait_for("back");
    hall.host.wait_for("answer Mia 2/1 right");
    phone.wait_for("found");
    hall.host.type_line("reveal");
    phone.wait_for("revealed");
    hall.host.type_line("end");
    ended_well(phone);
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
    turn_goes_to_mia(&mut hall.host, &mut phone, "2/1");
    ended_well(phone);
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
