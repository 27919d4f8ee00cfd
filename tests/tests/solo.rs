//! A lesson alone with the real program: in plain mode and on a screen, into
//! the book, killed and gone on with, and without any socket.

use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use fifthpeg_tests::process::Process;
use fifthpeg_tests::program::{program, run, temporary};
use fifthpeg_tests::pty::Pty;

/// Every open string of the banjo: one of them is the note of a call in the
/// reach `open`.
const OPEN_STRINGS: [&str; 5] = ["1/0", "2/0", "3/0", "4/0", "5/0"];

fn solo(book: &Path, arguments: &[&str]) -> Process {
    let mut command = Command::new(program());
    command
        .args(["solo", "--plain", "--output", "none", "--reach", "open"])
        .arg("--book")
        .arg(book)
        .args(arguments);
    Process::start("solo", &mut command)
}

/// Answers with open strings until the note is found and shown.
fn find(solo: &mut Process) {
    let shown = solo.lines_of("reveal").len();
    for place in OPEN_STRINGS {
        solo.type_line(&format!("answer {place}"));
        solo.type_line("wait mark");
        solo.wait_for("waited mark");
        if solo
            .lines_of("mark")
            .last()
            .is_some_and(|l| l.ends_with("right"))
        {
            // Before or after the end of the wait: nothing orders the two.
            let deadline = Instant::now() + Duration::from_secs(30);
            while solo.lines_of("reveal").len() == shown {
                assert!(Instant::now() < deadline, "{:?}", solo.lines());
                std::thread::sleep(Duration::from_millis(10));
            }
            return;
        }
    }
    panic!("no open string was right: {:?}", solo.lines());
}

#[test]
fn a_lesson_alone_from_a_script_is_in_the_report() {
    let folder = temporary("solo");
    let book = folder.join("home.book");
    let script = folder.join("script.txt");
    std::fs::write(
        &script,
        "reveal # nothing is called yet\n\
         next\nwait call\ntry 1/0\nhear\nnext # one is open\nreveal\nwait reveal\n\
         next\nwait call\nanswer 1/0\nwait mark\nreveal\nwait reveal\n\
         gap 1\nwait call\ngap off\ngap\nwhere\ntally\nend\n",
    )
    .expect("a script");
    let mut solo = solo(
        &book,
        &[
            "--as",
            "Mia",
            "--class",
            "Village hall",
            "--seed",
            "4",
            "--script",
            script.to_str().expect("UTF-8"),
        ],
    );
    let (code, lines, errors) = solo.finish();
    let text = lines.join("\n");
    assert_eq!(code, Some(0), "{text}\n{errors}");
    let has = |wanted: &str| assert!(text.contains(wanted), "no {wanted:?} in\n{text}");
    has("error line 1: no note is called: type next");
    has("a note is called: answer it, or type reveal");
    has("picking teaching");
    has("call 1 sounding");
    has("call 3 sounding");
    has("gap 1.00 s after one is shown");
    has("gap off: next calls a note");
    has("ended the lesson is over");
    assert!(!text.contains("address "), "{text}");
    assert_eq!(lines.iter().filter(|l| l.starts_with("reveal ")).count(), 2);

    let book = book.to_str().expect("UTF-8");
    let report = run(&[
        "report",
        "--book",
        book,
        "--class",
        "Village hall",
        "--student",
        "Mia",
    ]);
    assert_eq!(report.code, Some(0), "{}", report.errors);
    assert!(report.output.contains("Mia"), "{}", report.output);
    let json = run(&["report", "--book", book, "--student", "Mia", "--as", "json"]);
    assert!(json.output.contains("Mia"), "{}", json.output);
}

#[test]
fn a_lesson_alone_leaves_a_teacher_s_reports_as_they_were() {
    let folder = temporary("solo");
    let (book, script) = (folder.join("hall.book"), folder.join("script.txt"));
    let path = book.to_str().expect("UTF-8");
    std::fs::write(&script, "end\n").expect("a script");
    let script = script.to_str().expect("UTF-8");
    let held = |class: &str| {
        let host = ["host", "--book", path, "--name", class, "--plain", "--open"];
        let more = ["--no-announce", "--output", "none", "--script", script];
        let held = run(&[&host[..], &more[..]].concat());
        assert_eq!(held.code, Some(0), "{}", held.errors);
    };
    held("Choir");
    let mut alone = solo(&book, &["--as", "Me", "--script", script]);
    assert_eq!(alone.finish().0, Some(0));
    let report = run(&["report", "--book", path]);
    assert_eq!(report.code, Some(0), "{}", report.errors);
    assert!(report.output.contains("Choir"), "{}", report.output);
    let note = "note: this is about Choir; the lesson book also has practice alone in Solo: \
                name it with --class to have it instead\n";
    assert_eq!(report.errors, note);
    let other = run(&["report", "--book", path, "--class", "Solo"]);
    assert_eq!((other.code, other.errors.as_str()), (Some(0), ""));
    // Of two classes nobody can say which is meant.
    held("Band");
    let which = run(&["report", "--book", path]);
    assert_eq!(which.code, Some(2), "{}", which.output);
    assert!(which.errors.contains("--class"), "{}", which.errors);
}

#[test]
fn what_is_typed_after_an_answer_does_not_overtake_it() {
    let folder = temporary("solo");
    let script = folder.join("script.txt");
    std::fs::write(&script, "next\nwait call\nanswer 1/9\nend\n").expect("a script");
    let script = script.to_str().expect("UTF-8");
    for seed in ["1", "2", "3", "4", "5"] {
        let book = folder.join(format!("{seed}.book"));
        let mut solo = solo(&book, &["--as", "Mia", "--seed", seed, "--script", script]);
        let (code, lines, errors) = solo.finish();
        let text = lines.join("\n");
        assert_eq!(code, Some(0), "{text}\n{errors}");
        assert_eq!(solo.lines_of("mark").len(), 1, "{text}");
    }
}

#[test]
fn killed_and_gone_on_with() {
    let folder = temporary("solo");
    let book = folder.join("home.book");
    let mut first = solo(&book, &["--as", "Mia"]);
    first.wait_for("joined Mia");
    first.type_line("next");
    first.wait_for("call 1 sounding");
    find(&mut first);
    first.type_line("next");
    first.wait_for("call 2 sounding");
    first.kill();

    let mut again = solo(&book, &["--as", "mia"]);
    again.wait_for("book the lesson goes on where it was less than a minute ago");
    again.wait_for("joined Mia");
    // The note that was open is asked again.
    again.wait_for("call 2");
    find(&mut again);
    again.type_line("end");
    let (code, lines, errors) = again.finish();
    let text = lines.join("\n");
    assert_eq!(code, Some(0), "{text}\n{errors}");
    let rows: Vec<_> = lines
        .iter()
        .filter(|l| l.starts_with("result Mia"))
        .collect();
    assert_eq!(rows.len(), 1, "one player, once: {text}");
    let sums: Vec<&str> = rows[0].split_whitespace().take(4).collect();
    assert_eq!(sums, ["result", "Mia", "2", "2"], "{text}");
}

/// Which sockets a process holds: the links of its open files say `socket:`
/// and a number, as proc(5) has it.
#[cfg(target_os = "linux")]
fn sockets(process: u32) -> Vec<String> {
    let files = std::fs::read_dir(format!("/proc/{process}/fd")).expect("a live process");
    files
        .flatten()
        .filter_map(|file| std::fs::read_link(file.path()).ok())
        .map(|link| link.to_string_lossy().into_owned())
        .filter_map(|link| Some(link.strip_prefix("socket:[")?.strip_suffix(']')?.to_owned()))
        .collect()
}

/// The numbers of all sockets of the network: the tenth column of
/// `/proc/net/tcp` and the others (proc_net(5)).
#[cfg(target_os = "linux")]
fn of_the_network(process: u32) -> Vec<String> {
    ["tcp", "tcp6", "udp", "udp6", "raw", "raw6"]
        .iter()
        .filter_map(|kind| std::fs::read_to_string(format!("/proc/{process}/net/{kind}")).ok())
        .flat_map(|table| {
            let numbers = table
                .lines()
                .skip(1)
                .filter_map(|line| line.split_whitespace().nth(9));
            numbers.map(str::to_owned).collect::<Vec<_>>()
        })
        .collect()
}

#[cfg(target_os = "linux")]
#[test]
fn no_socket_of_the_network_is_opened() {
    let held = |process: u32| {
        let all = of_the_network(process);
        let own = sockets(process);
        own.into_iter()
            .filter(|number| all.contains(number))
            .count()
    };
    let folder = temporary("solo");
    let mut alone = solo(&folder.join("home.book"), &["--as", "Mia"]);
    alone.type_line("next");
    alone.wait_for("call 1 sounding");
    assert_eq!(held(alone.id()), 0);
    alone.type_line("end");
    alone.finish();
    // The same look sees the socket of a host.
    let (host, _) = fifthpeg_tests::program::host(&[]);
    assert_ne!(held(host.id()), 0);
}

#[test]
fn on_a_screen_from_the_first_note_to_the_account() {
    for size in [(80, 24), (200, 50)] {
        let folder = temporary("solo");
        let book = folder.join("home.book");
        let book = book.to_str().expect("UTF-8");
        let arguments = [
            "solo", "--as", "Mia", "--output", "none", "--reach", "open", "--book", book,
        ];
        let mut screen = Pty::start("solo", program(), &arguments, &[], size);
        screen.wait_for("Mind your ears");
        screen.type_keys("\r");
        screen.wait_for("Ready? Enter calls the first note.");
        screen.type_keys("\r");
        screen.wait_for("Search, then answer.");
        screen.wait_for("call 1:");
        // The cursor begins on an open string; the note is one of them.
        for _ in 0..5 {
            // Trying a place chooses it.
            screen.type_keys(" \r");
            screen.wait_until("an answer is marked", |screen| {
                let text = screen.contents();
                text.contains("It was ") || text.contains("× 1/0")
            });
            if screen.text().contains("It was ") {
                break;
            }
            screen.type_keys("r");
            screen.wait_for("It was ");
        }
        screen.wait_for("next note");
        // So soon after an answer Enter may still be meant for it, and does nothing.
        std::thread::sleep(std::time::Duration::from_millis(1200));
        screen.type_keys("\r");
        screen.wait_for("call 2:");
        // The note before is gone from the screen: what is shown next is this one.
        screen.wait_for("Search, then answer.");
        screen.type_keys("r");
        screen.wait_for("It was ");
        screen.type_keys("p");
        // On a slow machine it is due at once, and takes the words' line.
        screen.wait_until("notes come by themselves", |screen| {
            let text = screen.contents();
            text.contains("The next note comes by itself") || text.contains("call 3:")
        });
        screen.type_keys("p");
        screen.type_keys("q");
        screen.wait_for("End the lesson?");
        screen.type_keys("\u{1b}[B\r");
        assert!(screen.finish());
        screen.wait_for("fifthpeg report");
        screen.wait_for("the lesson is over");
    }
}

#[test]
fn practice_at_home_comes_to_the_teacher_by_one_command_each() {
    let folder = temporary("solo");
    let at = |name: &str| folder.join(name).to_str().expect("UTF-8").to_owned();
    let done = |arguments: &[&str]| {
        let outcome = run(arguments);
        assert_eq!(outcome.code, Some(0), "{arguments:?}: {}", outcome.errors);
        outcome.output
    };
    let (hall, home, sent) = (at("hall.book"), at("home.book"), at("mia.json"));
    std::fs::write(at("end"), "end\n").expect("a script");
    let class = ["--name", "Thursday class", "--script", &at("end")];
    let host = [
        "host",
        "--book",
        &hall,
        "--plain",
        "--open",
        "--no-announce",
    ];
    done(&[&host[..], &["--output", "none"], &class[..]].concat());

    std::fs::write(at("script"), "next\nwait call\nreveal\nwait reveal\nend\n").expect("a script");
    let practise = |arguments: &[&str]| {
        let mut alone = solo(
            Path::new(&home),
            &[&["--script", &at("script")], arguments].concat(),
        );
        let (code, lines, errors) = alone.finish();
        assert_eq!(code, Some(0), "{errors}");
        lines.join("\n")
    };
    practise(&["--as", "Mia"]);
    // The second time the book knows her.
    let said = practise(&[]);
    assert!(
        said.contains("book practising as Mia of Solo: start with --as NAME"),
        "{said}"
    );
    done(&[
        "book", "export", "--as", "json", "--to", &sent, "--book", &home,
    ]);

    let import = ["book", "import", &sent, "--book", &hall];
    let names = ["--class", "thursday CLASS", "--as", "Mia"];
    let took = done(&[&import[..], &names[..]].concat());
    assert!(
        took.contains("took 2 new lessons and 1 new person"),
        "{took}"
    );
    let twice = done(&[&import[..], &names[..]].concat());
    assert!(twice.starts_with("nothing in "), "{twice}");
    let lessons = done(&["book", "lessons", "--book", &hall]);
    assert_eq!(lessons.matches("  alone  ").count(), 2, "{lessons}");
    assert_eq!(lessons.matches("  class  0  ").count(), 1, "{lessons}");
    assert_eq!(lessons.matches("Thursday class  ").count(), 4, "{lessons}");

    let report = done(&["report", "--book", &hall, "--as", "json"]);
    assert!(report.contains("\"calls\": 0,"), "{report}");
    let mia = done(&["report", "--book", &hall, "--student", "Mia"]);
    assert!(
        mia.contains("In 2 sessions of practice alone Mia was asked"),
        "{mia}"
    );
}

/// Asked in lines, done by the same tables, on any terminal.
#[test]
fn started_without_a_word_it_asks_and_shows_the_command() {
    for (size, variables) in [((80, 24), &[][..]), ((60, 20), &[("NO_COLOR", "1")][..])] {
        let mut asks = Pty::start("start", program(), &[], variables, size);
        asks.wait_for("What would you like to do?");
        asks.wait_for("Type a number:");
        asks.type_keys("5\r");
        asks.wait_for("About whom?");
        asks.type_keys("Mia\r");
        asks.wait_for("here, as text");
        asks.type_keys("\r");
        asks.wait_for("fifthpeg report --student Mia");
        asks.type_keys("\r");
        // There is no book here: that is said as by the command itself.
        asks.wait_for("error:");
        asks.finish();
    }
    let mut leaves = Pty::start("start", program(), &[], &[], (80, 24));
    leaves.wait_for("What would you like to do?");
    leaves.type_keys("q\r");
    assert!(leaves.finish(), "leaving is no failure");
}
