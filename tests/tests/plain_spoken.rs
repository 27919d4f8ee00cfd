//! Plain mode where somebody types and listens: what a screen reader would talk over a
//! tone with comes after it. Where commands come from a pipe nothing waits: the other
//! tests of plain mode are of that.

use std::time::{Duration, Instant};

use fifthpeg_tests::program::{program, temporary};
use fifthpeg_tests::pty::Pty;

const SIZE: (u16, u16) = (100, 40);
/// The banjo's tone, which is the shortest but one.
const TONE: Duration = Duration::from_millis(1400);

/// Types a command, and gives how long the line that it brings took to come. However
/// slow the machine is, that is not too short.
fn brings(terminal: &mut Pty, command: &str, line: &str) -> Duration {
    let typed = Instant::now();
    terminal.type_keys(&format!("{command}\r"));
    terminal.wait_for(line);
    typed.elapsed()
}

#[test]
fn alone_the_call_and_a_try_are_told_after_their_tones_and_what_is_typed_at_once_in_order() {
    let folder = temporary("spoken");
    let sound = format!("wav:{}", folder.join("tones.wav").display());
    let words = [
        "solo",
        "--plain",
        "--as",
        "Mia",
        "--no-book",
        "--output",
        &sound,
    ];
    let mut mia = Pty::start("mia", program(), &words, &[], SIZE);
    mia.wait_for("gap off");
    assert!(brings(&mut mia, "next", "call 1 sounding") >= TONE);
    assert!(brings(&mut mia, "t 2/0", "tried 2/0") >= TONE);
    // What waits comes before the answer to what was typed.
    mia.type_keys("hear\rwhere\r");
    mia.wait_for("where call 1");
    let text = mia.text();
    let (again, place) = (text.find("again call 1"), text.find("where call 1"));
    assert!(again.is_some() && again < place, "{text}");
    mia.type_keys("leave\r");
    assert!(mia.finish());
    std::fs::remove_dir_all(&folder).expect("removed");
}

#[test]
fn a_host_in_plain_mode_hears_the_call_before_it_is_told() {
    let words = [
        "host",
        "--plain",
        "--open",
        "--no-book",
        "--no-announce",
        "--bind",
        "127.0.0.1",
        "--port",
        "0",
        "--output",
        "none",
    ];
    let mut host = Pty::start("host", program(), &words, &[], SIZE);
    host.wait_for("picks the same notes again");
    assert!(brings(&mut host, "call", "call 1 sounding") >= TONE);
    assert!(brings(&mut host, "again", "again call 1") >= TONE);
    host.type_keys("end\r");
    assert!(host.finish());
}
