//! The files that passphrases are kept in, so that a host that was killed goes on
//! with the same one.
//!
//! One file for each lesson of a class in a book, in the state folder. The end of
//! the lesson takes it away; what a killed host left goes once its lesson cannot be
//! gone on with any more.

use std::io::Write;
use std::path::Path;
use std::time::{Duration, SystemTime};

use fifthpeg_core::text;
use fifthpeg_front::files;
use fifthpeg_lock::Passphrase;
use sha2::{Digest, Sha256};

/// No more of a file is read, in bytes.
const LONGEST_FILE: u64 = 1024;
/// How old a file may be, whichever book it is of: no lesson lasts as long.
const OLDEST: Duration = Duration::from_secs(7 * 24 * 3600);
/// So long a host may take from its passphrase to its lesson's beginning: it may
/// have to wait for a sound device.
const BEGINNING: Duration = Duration::from_secs(600);
const BEGINS: &str = "lesson-";
const ENDS: &str = ".passphrase";

/// The name of the file for a lesson. Names of any letters and length become one
/// that every file system takes.
pub fn file_name(book: &Path, class: &str, lesson: &str) -> String {
    let lesson = digits(&[&folded(lesson), &folded(class)]);
    format!("{}{lesson}{ENDS}", of_book(book))
}

/// How the names of all files for a book's lessons begin.
fn of_book(book: &Path) -> String {
    let absolute = std::path::absolute(book).unwrap_or_else(|_| book.to_owned());
    format!("{BEGINS}{}-", digits(&[&absolute.display().to_string()]))
}

fn folded(name: &str) -> String {
    name.trim().to_lowercase()
}

fn digits(parts: &[&str]) -> String {
    let mut hash = Sha256::new();
    for part in parts {
        hash.update(part.as_bytes());
        hash.update([0]);
    }
    text::hex(&hash.finalize()[..8])
}

/// What a file keeps.
pub fn read(path: &Path) -> Option<Passphrase> {
    let text = files::read_text(path, LONGEST_FILE).ok()?;
    Passphrase::typed(text.strip_suffix('\n')?).ok()
}

/// Keeps it for its owner's eyes alone; whether it could be.
pub fn keep(path: &Path, passphrase: &Passphrase) -> bool {
    let Some(folder) = path.parent() else {
        return false;
    };
    if fifthpeg_files::make_own_folder(folder).is_err() {
        return false;
    }
    // Anew, so that it is nobody else's file.
    let _ = std::fs::remove_file(path);
    let mut options = fifthpeg_files::own();
    let written = options
        .write(true)
        .create_new(true)
        .open(path)
        .and_then(|mut file| writeln!(file, "{}", passphrase.shown()));
    written.is_ok()
}

/// Takes away what is of no use any more: of this book, all but what belongs to
/// `lessons`, as (class, name), and what was put there only just now, perhaps by
/// a host that is about to begin its lesson; of any other, what is older than a
/// week.
pub fn clear_up<'a>(
    state: &Path,
    book: &Path,
    lessons: impl IntoIterator<Item = (&'a str, &'a str)>,
) {
    let Ok(folder) = std::fs::read_dir(state) else {
        return;
    };
    let of_book = of_book(book);
    let lessons = lessons.into_iter();
    let useful: Vec<String> = lessons
        .map(|(class, lesson)| file_name(book, class, lesson))
        .collect();
    for file in folder.flatten() {
        let name = file.file_name();
        let Some(name) = name.to_str() else { continue };
        if !(name.starts_with(BEGINS) && name.ends_with(ENDS)) || useful.iter().any(|u| u == name) {
            continue;
        }
        let changed = file.metadata().and_then(|about| about.modified()).ok();
        let age = changed.and_then(|at| SystemTime::now().duration_since(at).ok());
        let oldest = if name.starts_with(&of_book) {
            BEGINNING
        } else {
            OLDEST
        };
        if age.is_some_and(|age| age > oldest) {
            // One that is gone already is what is wanted.
            let _ = std::fs::remove_file(file.path());
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn set_age(path: &Path, age: Duration) {
        let file = std::fs::File::options().write(true).open(path).unwrap();
        file.set_modified(SystemTime::now() - age).unwrap();
    }

    #[test]
    fn what_nobody_can_go_on_with_is_taken_away() {
        let name = format!("fifthpeg-kept-{}", std::process::id());
        let state = std::env::temp_dir().join(name);
        let _ = std::fs::remove_dir_all(&state);
        std::fs::create_dir_all(&state).unwrap();
        let (hall, barn) = (Path::new("/hall.book"), Path::new("/barn.book"));
        let passphrase = Passphrase::typed("blue boots in the rain").unwrap();
        let put = |book: &Path, lesson: &str| {
            let path = state.join(file_name(book, "Choir", lesson));
            assert!(keep(&path, &passphrase));
            set_age(&path, BEGINNING + Duration::from_secs(1));
            path
        };
        let starting = state.join(file_name(hall, "Choir", "Sunday"));
        assert!(keep(&starting, &passphrase));
        let (monday, friday) = (put(hall, "Monday"), put(hall, "Friday"));
        let (other, old) = (put(barn, "Monday"), put(barn, "Friday"));
        let place = state.join("mia.place");
        std::fs::write(&place, "key").unwrap();
        set_age(&old, OLDEST + Duration::from_secs(1));
        clear_up(&state, hall, [("choir ", "MONDAY")]);
        for (path, stays) in [
            (&monday, true),
            (&friday, false),
            (&starting, true),
            (&other, true),
            (&old, false),
            (&place, true),
        ] {
            assert_eq!(path.exists(), stays, "{}", path.display());
        }
        clear_up(&state, hall, []);
        assert!(!monday.exists() && other.exists());
        std::fs::remove_dir_all(&state).unwrap();
    }
}
