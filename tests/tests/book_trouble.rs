//! A lesson book that cannot be written: the lesson starts and goes on, answers
//! that wait say so, and nothing is confirmed that is not written down.

use std::path::Path;
use std::process::Command;

use fifthpeg_tests::net::PASSPHRASE;
use fifthpeg_tests::{Process, host, join, program, skip, temporary};

/// A call that Mia answers with a place that is right.
fn call_and_answer(host: &mut Process, mia: &mut Process) {
    host.type_line("call 2/0");
    mia.wait_for("call ");
    mia.type_line("answer 2/0");
}

/// Mia is told, and the lesson ends as always.
fn goes_on(host: &mut Process, address: &str) {
    let mut mia = join("Mia", address, &[]);
    call_and_answer(host, &mut mia);
    mia.wait_for("mark ");
    host.type_line("end");
    mia.wait_for("ended ");
    let (code, lines, _) = host.finish();
    assert_eq!(code, Some(0), "{}", lines.join("\n"));
}

fn book_lines(host: &Process) -> String {
    host.lines_of("book").join("\n")
}

#[test]
fn a_damaged_book_stops_no_lesson() {
    let folder = temporary("book-damaged");
    let book = folder.join("lessons.book");
    let path = book.to_str().expect("a name");
    let (mut first, address) = host(&["--book", path]);
    goes_on(&mut first, &address);
    let mut bytes = std::fs::read(&book).expect("a book");
    let middle = bytes.len() / 2;
    bytes[4096..middle].fill(0x5a);
    std::fs::write(&book, &bytes).expect("damage");

    let (mut second, address) = host(&["--book", path]);
    let said = book_lines(&second);
    assert!(said.contains("is damaged"), "{said}");
    assert!(said.contains("the lesson goes on"), "{said}");
    goes_on(&mut second, &address);
    assert!(
        std::fs::read(&book).expect("the file") == bytes,
        "it was written to"
    );
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

#[test]
fn a_book_held_by_another_program_stops_no_lesson() {
    let folder = temporary("book-held");
    let book = folder.join("lessons.book");
    let path = book.to_str().expect("a name");
    let other = hold(&book, true);
    let (mut host, address) = host(&["--book", path]);
    let said = book_lines(&host);
    assert!(said.contains("in use by another program"), "{said}");
    goes_on(&mut host, &address);
    drop(other);
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

/// Another program that writes and does not end. A new file is made for it.
fn hold(book: &Path, fresh: bool) -> rusqlite::Connection {
    if fresh {
        drop(fifthpeg_book::Book::open(book).expect("a book"));
    }
    let other = rusqlite::Connection::open(book).expect("the file opens");
    other.execute_batch("BEGIN IMMEDIATE").expect("a lock");
    other
}

#[test]
fn answers_wait_while_the_book_is_held_and_are_marked_after() {
    let folder = temporary("book-waits");
    let book = folder.join("lessons.book");
    let (mut host, address) = host(&["--book", book.to_str().expect("a name")]);
    let mut mia = join("Mia", &address, &[]);
    let other = hold(&book, false);
    call_and_answer(&mut host, &mut mia);
    mia.wait_for("answer waits to be written down");
    let said = host.wait_for("book answers wait");
    assert!(said.contains("in use by another program"), "{said}");
    assert!(mia.lines_of("mark").is_empty(), "confirmed and not written");
    // The lesson goes on meanwhile: newcomers, the reveal, the next call.
    let mut ivo = join("Ivo", &address, &[]);
    ivo.wait_for("call ");
    host.type_line("reveal");
    mia.wait_for("reveal ");
    assert!(mia.lines_of("mark").is_empty(), "confirmed and not written");
    other.execute_batch("ROLLBACK").expect("let go");
    host.wait_for("book everything that waited is written down");
    mia.wait_for("mark ");
    host.type_line("close");
    host.type_line("end");
    assert_eq!(host.finish().0, Some(0));
    let reader = fifthpeg_book::Reader::open(&book).expect("the book");
    let lessons = reader.lessons("Lesson").expect("its lessons");
    assert_eq!((lessons.len(), lessons[0].found), (1, 1));
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

#[test]
fn a_host_can_go_on_without_the_book() {
    let folder = temporary("book-without");
    let book = folder.join("lessons.book");
    let (mut host, address) = host(&["--book", book.to_str().expect("a name")]);
    let mut mia = join("Mia", &address, &[]);
    let other = hold(&book, false);
    call_and_answer(&mut host, &mut mia);
    host.wait_for("book answers wait");
    host.type_line("without-book");
    host.wait_for("book the lesson goes on without");
    mia.wait_for("mark ");
    host.type_line("without-book");
    let error = host.wait_for("error");
    assert!(error.contains("not being written down"), "{error}");
    host.type_line("end");
    mia.wait_for("ended ");
    assert_eq!(host.finish().0, Some(0));
    drop(other);
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

/// A host on a disk of its own, set up by shell commands that know the folder
/// as `$D`; `None` where this machine lets nobody mount.
fn host_on_disk(folder: &Path, before: &str) -> Option<(Process, String)> {
    let able = Command::new("unshare")
        .args(["-m", "sh", "-c", "mount -t tmpfs -o size=1m none \"$D\""])
        .env("D", folder)
        .output();
    if !able.is_ok_and(|output| output.status.success()) {
        skip("no disk can be mounted for the test, which takes root");
        return None;
    }
    let script = format!(
        "mount -t tmpfs -o size=1m none \"$D\" && {before} && exec \"$0\" host --plain \
         --no-announce --bind 127.0.0.1 --port 0 --output none --passphrase {PASSPHRASE} \
         --book \"$D/lessons.book\""
    );
    let mut command = Command::new("unshare");
    command
        .args(["-m", "sh", "-c", &script])
        .arg(program())
        .env("D", folder);
    let mut host = Process::start("host", &mut command);
    let line = host.wait_for("address ");
    Some((host, line.trim_start_matches("address ").to_owned()))
}

#[test]
fn a_read_only_disk_stops_no_lesson() {
    let folder = temporary("book-read-only");
    let before = "touch \"$D/lessons.book\" && mount -o remount,ro \"$D\"";
    let Some((mut host, address)) = host_on_disk(&folder, before) else {
        return;
    };
    let said = book_lines(&host);
    assert!(said.contains("may be read but not written"), "{said}");
    goes_on(&mut host, &address);
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

#[test]
fn answers_wait_while_the_disk_is_full() {
    let folder = temporary("book-full");
    let Some((mut host, address)) = host_on_disk(&folder, "true") else {
        return;
    };
    let mut mia = join("Mia", &address, &[]);
    // The host's own view of its disk.
    let disk = format!("/proc/{}/root{}", host.id(), folder.display());
    let filler = Path::new(&disk).join("filler");
    fill(&filler);
    // Some room may be left in the file itself.
    for _ in 0..200 {
        call_and_answer(&mut host, &mut mia);
        host.wait_for("answer ");
        host.type_line("close");
        std::thread::sleep(std::time::Duration::from_millis(20));
        if book_lines(&host).contains("the disk is full") {
            break;
        }
    }
    let said = book_lines(&host);
    assert!(said.contains("the disk is full"), "{said}");
    std::fs::remove_file(filler).expect("room is made");
    host.wait_for("book everything that waited is written down");
    host.type_line("end");
    mia.wait_for("ended ");
    assert_eq!(host.finish().0, Some(0));
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

/// A report that finds no room leaves the one that it was to replace.
#[test]
fn a_report_on_a_full_disk_leaves_the_older_one() {
    let folder = temporary("report-full");
    let book = folder.join("lessons.book");
    let (mut first, address) = host(&["--book", book.to_str().expect("a name")]);
    goes_on(&mut first, &address);
    let disk = folder.join("disk");
    std::fs::create_dir(&disk).expect("a folder");
    let script = "mount -t tmpfs -o size=256k none \"$D\" || exit 77
        \"$0\" report --book \"$B\" --as page --to \"$D/r.html\" || exit 78
        cp \"$D/r.html\" \"$B.before\"
        head -c 10000000 /dev/zero > \"$D/filler\"
        \"$0\" report --book \"$B\" --as page --to \"$D/r.html\" --replace
        code=$?
        cmp \"$D/r.html\" \"$B.before\" || exit 79
        ls \"$D\" -A | grep -v -e r.html -e filler && exit 80
        exit $((code + 10))";
    let out = Command::new("unshare")
        .args(["-m", "sh", "-c", script])
        .arg(program())
        .env("D", &disk)
        .env("B", &book)
        .output();
    let code = out.as_ref().ok().and_then(|out| out.status.code());
    if !matches!(code, Some(10 | 11 | 12 | 78 | 79 | 80)) {
        skip("no disk can be mounted for the test, which takes root");
        return;
    }
    assert_eq!(code, Some(11), "{out:?}");
    let said = String::from_utf8_lossy(&out.expect("it ran").stderr).into_owned();
    assert!(said.contains("the disk is full"), "{said}");
    std::fs::remove_dir_all(folder).expect("the folder goes");
}

/// Takes all the room of a disk.
fn fill(filler: &Path) {
    use std::io::Write;
    let mut file = std::fs::File::create(filler).expect("a file");
    let mut room = 1 << 20;
    while room > 0 {
        if file.write_all(&vec![0; room]).is_err() {
            room /= 2;
        }
    }
}

/// What it is called, and how it is done to a book.
type Deed = (&'static str, fn(&Path));

/// What can become of a book in mid-lesson.
fn deeds() -> [Deed; 3] {
    [
        ("moved or deleted", |book| {
            std::fs::remove_file(book).expect("it goes");
        }),
        ("another file was put in the place", |book| {
            let other = book.with_extension("other");
            drop(fifthpeg_book::Book::open(&other).expect("another book"));
            std::fs::rename(other, book).expect("it is replaced");
        }),
        ("was written over", |book| {
            let other = book.with_extension("other");
            drop(fifthpeg_book::Book::open(&other).expect("another book"));
            let bytes = std::fs::read(&other).expect("its content");
            std::fs::write(book, bytes).expect("it is written over");
            std::fs::remove_file(other).expect("it goes");
        }),
    ]
}

#[test]
fn a_lesson_whose_book_is_gone_goes_on_in_a_new_one_with_everything() {
    for (told, deed) in deeds() {
        let folder = temporary("book-gone");
        let book = folder.join("lessons.book");
        let (mut host, address) = host(&["--book", book.to_str().expect("a name")]);
        let mut mia = join("Mia", &address, &[]);
        host.type_line("new-book");
        let error = host.wait_for("error");
        assert!(error.contains("where it belongs"), "{error}");
        call_and_answer(&mut host, &mut mia);
        mia.wait_for("mark ");
        host.type_line("close");
        deed(&book);
        call_and_answer(&mut host, &mut mia);
        let said = host.wait_for("book answers wait");
        assert!(said.contains(told), "{said}");
        mia.wait_for("answer waits to be written down");
        assert_eq!(mia.lines_of("mark").len(), 1, "confirmed and not written");
        host.type_line("new-book");
        let said = host.wait_for("book the lesson goes on in the new lesson book ");
        host.wait_for("book everything that waited is written down");
        let deadline = std::time::Instant::now() + std::time::Duration::from_secs(20);
        while mia.lines_of("mark").len() < 2 {
            assert!(std::time::Instant::now() < deadline, "never marked");
            std::thread::sleep(std::time::Duration::from_millis(20));
        }
        host.type_line("close");
        host.type_line("end");
        assert_eq!(host.finish().0, Some(0));
        let name = if told.starts_with("moved") {
            "lessons.book"
        } else {
            "lessons-2.book"
        };
        assert!(said.contains(name), "{said}");
        // Both answers stand in it, and what was put in the old one's place is whole.
        let reader = fifthpeg_book::Reader::open(&folder.join(name)).expect("the new book");
        let lessons = reader.lessons("Lesson").expect("its lessons");
        assert_eq!((lessons.len(), lessons[0].found), (1, 2), "{told}");
        assert!(lessons[0].ended_ms.is_some(), "{told}");
        drop(fifthpeg_book::Book::open(&book).expect("what is there is a book"));
        let there = fifthpeg_book::Reader::open(&book).expect("what is there");
        assert_eq!(there.faults().expect("read"), [""; 0], "{told}");
        std::fs::remove_dir_all(folder).expect("the folder goes");
    }
}

#[test]
fn a_lesson_that_ends_before_anybody_decides_stands_in_a_new_book() {
    let folder = temporary("book-gone-at-end");
    let book = folder.join("lessons.book");
    let (mut host, address) = host(&["--book", book.to_str().expect("a name")]);
    let mut mia = join("Mia", &address, &[]);
    std::fs::rename(&book, folder.join("moved.book")).expect("it is moved");
    call_and_answer(&mut host, &mut mia);
    host.wait_for("book answers wait");
    host.type_line("end");
    mia.wait_for("mark ");
    mia.wait_for("ended ");
    assert_eq!(host.finish().0, Some(0));
    let reader = fifthpeg_book::Reader::open(&book).expect("the new book");
    assert_eq!(reader.lessons("Lesson").expect("lessons")[0].found, 1);
    std::fs::remove_dir_all(folder).expect("the folder goes");
}
