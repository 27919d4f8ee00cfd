//! `--log` with the real program: what is in it, above all what is not, and that it disturbs nothing.

use std::path::{Path, PathBuf};
use std::process::Command;

use fifthpeg_log::{Detail, FIELDS};
use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::process::Process;
use fifthpeg_tests::pty::Pty;
use fifthpeg_tests::{host_with, join_with, program, temporary};

const ALL: (&str, &str) = ("FIFTHPEG_LOG_LEVEL", "all");

fn text(path: &Path) -> &str {
    path.to_str().expect("a name in UTF-8")
}

/// The lines of a log, each looked at: when, how important, where, what, and fields of the table.
fn read(log: &Path) -> Vec<String> {
    let written = std::fs::read_to_string(log).expect("a log");
    let mut lines = written.lines().map(str::to_owned);
    assert_eq!(lines.next().as_deref(), Some("fifthpeg log 1"));
    let lines: Vec<String> = lines.collect();
    for line in &lines {
        let words: Vec<&str> = line.split_whitespace().collect();
        let (head, fields) = words.split_at(4.min(words.len()));
        assert!(head[0].ends_with('Z') && head[0].contains('T'), "{line}");
        assert!(
            Detail::WORDS.iter().any(|(word, _)| *word == head[1]),
            "{line}"
        );
        for field in fields {
            let name = field.split_once('=').map(|(name, _)| name);
            let known = FIELDS.iter().any(|(known, _)| Some(*known) == name);
            assert!(known, "{field} in {line}");
        }
    }
    lines
}

fn has(lines: &[String], wanted: &str) {
    let found = lines.iter().any(|line| line.contains(wanted));
    assert!(found, "no {wanted:?} in\n{}", lines.join("\n"));
}

/// Nothing of who was there, what was played and what lets somebody in.
fn tells_on_nobody(lines: &[String], secrets: &[&str]) {
    for line in lines {
        let lower = line.to_lowercase();
        for secret in secrets {
            assert!(
                !lower.contains(&secret.to_lowercase()),
                "{secret:?} in {line}"
            );
        }
        // Notes by name, and places as STRING/FRET.
        for word in line.split(|c: char| !(c.is_alphanumeric() || "#/".contains(c))) {
            let mut signs = word.chars();
            let letter = signs.next().is_some_and(|c| ('A'..='G').contains(&c));
            let rest = signs.as_str().trim_start_matches(['#', 'b']);
            let octave = rest.len() == 1 && rest.starts_with(|c: char| c.is_ascii_digit());
            assert!(!(letter && octave), "the note {word} in {line}");
            let place = word.split_once('/').is_some_and(|(string, fret)| {
                string.parse::<u8>().is_ok() && fret.parse::<u8>().is_ok()
            });
            assert!(!place, "the place {word} in {line}");
        }
    }
}

#[test]
fn a_whole_lesson_at_its_most_talkative_tells_on_nobody() {
    let folder = temporary("log-lesson");
    let log_of = |name: &str| folder.join(format!("{name}.log"));
    let (host_log, book) = (log_of("host"), folder.join("hall.book"));
    let logged = |log: &Path| {
        [
            ("FIFTHPEG_LOG".to_owned(), text(log).to_owned()),
            (ALL.0.into(), ALL.1.into()),
        ]
    };
    fn borrowed(all: &[(String, String)]) -> Vec<(&str, &str)> {
        all.iter()
            .map(|(name, value)| (name.as_str(), value.as_str()))
            .collect()
    }

    let variables = logged(&host_log);
    let (mut host, address) = host_with(
        &[
            "--name",
            "Village hall",
            "--class",
            "Thursday class",
            "--reach",
            "twelve",
            "--book",
            text(&book),
        ],
        &borrowed(&variables),
    );
    let port = address.rsplit(':').next().expect("a port").to_owned();

    // Somebody tries wrong words, and is told.
    let wrong_log = log_of("wrong");
    let mut wrong = Process::start(
        "wrong",
        Command::new(program())
            .args([
                "join", &address, "--as", "Leopold", "--plain", "--output", "none",
            ])
            .args([
                "--passphrase",
                "onion-onion-onion-onion",
                "--log",
                text(&wrong_log),
            ])
            .args(["--log-level", "all"]),
    );
    host.wait_for("link a wrong passphrase");
    wrong.wait_for("hint type the words");
    // In good order: what is logged is written a moment later.
    wrong.type_line("leave");
    assert_eq!(wrong.finish().0, Some(1));

    let wav = format!("wav:{}", folder.join("wilhelmina.wav").display());
    let variables = logged(&log_of("student"));
    let mut mina = join_with(
        "Wilhelmina",
        &address,
        &["--output", &wav],
        &borrowed(&variables),
    );
    let variables = logged(&log_of("other"));
    let mut otto = join_with("Ottokar", &address, &[], &borrowed(&variables));

    host.type_line("call 2/1");
    otto.wait_for("call 1");
    mina.wait_for("call 1 sounding");
    mina.type_line("pause 0.6");
    mina.wait_for("waited pause");
    mina.type_line("try 1/4");
    mina.wait_for("tried 1/4");
    mina.type_line("answer 2/1");
    assert_eq!(mina.wait_for("mark "), "mark 2/1 right");
    otto.type_line("answer F#4");
    otto.wait_for("mark F#4 missed");

    // The book is held by another program for a while.
    let holder = rusqlite::Connection::open(&book).expect("the book");
    holder.execute_batch("BEGIN IMMEDIATE").expect("held");
    otto.type_line("answer 3/5");
    host.wait_for("book answers wait");
    holder.execute_batch("ROLLBACK").expect("let go");
    drop(holder);
    otto.wait_for("mark 3/5");

    // A terminal dies, and its student does not come back.
    otto.kill();
    host.wait_for("away Ottokar");
    host.type_line("reveal");
    mina.wait_for("reveal C4");
    host.type_line("close");
    mina.wait_for("closed ");
    host.type_line("end");
    assert_eq!(host.finish().0, Some(0));
    assert_eq!(mina.finish().0, Some(0));

    let folder_name = folder
        .file_name()
        .and_then(|name| name.to_str())
        .expect("a name");
    let mut secrets = vec![
        "Wilhelmina",
        "Ottokar",
        "Leopold",
        "Village",
        "hall.book",
        "Thursday",
        "banjo",
        "127.0.0.1",
        "261.6",
        "369.9",
        "onion",
        ".wav",
        folder_name,
    ];
    secrets.extend(PASSPHRASE.split('-'));
    let logs = ["host", "wrong", "student", "other"].map(|name| read(&log_of(name)));
    for lines in &logs {
        tells_on_nobody(lines, &secrets);
        has(lines, "started command=");
        has(lines, concat!("version=", env!("CARGO_PKG_VERSION")));
    }
    let [host, wrong, student, other] = &logs;
    has(host, &format!("port={port}"));
    has(host, "locked=true announced=false kind=Writing");
    has(host, "through-lock kind=words at=here");
    has(host, "notice kind=WrongPassphrase at=here");
    has(host, "joined connection=");
    has(host, "lesson kind=CallMade");
    has(host, "lesson kind=Answered");
    has(host, "book-stored count=");
    has(host, "book-waits error=Locked");
    has(host, "notice kind=BookBack");
    has(host, "gone connection=");
    has(host, "ended code=0");
    has(wrong, "not-in error=Lock:Wrong");
    has(student, "output-opened kind=wav");
    has(student, "status kind=In at=here locked=true");
    has(student, "clock delay_us=");
    has(student, "sounded audible=true");
    has(student, "answer-sent call=1 serial=1");
    has(student, "heard kind=Marked");
    has(student, "status kind=Ended");
    has(other, "answer-sent call=1 serial=1");
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

/// Runs one command to its end with a log, and gives back its exit code and what it said.
fn run(
    arguments: &[&str],
    variables: &[(&str, &str)],
    state: &Path,
) -> (Option<i32>, String, String) {
    let mut command = Command::new(program());
    command
        .args(arguments)
        .envs(variables.iter().copied())
        .env("XDG_CONFIG_HOME", state);
    let mut process = Process::start("fifthpeg", &mut command);
    process.end_input();
    let (code, lines, errors) = process.finish();
    (code, lines.join("\n"), errors)
}

#[test]
fn every_command_says_that_it_began_and_how_it_ended() {
    let folder = temporary("log-commands");
    let log = folder.join("all.log");
    let book = folder.join("hall.book");
    let (log_name, book) = (text(&log), text(&book));
    let track = folder.join("week");
    let commands: [(&[&str], i32); 6] = [
        (
            &[
                "solo", "--as", "Mia", "--plain", "--output", "none", "--book", book,
            ],
            0,
        ),
        (&["neck", "--places", "F#4"], 0),
        (
            &[
                "listen",
                "--plain",
                "--output",
                "none",
                "--microphone",
                "none",
            ],
            0,
        ),
        (&["book", "people", "--book", book], 0),
        (&["report", "--book", book, "--student", "Nobody"], 2),
        (
            &["track", text(&track), "--calls", "1", "--write", "midi"],
            0,
        ),
    ];
    for (arguments, code) in commands {
        let (ended, said, errors) = run(arguments, &[("FIFTHPEG_LOG", log_name), ALL], &folder);
        assert_eq!(ended, Some(code), "{arguments:?}: {said}\n{errors}");
        let lines = read(&log);
        let command = format!("started command={}", arguments[0]);
        has(&lines, &command);
        let last = lines.last().expect("lines");
        assert!(last.contains(&format!("ended code={code}")), "{last}");
        // One sentence for whoever sits there, and the kinds in the log.
        assert_eq!(errors.lines().count(), usize::from(code != 0), "{errors}");
        assert_eq!(last.contains("error="), code != 0, "{last}");
        tells_on_nobody(&lines, &["Mia", "Nobody", "hall.book", "week"]);
    }
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = log.metadata().expect("there").permissions().mode();
        assert_eq!(mode & 0o777, 0o600);
    }
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

#[test]
fn a_file_that_is_no_log_is_left_alone_and_named() {
    let folder = temporary("log-refused");
    let song = folder.join("song.txt");
    std::fs::write(&song, "la la").expect("a file");
    let missing = folder.join("none/at/all.log");
    let cases: [(&[&str], &str); 4] = [
        (
            &["--log", text(&song)],
            "song.txt is not a log of fifthpeg and was left as it is",
        ),
        (&["--log", text(&folder)], "is not a log of fifthpeg"),
        (
            &["--log", text(&missing)],
            "all.log (No such file or directory",
        ),
        (
            &["--log", text(&song), "--log-level", "loud"],
            "--log-level: say trouble, steps, detail or all",
        ),
    ];
    for (options, wanted) in cases {
        let arguments = [&["neck", "--list"], options].concat();
        let (code, said, errors) = run(&arguments, &[], &folder);
        assert_eq!((code, said.as_str()), (Some(2), ""), "{errors}");
        assert!(errors.contains(wanted), "{errors}");
        assert_eq!(errors.lines().count(), 1, "{errors}");
    }
    let named = [
        ("FIFTHPEG_LOG", text(&missing)),
        ("FIFTHPEG_LOG_LEVEL", "loud"),
    ];
    let (code, _, errors) = run(&["neck", "--list"], &named, &folder);
    assert_eq!(code, Some(2));
    assert!(
        errors.contains("FIFTHPEG_LOG_LEVEL: say trouble"),
        "{errors}"
    );
    assert_eq!(std::fs::read_to_string(&song).expect("there"), "la la");
    // An empty variable asks for nothing.
    let (code, _, errors) = run(&["neck", "--list"], &[("FIFTHPEG_LOG", "")], &folder);
    assert_eq!((code, errors.as_str()), (Some(0), ""));
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

#[test]
fn a_screen_stays_whole_beside_it() {
    let folder = temporary("log-screen");
    let log = folder.join("screen.log");
    let arguments = [
        "host",
        "--name",
        "Village hall",
        "--no-announce",
        "--bind",
        "127.0.0.1",
        "--output",
        "none",
        "--no-book",
        "--log",
        text(&log),
        "--log-level",
        "all",
    ];
    let mut host = Pty::start("host", program(), &arguments, &[], (80, 24));
    host.wait_for("To join");
    host.type_keys("n");
    host.wait_for("Call 1");
    let shown = host.text();
    for word in ["started", "command=", "trouble", "kind="] {
        assert!(!shown.contains(word), "{word} on\n{shown}");
    }
    host.type_keys("\u{3}");
    host.type_keys("\u{3}");
    assert!(host.finish());
    host.assert_given_back();
    let lines = read(&log);
    has(&lines, "lesson kind=CallMade");
    has(&lines, "ended code=");
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

/// All Rust files below a folder.
fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
        let path = entry.path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|end| end == "rs") {
            found.push(path);
        }
    }
}

#[test]
fn each_event_has_a_name_of_its_own_and_no_message() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates");
    let mut files = Vec::new();
    sources(&crates, &mut files);
    let mut events = 0;
    for file in files {
        let source = std::fs::read_to_string(&file).expect("a source");
        if !source.contains("use tracing::") {
            continue;
        }
        for level in ["trace!(", "debug!(", "info!(", "warn!(", "error!("] {
            for (at, _) in source.match_indices(level) {
                let after = source[at + level.len()..].trim_start();
                let name = after.strip_prefix("name: \"");
                let end = after.split(");").next().unwrap_or(after);
                assert!(name.is_some(), "{}: {end}", file.display());
                events += 1;
                // Values alone: a text after the fields would be a message.
                let fields = end.split_once(',').map_or("", |(_, fields)| fields);
                assert!(
                    !fields.trim_start().starts_with('"'),
                    "{}: {end}",
                    file.display()
                );
            }
        }
    }
    assert!(events > 40, "{events} events were found");
}

#[test]
fn the_page_on_privacy_names_every_field() {
    let page = include_str!("../../docs/privacy.md");
    for (field, meaning) in FIELDS {
        let row = format!("| `{field}` | {meaning} |");
        assert!(page.contains(&row), "docs/privacy.md does not have: {row}");
    }
}
