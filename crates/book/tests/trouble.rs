//! Files that are no sound book, disks that are full, and rights that are
//! wanting: each told in one sentence, and nothing of a file's changed.

mod common;

use std::fs;
use std::path::Path;
use std::process::Command;

use fifthpeg_book::{Book, BookError, Reader, WriterEvent};

use common::{EVENING_MS, Folder, Hall, held, setup};

/// One sentence that names the file.
fn sentence(error: &BookError, path: &Path) -> String {
    let text = error.to_string();
    assert!(!text.contains('\n') && !text.ends_with('.'), "{text}");
    assert!(text.contains(&path.display().to_string()), "{text}");
    text
}

/// Refused by both ways of opening, with every byte left as it was.
fn refused(folder: &Folder, path: &Path) -> BookError {
    // Beside a book SQLite may leave the file that readers share, and another
    // that is empty.
    let bytes = |folder: &Folder| {
        let mut files: Vec<_> = fs::read_dir(&folder.0)
            .unwrap()
            .map(|f| f.unwrap().path())
            .filter(|p| !p.to_string_lossy().ends_with("-shm"))
            .map(|p| (p.clone(), fs::read(p).unwrap()))
            .filter(|(p, bytes)| !(p.to_string_lossy().ends_with("-wal") && bytes.is_empty()))
            .collect();
        files.sort();
        files
    };
    let before = bytes(folder);
    let error = Book::open(path).unwrap_err();
    assert!(bytes(folder) == before, "something was written: {error}");
    error
}

#[test]
fn what_is_no_book_is_left_alone() {
    let folder = Folder::new("no-book");
    let path = folder.file("shopping.txt");
    for content in ["a few strings, a capo\n".to_owned(), "x".repeat(10_000)] {
        fs::write(&path, content).unwrap();
        let error = refused(&folder, &path);
        assert!(matches!(error, BookError::NotABook { .. }), "{error}");
        assert!(sentence(&error, &path).contains("is not a lesson book"));
        assert!(matches!(
            Reader::open(&path),
            Err(BookError::NotABook { .. })
        ));
    }
    // Another program's database.
    let path = folder.file("other.db");
    let other = rusqlite::Connection::open(&path).unwrap();
    other
        .execute_batch("CREATE TABLE t (x); INSERT INTO t VALUES (1)")
        .unwrap();
    drop(other);
    let error = refused(&folder, &path);
    assert!(matches!(error, BookError::NotABook { .. }), "{error}");
    // Also where its own writing was cut short.
    fs::write(folder.file("other.db-journal"), b"").unwrap();
    let error = Book::open(&path).unwrap_err();
    assert!(matches!(error, BookError::NotABook { .. }), "{error}");
    // A folder.
    let error = Book::open(&folder.0).unwrap_err();
    sentence(&error, &folder.0);
}

#[test]
fn a_damaged_book_is_kept_and_a_new_one_offered_beside_it() {
    let folder = Folder::new("damaged");
    let path = folder.book();
    for seed in 0..3 {
        held(&path, seed, EVENING_MS, &["Mia", "Ruth"]);
    }
    let sound = fs::read(&path).unwrap();
    let length = sound.len();
    let mut torn = sound.clone();
    torn[length / 2..length / 2 + 8192].fill(0x5a);
    let mut zeroed = sound.clone();
    zeroed[4096..3 * 4096].fill(0);
    let mut schema = sound.clone();
    schema[100..4096].fill(0xff);
    let cases = [
        ("torn", torn),
        ("zeroed", zeroed),
        ("schema", schema),
        ("cut", sound[..length - 4096 * 3].to_vec()),
        ("header", sound[..60].to_vec()),
    ];
    for (case, bytes) in cases {
        fs::write(&path, bytes).unwrap();
        let error = refused(&folder, &path);
        assert!(
            matches!(error, BookError::Damaged { .. }),
            "{case}: {error}"
        );
        let text = sentence(&error, &path);
        assert!(text.contains("was left as it is"), "{text}");
        let BookError::Damaged { beside, .. } = error else {
            unreachable!();
        };
        assert_eq!(beside, folder.file("lessons-2.book"));
        assert!(text.contains("lessons-2.book"), "{text}");
    }
    // The book offered can be begun, and the next name is then offered.
    Book::open(&folder.file("lessons-2.book")).unwrap();
    let error = Book::open(&path).unwrap_err();
    assert!(error.to_string().contains("lessons-3.book"), "{error}");
    fs::write(&path, sound).unwrap();
    Book::open(&path).unwrap();
}

#[test]
fn a_book_that_another_program_holds_is_waited_for_and_told_of() {
    let folder = Folder::new("held");
    let path = folder.book();
    held(&path, 1, EVENING_MS, &["Mia"]);
    let other = rusqlite::Connection::open(&path).unwrap();
    other
        .pragma_update(None, "locking_mode", "EXCLUSIVE")
        .unwrap();
    other.execute_batch("BEGIN EXCLUSIVE").unwrap();
    let error = Book::open(&path).unwrap_err();
    assert!(matches!(error, BookError::Locked { .. }), "{error}");
    assert!(sentence(&error, &path).contains("in use by another program"));
    drop(other);
    Book::open(&path).unwrap();
}

#[test]
fn a_folder_that_cannot_be_made_is_told_of() {
    let folder = Folder::new("no-folder");
    let file = folder.file("in-the-way");
    fs::write(&file, "x").unwrap();
    let path = file.join("lessons.book");
    let error = Book::open(&path).unwrap_err();
    assert!(matches!(error, BookError::NoFolder { .. }), "{error}");
    sentence(&error, &path);
    let deep = folder.file("a/b/c/lessons.book");
    Book::open(&deep).unwrap();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = |p: &Path| fs::metadata(p).unwrap().permissions().mode() & 0o777;
        // Children's names are nobody else's business.
        assert_eq!((mode(&deep), mode(&folder.file("a/b/c"))), (0o600, 0o700));
    }
    let missing = Reader::open(&folder.file("none.book")).unwrap_err();
    assert!(matches!(missing, BookError::File { .. }), "{missing}");
}

/// Runs one of the ignored tests of this file in a shell of `before`, with
/// `$0` the program. `None` where this machine cannot do that.
#[cfg(target_os = "linux")]
fn elsewhere(folder: &Folder, before: &str, test: &str) -> Option<bool> {
    let program = folder.file("program");
    fs::copy(std::env::current_exe().unwrap(), &program).unwrap();
    let script = format!("{before} && exec \"$0\" --exact {test} --ignored --nocapture");
    let output = Command::new("unshare")
        .args(["-m", "sh", "-c", &script])
        .arg(&program)
        .env("FIFTHPEG_TEST_FOLDER", &folder.0)
        .output();
    let Ok(output) = output else {
        return None;
    };
    let said = String::from_utf8_lossy(&output.stdout);
    println!("{said}{}", String::from_utf8_lossy(&output.stderr));
    said.contains("running 1 test")
        .then_some(output.status.success())
}

#[cfg(target_os = "linux")]
fn check(outcome: Option<bool>, what: &str) {
    match outcome {
        Some(passed) => assert!(passed, "{what}"),
        None if std::env::var_os("FIFTHPEG_REQUIRE_ALL").is_some() => panic!("cannot {what} here"),
        None => println!("SKIPPED: cannot {what} here"),
    }
}

#[cfg(target_os = "linux")]
fn child_folder() -> std::path::PathBuf {
    std::env::var_os("FIFTHPEG_TEST_FOLDER")
        .expect("run by another test")
        .into()
}

#[cfg(target_os = "linux")]
#[test]
fn on_a_disk_that_is_really_full_batches_wait() {
    let folder = Folder::new("full-disk");
    fs::create_dir(folder.file("disk")).unwrap();
    let mount = "mount -t tmpfs -o size=1m none \"$FIFTHPEG_TEST_FOLDER/disk\"";
    check(
        elsewhere(&folder, mount, "child_full_disk"),
        "mount a small disk",
    );
}

/// Takes all the room of a disk.
#[cfg(target_os = "linux")]
fn fill(disk: &Path) -> std::path::PathBuf {
    let filler = disk.join("filler");
    let mut room = 1 << 20;
    while room > 0 {
        let mut file = fs::OpenOptions::new()
            .append(true)
            .create(true)
            .open(&filler)
            .unwrap();
        if std::io::Write::write_all(&mut file, &vec![0; room]).is_err() {
            room /= 2;
        }
    }
    filler
}

#[cfg(target_os = "linux")]
#[test]
fn an_old_book_stays_as_it_is_where_its_copy_has_no_room() {
    let folder = Folder::new("no-copy");
    fs::create_dir(folder.file("disk")).unwrap();
    let mount = "mount -t tmpfs -o size=1m none \"$FIFTHPEG_TEST_FOLDER/disk\"";
    check(
        elsewhere(&folder, mount, "child_no_copy"),
        "mount a small disk",
    );
}

#[cfg(target_os = "linux")]
#[test]
#[ignore = "run by another test on a small disk"]
fn child_no_copy() {
    let disk = child_folder().join("disk");
    let path = disk.join("lessons.book");
    let old = rusqlite::Connection::open(&path).unwrap();
    old.execute_batch(include_str!("old/version-1.sql"))
        .unwrap();
    drop(old);
    let before = fs::read(&path).unwrap();
    let filler = fill(&disk);
    let error = Book::open(&path).unwrap_err();
    assert!(matches!(error, BookError::NoCopy { .. }), "{error}");
    sentence(&error, &disk.join("lessons.v1-backup"));
    assert!(fs::read(&path).unwrap() == before);
    assert!(!disk.join("lessons.v1-backup").exists(), "half a copy");
    fs::remove_file(filler).unwrap();
    Book::open(&path).unwrap();
}

#[cfg(target_os = "linux")]
#[test]
#[ignore = "run by another test on a small disk"]
fn child_full_disk() {
    let disk = child_folder().join("disk");
    let path = disk.join("lessons.book");
    let mut hall = Hall::begin(&path, setup(1), EVENING_MS);
    hall.join("Mia");
    let ticket = hall.store();
    while hall.reports.recv().unwrap() != (WriterEvent::Stored { up_to: ticket }) {}
    // No room for another book either.
    let filler = fill(&disk);
    let error = Book::open(&disk.join("another.book")).unwrap_err();
    assert!(
        matches!(error, BookError::Full { .. } | BookError::NoFolder { .. }),
        "{error}"
    );
    hall.calls(3);
    let waiting = hall.store();
    let WriterEvent::Trouble {
        sentence, may_pass, ..
    } = hall.reports.recv().unwrap()
    else {
        panic!("it was stored");
    };
    assert!(
        sentence.starts_with("the disk is full") && may_pass,
        "{sentence}"
    );
    fs::remove_file(&filler).unwrap();
    while hall.reports.recv().unwrap() != (WriterEvent::Stored { up_to: waiting }) {}
    let (id, events) = hall.finish();
    let book = Book::open(&path).unwrap();
    assert_eq!(book.reader().unwrap().events(id).unwrap(), events);
    book.check_log(id).unwrap();
}

#[cfg(target_os = "linux")]
#[test]
fn without_the_right_to_write_it_is_told_of_and_read() {
    let folder = Folder::new("read-only");
    // Whoever may do everything is let in everywhere: so somebody else asks.
    let somebody = "chmod 777 \"$FIFTHPEG_TEST_FOLDER\" && chmod 755 \"$0\" && \
        setpriv --reuid 65534 --regid 65534 --clear-groups test -x \"$0\" && \
        exec setpriv --reuid 65534 --regid 65534 --clear-groups true";
    let able = Command::new("sh")
        .args(["-c", somebody, "/bin/true"])
        .env("FIFTHPEG_TEST_FOLDER", &folder.0)
        .status()
        .is_ok_and(|s| s.success());
    if !able {
        return check(None, "run as somebody else");
    }
    let program = folder.file("program");
    fs::copy(std::env::current_exe().unwrap(), &program).unwrap();
    let status = Command::new("setpriv")
        .args(["--reuid", "65534", "--regid", "65534", "--clear-groups"])
        .arg(&program)
        .args(["--exact", "child_read_only", "--ignored", "--nocapture"])
        .env("FIFTHPEG_TEST_FOLDER", &folder.0)
        .status()
        .unwrap();
    assert!(status.success());
}

#[cfg(target_os = "linux")]
#[test]
#[ignore = "run by another test as somebody without rights"]
fn child_read_only() {
    use std::os::unix::fs::PermissionsExt;
    let mode =
        |path: &Path, mode| fs::set_permissions(path, fs::Permissions::from_mode(mode)).unwrap();
    let inner = child_folder().join("inner");
    fs::create_dir(&inner).unwrap();
    let path = inner.join("lessons.book");
    let lesson = held(&path, 1, EVENING_MS, &["Mia"]);
    for (file, folder) in [(0o400, 0o700), (0o600, 0o500), (0o400, 0o500)] {
        mode(&inner, 0o700);
        for left in ["lessons.book-wal", "lessons.book-shm"] {
            let _ = fs::remove_file(inner.join(left));
        }
        mode(&path, file);
        mode(&inner, folder);
        let error = Book::open(&path).unwrap_err();
        assert!(
            matches!(error, BookError::ReadOnly { .. }),
            "{file:o} {folder:o}: {error}"
        );
        sentence(&error, &path);
        // Reports can still be made.
        let reader = Reader::open(&path).unwrap();
        assert!(!reader.events(lesson).unwrap().is_empty());
    }
    let error = Book::open(&inner.join("new.book")).unwrap_err();
    assert!(matches!(error, BookError::NoFolder { .. }), "{error}");
    mode(&inner, 0o700);
}
