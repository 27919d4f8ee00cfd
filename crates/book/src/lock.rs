//! Whose lesson it is: one program at a time writes a lesson down.

use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, Write};
use std::path::{Path, PathBuf};

use fifthpeg_core::text::hex;

use crate::{BookError, LessonId, location};

/// What stands in a lock's file.
#[derive(Debug, Default)]
struct Notes {
    port: Option<u16>,
    mark: Option<Vec<u8>>,
}

impl Notes {
    fn read(file: impl Read) -> Self {
        let mut text = String::new();
        // What cannot be read is not noted.
        let _ = file.take(128).read_to_string(&mut text);
        let mut notes = Notes::default();
        for line in text.lines() {
            match line.split_once(' ') {
                Some(("port", port)) => notes.port = port.parse().ok(),
                Some(("mark", mark)) => {
                    let number = u128::from_str_radix(mark, 16).ok();
                    notes.mark = number.map(|n| n.to_be_bytes().to_vec());
                }
                _ => {}
            }
        }
        notes
    }
}

/// The marks that lessons left which no program holds any more, each of the
/// book's file as it was then; `None` while one is held.
pub(crate) fn marks_left(book: &Path) -> Option<Vec<Vec<u8>>> {
    let begins = format!("{}-", book.file_name()?.to_string_lossy());
    let folder = match book.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    let mut marks = Vec::new();
    for entry in std::fs::read_dir(folder).ok()?.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if !name.starts_with(&begins) || !name.ends_with(".lock") {
            continue;
        }
        let file = OpenOptions::new().read(true).open(entry.path()).ok()?;
        file.try_lock().ok()?;
        marks.extend(Notes::read(&file).mark);
    }
    Some(marks)
}

/// Held by whoever runs a lesson; the system takes it back from a program that
/// is killed.
#[derive(Debug)]
pub(crate) struct LessonLock {
    path: PathBuf,
    file: File,
}

impl LessonLock {
    pub fn take(book: &Path, id: LessonId) -> Result<Self, BookError> {
        let path = location::lesson_lock(book, id);
        let unmade = |e: std::io::Error| BookError::NoFolder {
            path: book.to_owned(),
            why: e.into(),
        };
        // Whoever may open it may lock it, and keep the lesson from going on.
        let mut options = fifthpeg_files::own();
        options.read(true).write(true).create(true).truncate(false);
        let file = options.open(&path).map_err(unmade)?;
        file.try_lock().map_err(|_| BookError::LessonRuns)?;
        // One that an older program left may be open to all.
        fifthpeg_files::make_own(&file).map_err(unmade)?;
        Ok(Self { path, file })
    }

    /// Its file.
    pub fn path(&self) -> &Path {
        &self.path
    }

    pub fn is_taken(book: &Path, id: LessonId) -> bool {
        let file = OpenOptions::new()
            .write(true)
            .open(location::lesson_lock(book, id));
        file.is_ok_and(|file| file.try_lock().is_err())
    }

    /// Notes the port that the lesson is held at.
    pub fn note_port(&self, port: u16) {
        let mark = self.notes().mark;
        self.note(Notes {
            port: Some(port),
            mark,
        });
    }

    /// The port noted last.
    pub fn noted_port(&self) -> Option<u16> {
        self.notes().port
    }

    /// Notes the mark that the book's file has in it.
    pub fn note_mark(&self, mark: &[u8]) {
        let port = self.notes().port;
        self.note(Notes {
            port,
            mark: Some(mark.to_vec()),
        });
    }

    fn notes(&self) -> Notes {
        let mut file = &self.file;
        match file.rewind() {
            Ok(()) => Notes::read(file),
            Err(_) => Notes::default(),
        }
    }

    fn note(&self, notes: Notes) {
        let mut text = String::new();
        if let Some(port) = notes.port {
            text.push_str(&format!("port {port}\n"));
        }
        if let Some(mark) = notes.mark {
            text.push_str(&format!("mark {}\n", hex(&mark)));
        }
        let mut file = &self.file;
        // A port that is not noted costs students a look around, no more.
        let _ = self
            .file
            .set_len(0)
            .and_then(|()| file.rewind())
            .and_then(|()| file.write_all(text.as_bytes()));
    }

    /// Takes the file away while it is still locked: nobody needs it any more.
    pub fn let_go(self) {
        let _ = std::fs::remove_file(&self.path);
        drop(self.file);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_port_is_noted_for_whoever_goes_on() {
        let folder = std::env::temp_dir().join(format!("fifthpeg-port-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let (book, id) = (folder.join("lessons.book"), LessonId::random().unwrap());
        let lock = LessonLock::take(&book, id).unwrap();
        assert_eq!(lock.noted_port(), None);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let about = std::fs::metadata(lock.path()).unwrap();
            assert_eq!(about.permissions().mode() & 0o777, 0o600);
        }
        lock.note_port(47_500);
        lock.note_port(4750);
        drop(lock);
        let lock = LessonLock::take(&book, id).unwrap();
        assert_eq!(lock.noted_port(), Some(4750));
        lock.note_mark(&[7; 16]);
        assert_eq!(lock.noted_port(), Some(4750));
        assert_eq!(marks_left(&book), None);
        drop(lock);
        assert_eq!(marks_left(&book), Some(vec![vec![7; 16]]));
        let lock = LessonLock::take(&book, id).unwrap();
        lock.let_go();
        std::fs::remove_dir(&folder).unwrap();
    }
}
