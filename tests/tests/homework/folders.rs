//! What the folders hold.

use std::path::Path;
use std::process::Command;

use fifthpeg_book::{Book, Note};
use fifthpeg_tests::{host, join, program};

use crate::common::{CLASS, NAMES, command, hall, names, read, text};

/// Words of a file that holds more than text: signs that are no letters part
/// them.
fn words(bytes: &[u8]) -> Vec<String> {
    let text = String::from_utf8_lossy(bytes);
    let words = text.split(|sign: char| !sign.is_alphabetic());
    words.map(str::to_owned).collect()
}

/// Of a sound file, what comes before the samples: any letters may come of
/// those by chance.
fn told(path: &Path) -> Vec<u8> {
    let bytes = std::fs::read(path).expect("a file");
    let ending = path
        .extension()
        .and_then(|e| e.to_str())
        .expect("an ending");
    match ending {
        // The samples follow the chunk's name and size (RIFF WAVE).
        "wav" => {
            let data = bytes.windows(4).position(|four| four == b"data");
            bytes[..data.expect("samples")].to_vec()
        }
        // The last metadata block has the highest bit set (RFC 9639, 8.1).
        "flac" => {
            let (mut at, mut last) = (4, false);
            while !last {
                last = bytes[at] & 0x80 != 0;
                let length = bytes[at + 1..at + 4].iter();
                at += 4 + length.fold(0, |sum, byte| 256 * sum + usize::from(*byte));
            }
            bytes[..at].to_vec()
        }
        // The sound inside a page, by the same reason.
        "html" => {
            let page = String::from_utf8(bytes).expect("UTF-8");
            let (before, after) = page.split_once("base64,").unwrap_or((&page, ""));
            let after = after.split_once('"').map_or(after, |(_, after)| after);
            [before, after].concat().into_bytes()
        }
        _ => bytes,
    }
}

#[test]
fn each_folder_is_about_one_student_alone() {
    let hall = hall("homework-alone");
    // The teacher's own notes are nobody's homework.
    let mut book = Book::open(&hall.book).expect("the book");
    for about in NAMES {
        let mut note = Note::new(CLASS, &format!("unheardof {about}"), 0).expect("a note");
        let person = book.reader().and_then(|reader| reader.person(CLASS, about));
        note.person = Some(person.expect("a person").id);
        book.write_note(&note).expect("written");
    }
    drop(book);
    let said = hall.made(&[
        "--calls",
        "2",
        "--gap",
        "3",
        "--write",
        "wav,flac,midi,html,text",
        "--seed",
        "1",
    ]);
    assert!(said.starts_with("caution turn headphones"), "{said}");
    assert_eq!(names(&hall.to), NAMES);
    for student in NAMES {
        let folder = hall.of(student);
        let own = ["flac", "html", "mid", "txt", "wav"].map(|e| format!("{student}.{e}"));
        let mut expected: Vec<String> = own.to_vec();
        expected.push(format!("{student}-to-send.html"));
        expected
            .extend(["index.html", "report.html", "report.txt", "start.txt"].map(str::to_owned));
        expected.sort_unstable();
        let mut there = names(&folder);
        there.sort_unstable();
        assert_eq!(there, expected);
        for file in &expected {
            let words = words(&told(&folder.join(file)));
            for other in NAMES.iter().filter(|other| **other != student) {
                assert!(
                    !words.iter().any(|w| w == other),
                    "{student}: {other} in {file}"
                );
            }
            assert!(
                !words.iter().any(|w| w == "unheardof"),
                "{student}: a note in {file}"
            );
            let named = words.iter().any(|w| w == student);
            assert_eq!(
                named,
                !file.ends_with(".wav") && !file.ends_with(".flac"),
                "{student}, {file}"
            );
        }
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = std::fs::metadata(&folder)
                .expect("there")
                .permissions()
                .mode();
            assert_eq!(mode & 0o777, 0o700);
        }
    }
}

#[test]
fn the_start_page_leads_to_everything_and_says_the_same_as_text() {
    let hall = hall("homework-start");
    hall.made(&[
        "--calls",
        "2",
        "--gap",
        "3",
        "--strings-first",
        "--again",
        "--seed",
        "2",
    ]);
    for student in NAMES {
        let folder = hall.of(student);
        let (page, plain) = (
            read(&folder.join("index.html")),
            read(&folder.join("start.txt")),
        );
        let mut led: Vec<&str> = Vec::new();
        for address in ["href=\"", "src=\""] {
            let pieces = page.split(address).skip(1);
            led.extend(pieces.filter_map(|piece| piece.split('"').next()));
        }
        led.sort_unstable();
        led.dedup();
        let all = names(&folder);
        let but_itself: Vec<&str> = all
            .iter()
            .map(String::as_str)
            .filter(|f| *f != "index.html")
            .collect();
        assert_eq!(led, but_itself);
        assert!(
            !page.contains("<script") && !page.contains("http"),
            "{page}"
        );

        // Without its tags it is the text, but for numbers and signs of lists.
        let body = page.split_once("<main>").expect("a body").1;
        let tagless: String = body
            .split('<')
            .map(|piece| piece.split_once('>').map_or(piece, |(_, text)| text))
            .collect::<Vec<_>>()
            .join(" ");
        let bare = |text: &str| -> String {
            text.lines()
                .map(|line| {
                    let item = line.trim_start_matches(|c: char| c.is_ascii_digit());
                    item.strip_prefix(". ")
                        .or(line.strip_prefix("*  "))
                        .unwrap_or(line)
                })
                .flat_map(str::chars)
                .filter(|c| c.is_alphanumeric())
                .collect()
        };
        assert_eq!(bare(&tagless), bare(&plain));

        // As many calls as the report beside it counts.
        let flowing = |file: &str| {
            let text = read(&folder.join(file));
            text.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        let report = flowing("report.txt");
        let (_, counted) = report.split_once("find a note by ear ").expect("a count");
        let counted = counted.split(' ').next().expect("a number");
        let start = flowing("start.txt");
        let same = format!("for {student} alone, from {counted} calls in ");
        assert!(start.contains(&same), "{same}: {start}");

        // In this order.
        let steps = [
            "Turn down",
            "Tune",
            "Hear",
            "Sing",
            "Search",
            "Compare",
            "Check",
        ];
        let mut rest = plain.as_str();
        for (number, step) in (1..).zip(steps) {
            let step = format!("\n{number}. {step}");
            let (_, after) = rest
                .split_once(&step)
                .unwrap_or_else(|| panic!("{step}: {plain}"));
            rest = after;
        }
        assert!(
            plain.is_ascii() && plain.lines().all(|line| line.len() <= 80),
            "{plain}"
        );
    }
}

/// One file that needs no other: the very sound, and the answers.
#[test]
fn one_page_of_each_can_be_sent_as_it_is() {
    let hall = hall("homework-send");
    hall.made(&["--calls", "2", "--gap", "3", "--seed", "2"]);
    for student in NAMES {
        let folder = hall.of(student);
        let page = read(&folder.join(format!("{student}-to-send.html")));
        let (_, data) = page
            .split_once("src=\"data:audio/flac;base64,")
            .expect("the sound");
        let data = data.split('"').next().expect("its end");
        assert_eq!(page.matches("src=").count(), 1);
        let addresses: Vec<&str> = page.split("href=\"").skip(1).collect();
        assert!(
            addresses.iter().all(|a| a.starts_with("#answers\"")),
            "{addresses:?}"
        );
        let flac = std::fs::read(folder.join(format!("{student}.flac"))).expect("there");
        assert_eq!(data.len(), flac.len().div_ceil(3) * 4);
        assert!(
            data.starts_with("ZkxhQ"),
            "fLaC, as such a file begins (RFC 9639, 6)"
        );
        assert!(
            page.contains("<details><summary>Show the answers (only after the track)"),
            "{student}"
        );
        assert!(page.contains("Every place on the neck"));
        assert!(!page.contains("report.html") && !page.contains("<script"));
    }
}

#[test]
fn each_sheets_own_command_makes_its_track_again_without_the_book() {
    let hall = hall("homework-again");
    let options = ["--calls", "2", "--gap", "3", "--seed", "3"];
    hall.made(&options);
    // The same book, the same seed: the same homework, but for the day.
    let first: Vec<String> = NAMES
        .iter()
        .map(|student| command(&hall, student))
        .collect();
    hall.made(&[&options[..], &["--replace"]].concat());
    let second: Vec<String> = NAMES
        .iter()
        .map(|student| command(&hall, student))
        .collect();
    assert_eq!(first, second);

    let there = hall.folder.join("there");
    std::fs::create_dir(&there).expect("a folder");
    std::fs::remove_file(&hall.book).expect("removed");
    for (student, command) in NAMES.iter().zip(&first) {
        let outcome = Command::new("sh")
            .args(["-c", &command.replacen("fifthpeg", "\"$FIFTHPEG\"", 1)])
            .env("FIFTHPEG", program::program())
            .current_dir(&there)
            .output()
            .expect("a shell");
        assert!(outcome.status.success(), "{command}: {outcome:?}");
        for ending in ["flac", "mid", "html", "txt"] {
            let name = format!("{student}.{ending}");
            let (one, other) = (hall.of(student).join(&name), there.join(&name));
            assert!(
                std::fs::read(one).expect("made") == std::fs::read(other).expect("made again"),
                "{name}: {command}"
            );
        }
    }
}

#[test]
fn names_that_no_folder_could_have_and_a_neck_of_ones_own() {
    let hall = hall("homework-names");
    let neck = hall.folder.join("own.toml");
    let toml = fifthpeg_tests::run(&["neck", "mandolin", "--toml"]).output;
    let own = toml.replace("mandolin", "Ruth's workshop");
    assert_ne!(own, toml);
    std::fs::write(&neck, own).expect("written");
    let (mut teacher, address) = host(&[
        "--book",
        text(&hall.book),
        "--class",
        "Another class",
        "--name",
        "Strings",
        "--neck-file",
        text(&neck),
        "--reach",
        "strings=1,2 frets=0-3",
    ]);
    let mut students: Vec<_> = ["../CON", "con", "Zo\u{eb}/..", "\u{1f3b5}"]
        .iter()
        .map(|name| join(name, &address, &[]))
        .collect();
    for note in ["A4", "E5"] {
        teacher.type_line(&format!("call {note}"));
        for student in &mut students {
            student.wait_for("call ");
            student.type_line("answer A4");
            student.wait_for("mark ");
        }
        teacher.type_line("reveal");
        teacher.wait_for("reveal ");
    }
    teacher.type_line("end");
    teacher.finish();
    for mut student in students {
        student.finish();
    }
    let outcome = fifthpeg_tests::run(&[
        "homework",
        "--class",
        "another class",
        "--book",
        text(&hall.book),
        "--to",
        text(&hall.to),
        "--calls",
        "2",
        "--gap",
        "3",
        "--write",
        "midi,text",
    ]);
    assert_eq!(outcome.code, Some(0), "{outcome:?}");
    let folders = ["Zo\u{eb}", "student", "student-CON", "student-con-2"];
    assert_eq!(names(&hall.to), folders);
    for folder in folders {
        let beside = format!("{folder}-neck.toml");
        assert!(
            names(&hall.of(folder)).contains(&beside),
            "{:?}",
            names(&hall.of(folder))
        );
        let command = command(&hall, folder);
        assert!(
            command.contains(&format!(
                "--neck-file {}",
                if folder == "Zo\u{eb}" {
                    format!("'{beside}'")
                } else {
                    beside.clone()
                }
            )),
            "{command}"
        );
        let again = Command::new("sh")
            .args(["-c", &command.replacen("fifthpeg", "\"$FIFTHPEG\"", 1)])
            .args(["sh"])
            .env("FIFTHPEG", program::program())
            .current_dir(hall.of(folder))
            .output()
            .expect("a shell");
        // It lies there already, and says so: neck and notes were understood.
        let told = String::from_utf8_lossy(&again.stderr);
        assert!(
            told.contains("is there already") && !told.contains("neck"),
            "{told}"
        );
    }
}
