//! Whose lesson it is: one program at a time writes a lesson down.

use std::fs::{File, OpenOptions};
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
        options.write(true).create(true).truncate(false);
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

    /// Takes the file away while it is still locked: nobody needs it any more.
    pub fn let_go(self) {
        let _ = std::fs::remove_file(&self.path);
        drop(self.file);
    }
}
