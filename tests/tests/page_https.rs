//! The page for phones over https, which a microphone needs: the way there with the seat, the
//! certificate, and answers and calls on the instrument.

use std::path::{Path, PathBuf};
use std::process::Command;

use fifthpeg_tests::phones::{Hall, ended_well, plucked, turn_goes_to_mia};
use fifthpeg_tests::temporary;

/// To https, with the seat; and there by a microphone that the browser believes in.
fn answers_on_the_instrument(test: &str, arguments: &[&str]) {
    let Some(mut hall) = Hall::open(test, arguments) else {
        return;
    };
    let heard = plucked(&hall.folder, "D4");
    // The browser's warning is gone on at as people do.
    let variables = [("PLUCKED", heard.as_str()), ("WARNED", "yes")];
    let scenes = [
        "open",
        "in",
        "welcomed",
        "over-https",
        "go-on",
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

#[test]
fn who_opens_a_link_with_another_s_seat_is_asked_and_comes_in_anew() {
    let Some(mut hall) = Hall::open("page-not-me", &["--no-book"]) else {
        return;
    };
    let scenes = ["open", "in", "welcomed", "over-https", "not-me"];
    // The button is there with or without one.
    let heard = plucked(&hall.folder, "D4");
    let variables = [("PLUCKED", heard.as_str())];
    let phone = hall.phone(&hall.link, &variables, &scenes);
    ended_well(phone);
    hall.host.wait_for("link Ivo came in by a page");
}

#[test]
fn a_friend_on_their_turn_calls_by_playing() {
    let arguments = ["--no-book", "--friends", "--as", "Rosa"];
    let Some(mut hall) = Hall::open("page-friends-play", &arguments) else {
        return;
    };
    let heard = plucked(&hall.folder, "D4");
    let variables = [("PLUCKED", heard.as_str())];
    let scenes = [
        "open",
        "in",
        "welcomed",
        "over-https",
        "go-on",
        "calls-by-playing",
        "all-found",
    ];
    let mut phone = hall.phone(&hall.link, &variables, &scenes);
    phone.wait_for("over https");
    turn_goes_to_mia(&mut hall.host, &mut phone, "1/0");
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

/// A certificate for that name with its key, made by OpenSSL.
fn certificate_for(name: &str, folder: &Path) -> PathBuf {
    let made = Command::new("openssl")
        .args(["req", "-x509", "-nodes", "-days", "30", "-newkey", "ec"])
        .args(["-pkeyopt", "ec_paramgen_curve:P-256", "-subj", "/CN=hall"])
        .args(["-addext", &format!("subjectAltName=DNS:{name}")])
        .args(["-keyout", "key.pem", "-out", "certificate.pem"])
        .current_dir(folder)
        .output()
        .expect("openssl");
    assert!(made.status.success(), "{made:?}");
    let read = |file: &str| std::fs::read_to_string(folder.join(file)).expect("what it made");
    let path = folder.join("hall.pem");
    std::fs::write(&path, read("certificate.pem") + &read("key.pem")).expect("a file");
    path
}

#[test]
fn with_a_certificate_that_browsers_trust_phones_come_in_by_its_name() {
    let folder = temporary("page-given-certificate");
    let pem = certificate_for("hall.example", &folder);
    let pem = pem.to_str().expect("a path in Unicode");
    let arguments = [
        "--no-book",
        "--host-name",
        "hall.example",
        "--certificate",
        pem,
    ];
    let Some(hall) = Hall::open("page-given", &arguments) else {
        return;
    };
    let link = hall.link.strip_prefix("https://hall.example:");
    let (port, words) = link
        .and_then(|rest| rest.split_once("/#"))
        .expect("by the name");
    let said = hall.host.lines();
    assert!(
        !said.iter().any(|line| line.contains("fingerprint")),
        "{said:?}"
    );
    let at = said.iter().find_map(|line| line.strip_prefix("address "));
    let ip = at.and_then(|at| at.rsplit_once(':')).expect("an address").0;
    let heard = plucked(&hall.folder, "D4");
    let named = format!("hall.example:{port}");
    let resolve = format!("hall.example {ip}");
    let variables = [
        ("PLUCKED", heard.as_str()),
        ("NAMED", &named),
        ("RESOLVE", &resolve),
    ];
    // Who types the numbers is led there, with what stands behind the "#".
    for link in [&hall.link, &format!("http://{ip}:{port}/#{words}")] {
        ended_well(hall.phone(link, &variables, &["open", "in", "welcomed", "trusted"]));
    }
}
