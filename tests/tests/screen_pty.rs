//! The real program with its screens, on terminals of their own: a lesson from
//! both sides, at two sizes, and the terminal given back however it ends.

use fifthpeg_tests::program;
use fifthpeg_tests::pty::Pty;

const RIGHT: &str = "\u{1b}[C";
const HOME: &str = "\u{1b}[H";
const DOWN: &str = "\u{1b}[B";
const ENTER: &str = "\r";

fn host(size: (u16, u16), more: &[&str], variables: &[(&str, &str)]) -> Pty {
    let mut arguments = vec![
        "host",
        "--name",
        "Village hall",
        "--no-announce",
        "--bind",
        "127.0.0.1",
        "--output",
        "none",
        "--reach",
        "twelve",
    ];
    arguments.extend(more);
    Pty::start("host", program(), &arguments, variables, size)
}

/// Reads the passphrase off the host's screen.
fn passphrase(host: &Pty) -> String {
    let line = host.wait_for("Passphrase: ");
    let after = line.split_once("Passphrase: ").expect("the words").1;
    let words = after.split(['.', '|']).next().unwrap_or_default();
    words
        .split_whitespace()
        .take(4)
        .collect::<Vec<_>>()
        .join(" ")
}

/// Reads the address off the host's screen, as a student would.
fn address(host: &Pty) -> String {
    let line = host.wait_for("To join");
    let at = line.find("127.0.0.1:").expect("an address to type");
    let rest = &line[at..];
    let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.' && c != ':');
    rest[..end.unwrap_or(rest.len())].to_owned()
}

fn join(name: &str, host: &Pty, size: (u16, u16)) -> Pty {
    let (address, words) = (address(host), passphrase(host));
    let arguments = ["join", &address, "--as", name, "--output", "none"];
    let mut student = Pty::start(name, program(), &arguments, &[], size);
    student.wait_for("Mind your ears");
    student.type_keys(ENTER);
    student.wait_for("The lesson's passphrase");
    student.type_keys(&words);
    student.type_keys(ENTER);
    student.wait_for("Listen");
    student
}

#[test]
fn a_lesson_from_both_sides() {
    let mut host = host((80, 24), &[], &[]);
    let mut mette = join("Mette", &host, (200, 50));
    host.wait_for("Mette joined.");

    // The host calls string 1, fret 2.
    host.type_keys("c");
    host.wait_for("Call this place? string 1, open (D4)");
    host.type_keys(RIGHT);
    host.type_keys(RIGHT);
    host.wait_for("string 1, fret 2 (E4)");
    host.type_keys(ENTER);
    host.wait_for("Call 1, open");

    mette.wait_for("Search, then answer.");
    assert!(!mette.text().contains("E4"), "the target shows");
    mette.type_keys(" ");
    mette.wait_for("1 try");
    mette.type_keys(ENTER);
    mette.wait_for("Your note is a little low: look higher.");
    host.wait_for("1/0 2 semitones low");
    for _ in 0..2 {
        mette.type_keys(RIGHT);
    }
    mette.wait_for("string 1, fret 2 (E4)");
    mette.type_keys(ENTER);
    mette.wait_for("Found. Wait for the others.");
    host.wait_for("1 of 1 found it.");

    host.type_keys("r");
    mette.wait_for("It was E4: 1/2, 2/5, 3/9 and 4/14.");
    host.type_keys("x");
    mette.wait_for("Listen for the next call.");
    mette.wait_for("ound 1 of 1");

    // Both at another size.
    mette.resize(80, 24);
    mette.wait_until("foot on row 24", |screen| {
        screen
            .rows(0, 80)
            .nth(23)
            .is_some_and(|row| row.starts_with("Wait for the next call"))
    });
    host.resize(40, 10);
    host.wait_for("make it at least 60 by 16");
    host.resize(200, 50);
    host.wait_for("Answers (2)");

    mette.type_keys("q");
    mette.wait_for("Leave the lesson?");
    mette.type_keys(DOWN);
    mette.type_keys(ENTER);
    assert!(mette.finish());
    mette.assert_given_back();
    host.wait_for("Mette left.");
    host.type_keys("q");
    host.type_keys(DOWN);
    host.type_keys(ENTER);
    assert!(host.finish());
    host.assert_given_back();
}

#[test]
fn the_end_of_the_lesson_is_read_and_then_gives_the_students_terminal_back() {
    let mut host = host((80, 24), &[], &[]);
    let mut jonas = join("Jonas", &host, (80, 24));
    host.type_keys("q");
    host.type_keys(DOWN);
    host.type_keys(ENTER);
    assert!(host.finish());
    jonas.wait_for("The lesson is over.");
    jonas.wait_for("ound 0 of 0");
    jonas.type_keys("q");
    assert!(jonas.finish());
    jonas.assert_given_back();
}

#[test]
fn the_friend_who_hosts_says_how_to_join_and_ends_it_for_everyone() {
    let mut mette = host((80, 24), &["--friends", "--as", "Mette"], &[]);
    mette.wait_for("Mind your ears");
    mette.type_keys(ENTER);
    mette.wait_for("Your turn to call");
    let mut jonas = join("Jonas", &mette, (80, 24));
    mette.wait_for("Jonas joined.");

    mette.type_keys("e");
    mette.wait_for("Where calls are picked from");
    mette.type_keys(DOWN);
    mette.type_keys(ENTER);
    mette.wait_for("Search: the whole neck");
    mette.type_keys(HOME);
    mette.type_keys(ENTER);
    mette.wait_for("You called D4 at 1/0.");
    jonas.wait_for("Search, then answer.");
    mette.type_keys("p");
    mette.wait_for("reveal or close it first");
    mette.type_keys("r");
    jonas.wait_for("It was D4");

    mette.type_keys("q");
    mette.wait_for("End the lesson?");
    mette.type_keys(DOWN);
    mette.type_keys(ENTER);
    assert!(mette.finish(), "who ends it need not read the end");
    mette.assert_given_back();
    jonas.wait_for("The lesson is over. It was D4");
    jonas.type_keys("q");
    assert!(jonas.finish());
    jonas.assert_given_back();
}

#[test]
fn signals_give_the_terminal_back() {
    for signal in ["TERM", "INT", "HUP", "QUIT"] {
        let mut host = host((80, 24), &[], &[]);
        let mut student = join("Mette", &host, (80, 24));
        student.signal(signal);
        student.finish();
        student.assert_given_back();
        host.signal(signal);
        host.finish();
        host.assert_given_back();
    }
}

#[test]
fn a_closed_window_ends_the_program() {
    let mut host = host((80, 24), &[], &[]);
    let mut student = join("Mette", &host, (80, 24));
    student.hang_up();
    student.finish();
    host.wait_for("Mette");
    host.hang_up();
    host.finish();
}

#[test]
fn no_colour_by_option_or_by_environment() {
    let coloured = |mut host: Pty| {
        host.wait_for("? help");
        host.type_keys("n");
        host.wait_for("Call 1, open");
        host.look(|screen| {
            let cells = (0..24).flat_map(|row| (0..80).map(move |column| (row, column)));
            cells.into_iter().any(|(row, column)| {
                screen.cell(row, column).is_some_and(|cell| {
                    cell.fgcolor() != vt100::Color::Default
                        || cell.bgcolor() != vt100::Color::Default
                })
            })
        })
    };
    assert!(coloured(host((80, 24), &[], &[])));
    assert!(!coloured(host((80, 24), &["--no-colour"], &[])));
    assert!(!coloured(host((80, 24), &[], &[("NO_COLOR", "1")])));
}

#[test]
fn a_panic_gives_the_terminal_back_and_then_speaks() {
    const CHILD: &str = "FIFTHPEG_TEST_PANIC_ON_SCREEN";
    if std::env::var_os(CHILD).is_some() {
        let guard = fifthpeg_screen::guard::TerminalGuard::take();
        let mut guard = guard.expect("this is the child, on a terminal");
        let drawn = guard.draw(|frame| {
            frame.render_widget("drawn before the fault", frame.area());
        });
        drawn.expect("it draws");
        std::thread::sleep(std::time::Duration::from_millis(500));
        panic!("a fault made on purpose");
    }
    let test = std::env::current_exe().expect("the test's own path");
    let arguments = [
        "--exact",
        "a_panic_gives_the_terminal_back_and_then_speaks",
        "--nocapture",
        "--test-threads=1",
    ];
    // Without a backtrace, so that all it says fits the screen.
    let variables = [(CHILD, "1"), ("RUST_BACKTRACE", "0")];
    let mut child = Pty::start("child", &test, &arguments, &variables, (80, 24));
    child.wait_for("drawn before the fault");
    assert!(child.look(vt100::Screen::alternate_screen));
    assert!(!child.finish());
    child.wait_for("a fault made on purpose");
    child.assert_given_back();
}
