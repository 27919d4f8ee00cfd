//! The seat in a lesson, kept in a file for who leaves and comes back, and for
//! when the program is killed and started again.
//!
//! One file for each name that a student joins under: the seat's key and number,
//! the host's address and its key if it has one, and the lesson's announced name if it
//! was found by it. It is locked while a terminal uses it, so that a second one under the same name
//! does not take the first one's seat; that one joins as a newcomer and keeps
//! nothing. Where no file can be kept, a lesson goes on without.

use std::fmt::Write as _;
use std::fs::File;
use std::io::{Read, Seek, Write};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use fifthpeg_lesson::message::{SeatKey, StudentId};
use fifthpeg_link::secure::Fingerprint;

use crate::hosts::{key_read, key_written};

/// Longest name a file is kept for, in bytes: file systems take 255 for the
/// file's own, and each byte may become three.
const LONGEST_NAME: usize = 64;
/// No more of a file is read.
pub(crate) const LONGEST_FILE: u64 = 4096;

/// How long a seat is kept after this machine was last let in, where the end of
/// the lesson is not seen: longer than a killed host's lesson can be gone on with.
const KEPT_FOR: Duration = Duration::from_secs(24 * 3600);
/// How the files' names end.
const ENDING: &str = "place";

/// What a file says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct KeptSeat {
    pub(crate) key: SeatKey,
    pub(crate) student: StudentId,
    pub(crate) address: SocketAddr,
    pub(crate) lesson: Option<String>,
    /// What the host of a locked lesson is known by.
    pub(crate) host: Option<Fingerprint>,
}

impl KeptSeat {
    /// Whether the seat is in the lesson that answers at `address`, is announced
    /// as `lesson`, and whose host is known by the key `host`. No other host is
    /// shown the key of the seat.
    pub(crate) fn is_at(
        &self,
        address: SocketAddr,
        lesson: Option<&str>,
        host: Option<Fingerprint>,
    ) -> bool {
        self.address == address
            || (lesson.is_some() && self.lesson.as_deref() == lesson)
            || (host.is_some() && self.host == host)
    }

    fn written(&self) -> String {
        let mut text = format!("key {:032x}\nstudent {}\n", self.key.0, self.student.0);
        if let Some(host) = self.host {
            let _ = writeln!(text, "host {}", key_written(host));
        }
        // What must be there comes last.
        let _ = writeln!(text, "address {}", self.address);
        if let Some(lesson) = self.lesson.as_deref().filter(|l| !l.contains('\n')) {
            let _ = writeln!(text, "lesson {lesson}");
        }
        text
    }

    /// `None` for a file that was not written to its end.
    fn read(text: &str) -> Option<Self> {
        let field = |word: &str| {
            text.split_inclusive('\n')
                .filter_map(|line| line.strip_suffix('\n'))
                .find_map(|line| line.strip_prefix(word)?.strip_prefix(' '))
        };
        let key = field("key").filter(|hex| hex.len() == 32)?;
        Some(Self {
            key: SeatKey(u128::from_str_radix(key, 16).ok()?),
            student: StudentId(field("student")?.parse().ok()?),
            address: field("address")?.parse().ok()?,
            lesson: field("lesson").map(str::to_owned),
            host: field("host").and_then(key_read),
        })
    }
}

/// A student's file, locked.
#[derive(Debug)]
pub(crate) struct SeatFile {
    path: PathBuf,
    file: File,
}

impl SeatFile {
    /// Opens the file for this name; `None` if another terminal has it, or it
    /// cannot be.
    pub(crate) fn open(folder: &Path, name: &str) -> Option<Self> {
        let path = folder.join(file_name(name)?);
        fifthpeg_files::make_own_folder(folder).ok()?;
        let mut options = fifthpeg_files::own();
        options.read(true).write(true).create(true).truncate(false);
        clear_up(folder);
        let file = options.open(&path).ok()?;
        file.try_lock().ok()?;
        Some(Self { path, file })
    }

    /// What it says, if anything.
    pub(crate) fn kept(&self) -> Option<KeptSeat> {
        let mut text = String::new();
        let mut file = &self.file;
        file.rewind().ok()?;
        file.take(LONGEST_FILE).read_to_string(&mut text).ok()?;
        KeptSeat::read(&text)
    }

    /// Keeps a seat in it, replacing what was there.
    pub(crate) fn keep(&self, kept: &KeptSeat) {
        let mut file = &self.file;
        // What could not be kept costs no more than the old seat, and only
        // if the program is killed.
        let _ = self
            .file
            .set_len(0)
            .and_then(|()| file.rewind())
            .and_then(|()| file.write_all(kept.written().as_bytes()));
    }

    /// Empties it: the seat is gone.
    pub(crate) fn empty(&self) {
        let _ = self.file.set_len(0);
    }
}

impl Drop for SeatFile {
    /// An empty file is taken away, while it is still locked.
    fn drop(&mut self) {
        if self.file.metadata().is_ok_and(|about| about.len() == 0) {
            let _ = std::fs::remove_file(&self.path);
        }
    }
}

/// Takes away seats that nobody came back to for a day: their lessons are over,
/// though this machine did not see the end of them.
fn clear_up(folder: &Path) {
    let files = std::fs::read_dir(folder).into_iter().flatten().flatten();
    for path in files.map(|file| file.path()) {
        let ours = path.extension().is_some_and(|ending| ending == ENDING);
        let written = path.metadata().and_then(|about| about.modified()).ok();
        let age = written.and_then(|at| SystemTime::now().duration_since(at).ok());
        if ours && age.is_some_and(|age| age > KEPT_FOR) {
            // Unless a terminal is in the lesson still.
            if let Ok(file) = File::open(&path)
                && file.try_lock().is_ok()
            {
                let _ = std::fs::remove_file(&path);
            }
        }
    }
}

/// Lower-case letters and digits as they are and every other byte by its
/// number, so that no name leaves the folder. Large and small letters are the
/// same, as in a lesson: who is Mia today and mia after the break is one.
fn file_name(name: &str) -> Option<String> {
    let name = name.split_whitespace().collect::<Vec<_>>().join(" ");
    let name = name.to_lowercase();
    if name.is_empty() || name.len() > LONGEST_NAME {
        return None;
    }
    let mut file_name = String::new();
    for byte in name.bytes() {
        if byte.is_ascii_lowercase() || byte.is_ascii_digit() {
            file_name.push(char::from(byte));
        } else {
            let _ = write!(file_name, "%{byte:02x}");
        }
    }
    file_name.push('.');
    file_name.push_str(ENDING);
    Some(file_name)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(test: &str) -> PathBuf {
        std::env::temp_dir().join(format!("fifthpeg-{test}-{}", std::process::id()))
    }

    fn kept(lesson: Option<&str>) -> KeptSeat {
        KeptSeat {
            key: SeatKey(0x0123_4567),
            student: StudentId(7),
            address: SocketAddr::from(([192, 0, 2, 1], 4750)),
            lesson: lesson.map(str::to_owned),
            host: Some(Fingerprint([0xa7; 32])),
        }
    }

    #[test]
    fn a_seat_is_read_back_and_half_of_one_is_not() {
        for lesson in [None, Some("Village hall, Monday")] {
            let kept = kept(lesson);
            assert_eq!(KeptSeat::read(&kept.written()), Some(kept));
        }
        let whole = kept(None).written();
        for end in 0..whole.len() {
            assert_eq!(KeptSeat::read(&whole[..end]), None, "{}", &whole[..end]);
        }
    }

    #[test]
    fn the_key_is_for_its_own_lesson_only() {
        let elsewhere = SocketAddr::from(([192, 0, 2, 2], 4750));
        let monday = kept(Some("Monday"));
        let other = Some(Fingerprint([1; 32]));
        assert!(monday.is_at(monday.address, None, None));
        assert!(monday.is_at(elsewhere, Some("Monday"), other));
        assert!(!monday.is_at(elsewhere, Some("Friday"), other));
        assert!(!kept(None).is_at(elsewhere, None, None));
        // The same host wherever it is.
        assert!(kept(None).is_at(elsewhere, None, monday.host));
        let open = KeptSeat {
            host: None,
            ..kept(None)
        };
        assert!(!open.is_at(elsewhere, None, None));
        assert_eq!(KeptSeat::read(&open.written()), Some(open));
    }

    #[test]
    fn one_terminal_has_it_at_a_time_and_an_empty_one_goes() {
        let folder = folder("one-at-a-time");
        let first = SeatFile::open(&folder, "Mia").unwrap();
        assert_eq!(first.kept(), None);
        first.keep(&kept(Some("Monday")));
        first.keep(&kept(None));
        assert!(SeatFile::open(&folder, "Mia").is_none());
        assert!(SeatFile::open(&folder, " mia").is_none());
        assert!(SeatFile::open(&folder, "Mia S").is_some());
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = first.file.metadata().unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        drop(first);
        let again = SeatFile::open(&folder, "Mia").unwrap();
        assert_eq!(again.kept(), Some(kept(None)));
        again.empty();
        drop(again);
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 0);
        std::fs::remove_dir(&folder).unwrap();
    }

    #[test]
    fn no_name_leaves_the_folder() {
        assert_eq!(file_name("../a/B").unwrap(), "%2e%2e%2fa%2fb.place");
        assert_eq!(file_name(" "), None);
        assert_eq!(file_name(&"x".repeat(65)), None);
    }
}
