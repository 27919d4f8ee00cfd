//! Whose lesson it is: one program at a time writes a lesson down.

use std::fs::{File, OpenOptions};
use std::io::{Read, Seek, Write};
use std::path::{Path, PathBuf};

use crate::{BookError, LessonId, place};

/// Held by whoever runs a lesson; the system takes it back from a program that
/// is killed.
#[derive(Debug)]
pub(crate) struct LessonLock {
    path: PathBuf,
    file: File,
}

impl LessonLock {
    pub fn take(book: &Path, id: LessonId) -> Result<Self, BookError> {
        let path = place::lesson_lock(book, id);
        let mut options = OpenOptions::new();
        options.read(true).write(true).create(true).truncate(false);
        let file = options.open(&path).map_err(|e| BookError::NoFolder {
            path: book.to_owned(),
            why: e.to_string(),
        })?;
        file.try_lock().map_err(|_| BookError::LessonRuns)?;
        Ok(Self { path, file })
    }

    pub fn is_taken(book: &Path, id: LessonId) -> bool {
        let file = OpenOptions::new()
            .write(true)
            .open(place::lesson_lock(book, id));
        file.is_ok_and(|file| file.try_lock().is_err())
    }

    /// Notes the port that the lesson is held at.
    pub fn note_port(&self, port: u16) {
        let mut file = &self.file;
        // A port that is not noted costs students a look around, no more.
        let _ = self
            .file
            .set_len(0)
            .and_then(|()| file.rewind())
            .and_then(|()| writeln!(file, "port {port}"));
    }

    /// The port noted last.
    pub fn noted_port(&self) -> Option<u16> {
        let mut text = String::new();
        let mut file = &self.file;
        file.rewind().ok()?;
        file.take(64).read_to_string(&mut text).ok()?;
        text.strip_prefix("port ")?.strip_suffix('\n')?.parse().ok()
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
        lock.note_port(47_500);
        lock.note_port(4750);
        drop(lock);
        let lock = LessonLock::take(&book, id).unwrap();
        assert_eq!(lock.noted_port(), Some(4750));
        lock.let_go();
        std::fs::remove_dir(&folder).unwrap();
    }
}
