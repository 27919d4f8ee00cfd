//! Files that are there whole or not at all, and take no other file's place
//! unless asked to.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufWriter, ErrorKind, Write};
use std::path::{Path, PathBuf};

use crate::failure::Failure;

/// Files being written under other names beside where they will be. Dropped
/// before [`Drafts::publish`], they are gone.
#[derive(Debug)]
pub struct Drafts {
    drafts: Vec<Draft>,
    replace: bool,
}

/// Who may read what is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Readable {
    /// Whoever the system lets.
    ByAll,
    /// This user alone: it says something of somebody.
    ByMeAlone,
}

/// What may be written over.
#[derive(Debug, Clone, Copy)]
pub struct Replaces {
    /// What it is, as it reads in a sentence: "homework folder".
    pub what: &'static str,
    /// Whether what is at a path is one.
    pub is_one: fn(&Path) -> bool,
}

impl Replaces {
    /// Lets nothing else be written over.
    ///
    /// # Errors
    /// One sentence when what is there is something else.
    pub fn check(self, path: &Path) -> Result<(), Failure> {
        if (self.is_one)(path) {
            return Ok(());
        }
        Err(self.refusal(path))
    }

    /// Why what is at a path is not written over.
    pub(crate) fn refusal(self, path: &Path) -> Failure {
        Failure::usage(format!(
            "{} is no {}, and is left as it is: choose another place",
            path.display(),
            self.what
        ))
    }
}

#[derive(Debug)]
struct Draft {
    path: PathBuf,
    temporary: PathBuf,
    file: Option<BufWriter<File>>,
}

impl Drafts {
    /// Opens a draft for each path.
    ///
    /// # Errors
    /// One sentence when a folder is missing, a file is there already and
    /// `replace` is not set, or a draft cannot be made.
    pub fn open(paths: &[PathBuf], replace: bool, readable: Readable) -> Result<Drafts, Failure> {
        let mut drafts = Drafts {
            drafts: Vec::new(),
            replace,
        };
        for path in paths {
            let folder = match path.parent() {
                Some(folder) if !folder.as_os_str().is_empty() => folder,
                _ => Path::new("."),
            };
            if !folder.is_dir() {
                return Err(Failure::usage(format!(
                    "there is no folder {}: make it first, or choose another place",
                    folder.display()
                )));
            }
            if path.is_dir() {
                return Err(Failure::usage(format!(
                    "{} is a folder: choose another name",
                    path.display()
                )));
            }
            if !replace && path.symlink_metadata().is_ok() {
                return Err(taken(path));
            }
            let name = path.file_name().unwrap_or_default().to_string_lossy();
            let temporary = folder.join(draft_name(&name));
            let mut options = match readable {
                Readable::ByAll => OpenOptions::new(),
                Readable::ByMeAlone => fifthpeg_files::own(),
            };
            let file = options
                .write(true)
                .create_new(true)
                .open(&temporary)
                .map_err(|why| not_written(path, why))?;
            drafts.drafts.push(Draft {
                path: path.clone(),
                temporary,
                file: Some(BufWriter::with_capacity(1 << 16, file)),
            });
        }
        Ok(drafts)
    }

    /// What a path's draft is written through; `None` for one that has none.
    pub fn take(&mut self, path: &Path) -> Option<BufWriter<File>> {
        let draft = self.drafts.iter_mut().find(|draft| draft.path == path);
        draft.and_then(|draft| draft.file.take())
    }

    /// Where a path's draft is meanwhile, for who writes it by name.
    pub fn temporary(&self, path: &Path) -> Option<&Path> {
        let draft = self.drafts.iter().find(|draft| draft.path == path);
        draft.map(|draft| draft.temporary.as_path())
    }

    /// Hands a writer back when everything is in it, and sees it onto the disk.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn give_back(path: &Path, file: BufWriter<File>) -> Result<(), Failure> {
        file.into_inner()
            .map_err(io::IntoInnerError::into_error)
            .and_then(|file| file.sync_all())
            .map_err(|why| not_written(path, why))
    }

    /// Opens a draft of one file, for this user alone to read.
    ///
    /// # Errors
    /// As [`Drafts::open`], and when what is there is not what it replaces.
    pub fn of_one(path: &Path, replaces: Option<Replaces>) -> Result<Drafts, Failure> {
        if let Some(replaces) = replaces.filter(|_| path.exists()) {
            replaces.check(path)?;
        }
        let path = path.to_owned();
        Drafts::open(
            std::slice::from_ref(&path),
            replaces.is_some(),
            Readable::ByMeAlone,
        )
    }

    /// Writes one file, for this user alone to read.
    ///
    /// # Errors
    /// As [`Drafts::of_one`], [`Drafts::write`] and [`Drafts::publish`].
    pub fn save(path: &Path, replaces: Option<Replaces>, bytes: &[u8]) -> Result<(), Failure> {
        let mut drafts = Drafts::of_one(path, replaces)?;
        drafts.write(path, bytes)?;
        drafts.publish()
    }

    /// Writes one draft in a single go.
    ///
    /// # Errors
    /// When the disk does not take it.
    pub fn write(&mut self, path: &Path, bytes: &[u8]) -> Result<(), Failure> {
        let Some(mut file) = self.take(path) else {
            return Ok(());
        };
        file.write_all(bytes)
            .map_err(|why| not_written(path, why))?;
        Drafts::give_back(path, file)
    }

    /// Gives every draft its own name: all of them, or none.
    ///
    /// # Errors
    /// When another file has come there meanwhile, or the disk does not take it.
    pub fn publish(mut self) -> Result<(), Failure> {
        let mut done: Vec<&Path> = Vec::new();
        for draft in &self.drafts {
            let moved = if self.replace {
                fs::rename(&draft.temporary, &draft.path)
            } else {
                move_beside(&draft.temporary, &draft.path)
            };
            if let Err(why) = moved {
                if !self.replace {
                    for path in done {
                        let _ = fs::remove_file(path);
                    }
                }
                return Err(if why.kind() == ErrorKind::AlreadyExists {
                    taken(&draft.path)
                } else {
                    not_written(&draft.path, why)
                });
            }
            done.push(&draft.path);
        }
        self.drafts.clear();
        Ok(())
    }
}

impl Drop for Drafts {
    fn drop(&mut self) {
        for draft in &self.drafts {
            let _ = fs::remove_file(&draft.temporary);
            // What SQLite keeps beside a copy that was stopped.
            let mut journal = draft.temporary.clone().into_os_string();
            journal.push("-journal");
            let _ = fs::remove_file(journal);
        }
    }
}

/// Renames, but never onto another file: a second name first, which fails if the
/// name is taken. File systems without second names (those of memory sticks)
/// only get a look beforehand.
fn move_beside(from: &Path, to: &Path) -> io::Result<()> {
    match fs::hard_link(from, to) {
        Ok(()) => fs::remove_file(from),
        Err(why) if why.kind() == ErrorKind::AlreadyExists => Err(why),
        Err(_) if to.symlink_metadata().is_ok() => Err(ErrorKind::AlreadyExists.into()),
        Err(_) => fs::rename(from, to),
    }
}

/// What a file or folder is called until it is whole.
pub fn draft_name(name: &str) -> String {
    format!(".{name}.{}.part", std::process::id())
}

fn taken(path: &Path) -> Failure {
    Failure::usage(format!(
        "{} is there already: choose another name, or add --replace to write over it",
        path.display()
    ))
}

/// Why a file could not be written, in words.
pub fn not_written(path: &Path, why: io::Error) -> Failure {
    let (reason, advice) = match why.kind() {
        ErrorKind::StorageFull => ("the disk is full".to_owned(), "make room"),
        ErrorKind::QuotaExceeded => ("your share of the disk is full".to_owned(), "make room"),
        ErrorKind::FileTooLarge => (
            "files may not grow so large here".to_owned(),
            "make a shorter track",
        ),
        ErrorKind::PermissionDenied => (
            "nothing may be written there".to_owned(),
            "ask for the right to",
        ),
        ErrorKind::ReadOnlyFilesystem => ("the disk takes no writing".to_owned(), "unlock it"),
        _ => (why.to_string(), "see to that"),
    };
    Failure::runtime(why).told(|_| {
        format!(
            "{} could not be written ({reason}): {advice}, or choose another place; nothing was \
             kept",
            path.display()
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scratch::{folder, names};

    #[test]
    fn only_what_is_known_is_written_over_and_only_if_asked() {
        let folder = folder("drafts-over");
        let song = folder.join("song.txt");
        let songs = Replaces {
            what: "song",
            is_one: |path: &Path| fs::read(path).is_ok_and(|text| text.starts_with(b"la")),
        };
        Drafts::save(&song, None, b"la la").expect("nothing is in the way");
        let told = Drafts::save(&song, None, b"two").expect_err("it is there");
        assert!(told.to_string().contains("is there already"), "{told}");
        Drafts::save(&song, Some(songs), b"three").expect("asked for");
        let told = Drafts::save(&song, Some(songs), b"four").expect_err("it is no song");
        assert!(told.to_string().contains("is no song"), "{told}");
        assert_eq!(fs::read(&song).expect("there"), b"three");
        // What writes a draft by its name may leave a journal beside it.
        let new = folder.join("new");
        let drafts = Drafts::of_one(&new, None).expect("a draft");
        let mut journal = drafts
            .temporary(&new)
            .expect("its own")
            .as_os_str()
            .to_owned();
        journal.push("-journal");
        fs::write(journal, "half").expect("written");
        drop(drafts);
        assert_eq!(names(&folder), ["song.txt"]);
        fs::remove_dir_all(folder).expect("removed");
    }

    #[test]
    fn files_appear_together_or_not_at_all() {
        let folder = folder("drafts");
        let paths = ["a.txt", "b.txt"].map(|name| folder.join(name));
        let mut drafts = Drafts::open(&paths, false, Readable::ByAll).expect("drafts");
        drafts.write(&paths[0], b"one").expect("written");
        assert!(names(&folder).iter().all(|name| name.ends_with(".part")));
        drop(drafts);
        assert!(names(&folder).is_empty());

        let mut drafts = Drafts::open(&paths, false, Readable::ByAll).expect("drafts");
        for path in &paths {
            drafts.write(path, b"one").expect("written");
        }
        // Somebody else is faster.
        fs::write(&paths[1], b"theirs").expect("written");
        let told = drafts.publish().expect_err("the name is taken").to_string();
        assert!(told.contains("b.txt is there already"), "{told}");
        assert_eq!(names(&folder), ["b.txt"]);
        assert_eq!(fs::read(&paths[1]).expect("theirs"), b"theirs");

        let mut drafts = Drafts::open(&paths, true, Readable::ByMeAlone).expect("drafts");
        for path in &paths {
            drafts.write(path, b"two").expect("written");
        }
        drafts.publish().expect("both");
        assert_eq!(names(&folder), ["a.txt", "b.txt"]);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let about = fs::metadata(&paths[1]).expect("there");
            assert_eq!(about.permissions().mode() & 0o777, 0o600);
        }
        assert_eq!(fs::read(&paths[1]).expect("ours"), b"two");
        fs::remove_dir_all(folder).expect("removed");
    }
}
