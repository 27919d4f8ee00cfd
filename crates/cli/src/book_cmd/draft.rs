//! A file or folder that gets its name only once it is whole, and never takes
//! that of something else.

use std::fs::OpenOptions;
use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use fifthpeg_front::failure::Failure;

/// Something being written beside the place it will have. Dropped before it is
/// published, it is deleted.
#[derive(Debug)]
pub struct Draft {
    path: PathBuf,
    to: PathBuf,
    replace: bool,
}

impl Draft {
    /// Begins one, for this user alone to read. What is at `to` is in the way
    /// unless it is to be replaced and `ours` knows it.
    pub fn begin(
        to: &Path,
        replace: bool,
        folder: bool,
        ours: impl Fn(&Path) -> bool,
    ) -> Result<Self, Failure> {
        let name = to.file_name().ok_or_else(|| {
            Failure::usage(format!("{} is no name for it: name a file", to.display()))
        })?;
        if to.symlink_metadata().is_ok() {
            if !replace {
                return Err(is_there(to));
            }
            if !ours(to) {
                return Err(Failure::usage(format!(
                    "{} is something else, and is left as it is: name another place",
                    to.display()
                )));
            }
        }
        let mut hidden = std::ffi::OsString::from(".");
        hidden.push(name);
        hidden.push(format!(".{}.part", std::process::id()));
        let path = to.with_file_name(hidden);
        let draft = Self {
            path,
            to: to.to_owned(),
            replace,
        };
        make(&draft.path, folder).map_err(|why| draft.cannot(why))?;
        Ok(draft)
    }

    /// Where it is written until then.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Gives it its name.
    pub fn publish(self) -> Result<(), Failure> {
        let moved = if self.path.is_dir() {
            self.move_folder()
        } else if self.replace {
            std::fs::rename(&self.path, &self.to)
        } else {
            self.move_file()
        };
        match moved {
            Ok(()) => Ok(()),
            Err(why) if !self.replace && self.to.exists() => {
                let _ = why;
                Err(is_there(&self.to))
            }
            Err(why) => Err(self.cannot(why)),
        }
    }

    /// A second name is refused where there is a file, a move is not.
    fn move_file(&self) -> std::io::Result<()> {
        match std::fs::hard_link(&self.path, &self.to) {
            Ok(()) => std::fs::remove_file(&self.path),
            Err(why) if why.kind() == ErrorKind::AlreadyExists => Err(why),
            // A disk that knows no second names.
            Err(_) if !self.to.exists() => std::fs::rename(&self.path, &self.to),
            Err(why) => Err(why),
        }
    }

    fn move_folder(&self) -> std::io::Result<()> {
        if !self.to.exists() {
            return std::fs::rename(&self.path, &self.to);
        }
        if !self.replace {
            return Err(ErrorKind::AlreadyExists.into());
        }
        let old = self.path.with_extension("old");
        std::fs::rename(&self.to, &old)?;
        if let Err(why) = std::fs::rename(&self.path, &self.to) {
            std::fs::rename(&old, &self.to)?;
            return Err(why);
        }
        std::fs::remove_dir_all(&old)
    }

    fn cannot(&self, why: std::io::Error) -> Failure {
        let to = self.to.display();
        Failure::runtime(why)
            .told(|why| format!("{to} cannot be written ({why}): name another place"))
    }
}

impl Drop for Draft {
    fn drop(&mut self) {
        // What SQLite keeps beside a copy that was stopped.
        let mut journal = self.path.clone().into_os_string();
        journal.push("-journal");
        let _ = std::fs::remove_file(journal);
        let _ = if self.path.is_dir() {
            std::fs::remove_dir_all(&self.path)
        } else {
            std::fs::remove_file(&self.path)
        };
    }
}

fn is_there(to: &Path) -> Failure {
    Failure::usage(format!(
        "{} is there already: name another place, or add --replace",
        to.display()
    ))
}

fn make(path: &Path, folder: bool) -> std::io::Result<()> {
    if folder {
        #[cfg_attr(not(unix), expect(unused_mut, reason = "a folder has no mode there"))]
        let mut folders = std::fs::DirBuilder::new();
        #[cfg(unix)]
        std::os::unix::fs::DirBuilderExt::mode(&mut folders, 0o700);
        return folders.create(path);
    }
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options.open(path).map(drop)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_is_written_over_unless_it_is_ours_and_asked_for() {
        let folder = std::env::temp_dir().join(format!("fifthpeg-draft-{}", std::process::id()));
        std::fs::create_dir_all(&folder).expect("a folder");
        let to = folder.join("copy.book");
        let put = |text: &str, replace, ours: bool| -> Result<(), Failure> {
            let draft = Draft::begin(&to, replace, false, |_| ours)?;
            std::fs::write(draft.path(), text).expect("written");
            draft.publish()
        };
        put("one", false, false).expect("nothing in the way");
        assert!(put("two", false, true).is_err());
        assert!(put("three", true, false).is_err());
        assert_eq!(std::fs::read_to_string(&to).expect("there"), "one");
        put("four", true, true).expect("asked for");
        // One that appears meanwhile is not written over, and one that is
        // given up leaves nothing.
        let late = folder.join("late");
        let draft = Draft::begin(&late, false, false, |_| true).expect("free");
        std::fs::write(&late, "a song").expect("written");
        assert!(draft.publish().is_err());
        drop(Draft::begin(&folder.join("x"), false, true, |_| true).expect("free"));
        assert_eq!(std::fs::read_to_string(&late).expect("there"), "a song");
        assert_eq!(std::fs::read_to_string(&to).expect("there"), "four");
        assert_eq!(std::fs::read_dir(&folder).expect("there").count(), 2);
        std::fs::remove_dir_all(&folder).expect("gone");
    }
}
