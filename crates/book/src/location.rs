//! Where the book is kept unless somebody says otherwise, and names beside it.

use std::path::{Path, PathBuf};

/// The book's file in its folder.
const FILE: &str = "lessons.book";

/// SQLite file format, section 1.3: what a book's file begins with.
pub(crate) const MAGIC: &[u8; 16] = b"SQLite format 3\0";

/// Where the book is kept by default: `lessons.book` in the program's folder for
/// data. `None` where the system names no such folder.
pub fn default_location() -> Option<PathBuf> {
    Some(fifthpeg_files::folder(fifthpeg_files::Kept::Data)?.join(FILE))
}

/// A name beside the book that no file has: `lessons-2.book` for
/// `lessons.book`.
pub fn free_beside(path: &Path) -> PathBuf {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    let ending = path.extension().map(|e| e.to_string_lossy());
    (2_u32..)
        .map(|number| match &ending {
            Some(ending) => path.with_file_name(format!("{stem}-{number}.{ending}")),
            None => path.with_file_name(format!("{stem}-{number}")),
        })
        .find(|candidate| !candidate.exists())
        // Four thousand million files of such names are not met with.
        .unwrap_or_else(|| path.with_extension("new"))
}

/// A file that SQLite keeps beside the book.
pub(crate) fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(ending);
    path.with_file_name(name)
}

/// The copy kept of a book before it is brought up from `version`:
/// `lessons.v1-backup`, or with a number if there is one already.
pub(crate) fn copy_of(path: &Path, version: u32) -> PathBuf {
    let copy = path.with_extension(format!("v{version}-backup"));
    if copy.exists() {
        free_beside(&copy)
    } else {
        copy
    }
}

/// The copies that were kept of this book.
pub fn kept_copies(path: &Path) -> Vec<PathBuf> {
    let (Some(folder), Some(stem)) = (path.parent(), path.file_stem()) else {
        return Vec::new();
    };
    let stem = stem.to_string_lossy().into_owned();
    let folder = if folder.as_os_str().is_empty() {
        Path::new(".")
    } else {
        folder
    };
    let ours = |candidate: &PathBuf| {
        let name = candidate.file_name().unwrap_or_default().to_string_lossy();
        // `.v1-backup`, or `-2.v1-backup`.
        let rest = name.strip_prefix(stem.as_str());
        let rest = rest.and_then(|r| r.strip_suffix("-backup"));
        rest.and_then(|r| r.split_once(".v"))
            .is_some_and(|(number, version)| {
                (number.is_empty() || number.starts_with('-')) && version.parse::<u32>().is_ok()
            })
    };
    let mut copies: Vec<PathBuf> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .flatten()
        .map(|entry| entry.path())
        .filter(ours)
        .collect();
    copies.sort();
    copies
}

/// Sees a file that SQLite wrote onto the disk. Windows does that only for who may write it.
pub(crate) fn onto_disk(path: &Path) -> std::io::Result<()> {
    std::fs::OpenOptions::new()
        .write(true)
        .open(path)?
        .sync_all()
}

/// The file that whoever runs a lesson keeps locked.
pub(crate) fn lesson_lock(path: &Path, lesson: crate::LessonId) -> PathBuf {
    let mut name = path.file_name().unwrap_or_default().to_owned();
    name.push(format!("-{lesson}.lock"));
    path.with_file_name(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_beside_a_book_are_free() {
        let folder = std::env::temp_dir().join(format!("fifthpeg-beside-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let book = folder.join("lessons.book");
        assert_eq!(free_beside(&book), folder.join("lessons-2.book"));
        std::fs::write(folder.join("lessons-2.book"), "x").unwrap();
        assert_eq!(free_beside(&book), folder.join("lessons-3.book"));
        assert_eq!(copy_of(&book, 1), folder.join("lessons.v1-backup"));
        std::fs::write(copy_of(&book, 1), "x").unwrap();
        assert_eq!(copy_of(&book, 1), folder.join("lessons-2.v1-backup"));
        std::fs::write(copy_of(&book, 1), "x").unwrap();
        std::fs::write(folder.join("other.v1-backup"), "x").unwrap();
        let names = ["lessons-2.v1-backup", "lessons.v1-backup"];
        assert_eq!(kept_copies(&book), names.map(|n| folder.join(n)));
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
