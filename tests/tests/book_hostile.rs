//! A lesson book that somebody made up: whatever names it has, nothing that
//! steers a terminal comes out of any command, and what it cannot hold is not
//! taken in.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use fifthpeg_tests::{host, join, program, temporary};

/// What steers: a colour, a title, a bell, a C1 control, a turned direction, a
/// new line, a hidden sign, and a formula.
const HOSTILE: [&str; 8] = [
    "\u{1b}[31mred",
    "\u{1b}]0;title\u{7}",
    "bell\u{8}\u{7f}",
    "\u{9b}2Jgone",
    "\u{202e}aiM\u{2066}",
    "line\r\nerror: not so",
    "hid\u{200b}\u{e0041}den",
    "=1+1;＝2",
];

/// What may come out: nothing that steers but the ends of lines.
fn assert_tame(said: &[u8], what: &str) {
    let said = String::from_utf8_lossy(said);
    for line in said.split('\n') {
        let line = line.trim_end_matches('\r');
        assert!(fifthpeg_core::text::may_be_shown(line), "{what}: {line:?}");
    }
}

/// A book with a lesson of Mia's.
fn book(folder: &Path) -> PathBuf {
    let path = folder.join("lessons.book");
    let (mut host, address) = host(&["--book", path.to_str().expect("a name")]);
    let mut mia = join("Mia", &address, &[]);
    for _ in 0..3 {
        host.type_line("call 2/0");
        mia.wait_for("call ");
        mia.type_line("answer 2/0");
        mia.wait_for("mark ");
        host.type_line("close");
        mia.wait_for("closed");
    }
    host.type_line("end");
    mia.wait_for("ended ");
    assert_eq!(host.finish().0, Some(0));
    path
}

fn run(folder: &Path, words: &[&str]) -> Output {
    Command::new(program())
        .args(words)
        .current_dir(folder)
        .output()
        .expect("the program runs")
}

#[test]
fn no_name_in_a_book_steers_a_terminal() {
    let folder = temporary("hostile-names");
    let path = book(&folder);
    for (number, hostile) in HOSTILE.iter().enumerate() {
        // As only another program writes it.
        let connection = rusqlite::Connection::open(&path).expect("the file opens");
        for (table, column) in [
            ("class", "name"),
            ("class", "folded"),
            ("person", "name"),
            ("person", "folded"),
            ("lesson", "name"),
        ] {
            let sql = format!("UPDATE {table} SET {column} = ?1");
            connection.execute(&sql, [hostile]).expect("written");
        }
        connection.execute("DELETE FROM note", []).expect("no note");
        connection
            .execute(
                "INSERT INTO note (id, class, person, unix_ms, text)
                 VALUES (randomblob(16), (SELECT key FROM class), (SELECT key FROM person), 1, ?1)",
                [hostile],
            )
            .expect("a note");
        drop(connection);
        let to = |ending: &str| format!("out-{number}.{ending}");
        let (copy, json, csv) = (to("book"), to("json"), to("csv"));
        let (report, page, track) = (to("report"), to("html"), to("track"));
        let commands: Vec<Vec<&str>> = vec![
            vec!["report"],
            vec!["report", "--as", "csv"],
            vec!["report", "--as", "json"],
            vec!["report", "--as", "page"],
            vec!["report", "--to", "-"],
            vec!["report", "--lesson", "last"],
            vec!["report", "--student", hostile],
            vec!["report", "--class", "nobody"],
            vec!["report", "--to", &report],
            vec!["report", "--as", "page", "--to", &page],
            vec!["book", "people"],
            vec!["book", "lessons"],
            vec!["book", "notes"],
            vec!["book", "check"],
            vec!["book", "copy", &copy],
            vec!["book", "export", "--as", "json", "--to", &json],
            vec!["book", "export", "--as", "json", "--to", "-"],
            vec!["book", "export", "--as", "csv", "--to", &csv],
            vec!["book", "remove", "nobody"],
            vec!["book", "rename", hostile, "Mia"],
            vec!["track", &track, "--student", hostile, "--write", "midi"],
            vec!["homework", "--to", "homework", "--write", "midi"],
        ];
        for words in commands {
            let mut words = words;
            words.extend(["--book", "lessons.book"]);
            let out = run(&folder, &words);
            assert_tame(&out.stdout, &format!("{words:?}"));
            assert_tame(&out.stderr, &format!("{words:?}"));
        }
        for written in [&report, &page] {
            let held = std::fs::read(folder.join(written)).expect("a report");
            assert_tame(&held, written);
        }
        // Nor does another book take it in.
        let taken = run(
            &folder,
            &["book", "take-in", "lessons.book", "--book", "other.book"],
        );
        assert_tame(&taken.stdout, "take-in");
        assert_tame(&taken.stderr, "take-in");
        assert!(!taken.status.success(), "{hostile:?} was taken in");
        let _ = std::fs::remove_dir_all(folder.join("homework"));
    }
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

#[test]
fn a_report_says_what_it_leaves_out_and_does_not_end_well() {
    let folder = temporary("hostile-rows");
    let path = book(&folder);
    let sound = std::fs::read(&path).expect("the book");
    let whole = run(&folder, &["report", "--book", "lessons.book"]);
    assert!(whole.status.success());
    let check = run(&folder, &["book", "check", "--book", "lessons.book"]);
    assert!(check.status.success(), "{check:?}");
    // One byte of the file each time: either everything is as before, or it is
    // said and the program does not end well.
    let (mut told, mut step) = (0, 0);
    let before = String::from_utf8_lossy(&whole.stdout).into_owned();
    let mut at = 100;
    while at < sound.len() {
        let mut bytes = sound.clone();
        bytes[at] ^= 1 << (step % 8);
        std::fs::write(&path, bytes).expect("damage");
        for beside in ["lessons.book-wal", "lessons.book-shm"] {
            let _ = std::fs::remove_file(folder.join(beside));
        }
        let out = run(&folder, &["report", "--book", "lessons.book"]);
        let said = String::from_utf8_lossy(&out.stdout).into_owned();
        let found = said.contains(" of these ");
        if out.status.success() {
            assert_eq!(figures(&said), figures(&before), "byte {at}");
        } else {
            told += 1;
            assert!(
                !found || said.contains("is in no figure"),
                "byte {at}: {said}"
            );
        }
        step += 1;
        at += 4_001;
    }
    assert!(told > 2, "{told} of {step}");
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

/// A report without its names, which are not sealed.
fn figures(report: &str) -> Vec<&str> {
    report
        .lines()
        .filter(|line| line.contains(" of these ") || line.contains("string/fret"))
        .collect()
}
