//! A folder that is there whole or not at all, and in no other's place unless
//! asked to.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use crate::drafts::{Replaces, draft_name, not_written};
use crate::failure::Failure;

/// A folder being filled under another name beside where it will be. Dropped
/// before [`FolderDraft::publish`], it is gone.
#[derive(Debug)]
pub struct FolderDraft {
    path: PathBuf,
    temporary: PathBuf,
    replaces: Option<Replaces>,
}

impl FolderDraft {
    /// Makes an empty draft for a folder, for this user alone to read.
    ///
    /// # Errors
    /// One sentence when something is there already that it does not replace, or
    /// nothing can be made there.
    pub fn open(path: &Path, replaces: Option<Replaces>) -> Result<FolderDraft, Failure> {
        let Some(name) = path.file_name() else {
            return Err(Failure::usage(format!(
                "{} is no name for a folder: choose another",
                path.display()
            )));
        };
        if path.symlink_metadata().is_ok() {
            match replaces {
                Some(replaces) => check(replaces, path)?,
                None => {
                    return Err(Failure::usage(format!(
                        "{} is there already: choose another place, or add --replace to make it \
                         anew",
                        path.display()
                    )));
                }
            }
        }
        let temporary = path.with_file_name(draft_name(&name.to_string_lossy()));
        fifthpeg_files::make_new_folder(&temporary).map_err(|why| not_written(path, why))?;
        Ok(FolderDraft {
            path: path.to_owned(),
            temporary,
            replaces,
        })
    }

    /// Where to put files meanwhile.
    pub fn temporary(&self) -> &Path {
        &self.temporary
    }

    /// Gives the folder its own name. What somebody else put into an older one
    /// goes along.
    ///
    /// # Errors
    /// When another has come there meanwhile, or the disk does not take it.
    /// Then the older one stays.
    pub fn publish(self, ours: &[String]) -> Result<PathBuf, Failure> {
        let failed = |why: io::Error| not_written(&self.path, why);
        if self.path.symlink_metadata().is_err() {
            fs::rename(&self.temporary, &self.path).map_err(failed)?;
            return Ok(self.path.clone());
        }
        match self.replaces {
            Some(replaces) => check(replaces, &self.path)?,
            None => {
                return Err(Failure::usage(format!(
                    "{} has come there meanwhile: choose another place",
                    self.path.display()
                )));
            }
        }
        let old = self.temporary.with_extension("old");
        fs::rename(&self.path, &old).map_err(failed)?;
        if let Err(why) = fs::rename(&self.temporary, &self.path) {
            let _ = fs::rename(&old, &self.path);
            return Err(failed(why));
        }
        keep_others(&old, &self.path, ours).map_err(failed)?;
        fs::remove_dir_all(&old).map_err(failed)?;
        Ok(self.path.clone())
    }
}

impl Drop for FolderDraft {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.temporary);
    }
}

/// Lets nothing else be replaced, nor a link: where that leads is not here.
fn check(replaces: Replaces, path: &Path) -> Result<(), Failure> {
    if !path.symlink_metadata().is_ok_and(|what| what.is_dir()) {
        return Err(replaces.refusal(path));
    }
    replaces.check(path)
}

/// Moves over what is not among the files that the older one was made of.
fn keep_others(old: &Path, new: &Path, ours: &[String]) -> io::Result<()> {
    for entry in fs::read_dir(old)? {
        let name = entry?.file_name();
        let is_ours = name.to_str().is_some_and(|n| ours.iter().any(|o| o == n));
        if !is_ours && new.join(&name).symlink_metadata().is_err() {
            fs::rename(old.join(&name), new.join(&name))?;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::scratch::{folder, names};

    const MARK: &str = "homework";
    const HOMEWORK: Replaces = Replaces {
        what: "homework folder",
        is_one: |folder: &Path| {
            fs::read_to_string(folder.join("index.html")).is_ok_and(|page| page.contains(MARK))
        },
    };

    fn filled(within: &Path, replace: bool, page: &str) -> FolderDraft {
        let draft = FolderDraft::open(&within.join("Mia"), replace.then_some(HOMEWORK));
        let draft = draft.expect("a draft");
        fs::write(draft.temporary().join("index.html"), page).expect("written");
        draft
    }

    #[test]
    fn a_folder_is_whole_or_not_there() {
        let within = folder("homework-whole");
        drop(filled(&within, false, MARK));
        assert!(names(&within).is_empty());
        let draft = filled(&within, false, MARK);
        draft.publish(&[]).expect("published");
        assert_eq!(names(&within), ["Mia"]);
        assert_eq!(names(&within.join("Mia")), ["index.html"]);
        fs::remove_dir_all(within).expect("removed");
    }

    #[test]
    fn only_homework_is_made_anew_and_keeps_what_others_put_there() {
        let within = folder("homework-anew");
        let mia = within.join("Mia");
        let refused = |replace: bool| match FolderDraft::open(&mia, replace.then_some(HOMEWORK)) {
            Err(failure) if failure.is_usage() => failure.to_string(),
            other => panic!("{other:?}"),
        };
        fs::create_dir(&mia).expect("a folder");
        fs::write(mia.join("tune.txt"), "la la").expect("written");
        assert!(refused(false).contains("add --replace"));
        assert!(refused(true).contains("is no homework folder"));
        assert_eq!(names(&within), ["Mia"]);

        fs::write(mia.join("index.html"), format!("old {MARK}")).expect("written");
        fs::write(mia.join("Mia.wav"), "old sound").expect("written");
        let ours = ["index.html", "Mia.wav"].map(str::to_owned);
        let draft = filled(&within, true, &format!("new {MARK}"));
        draft.publish(&ours).expect("published");
        assert_eq!(names(&within), ["Mia"]);
        assert_eq!(names(&mia), ["index.html", "tune.txt"]);
        let page = fs::read_to_string(mia.join("index.html")).expect("a page");
        assert!(page.starts_with("new "));

        // A link to homework is none.
        #[cfg(unix)]
        {
            let link = within.join("link");
            std::os::unix::fs::symlink(&mia, &link).expect("a link");
            FolderDraft::open(&link, Some(HOMEWORK)).expect_err("it leads elsewhere");
            assert_eq!(names(&mia), ["index.html", "tune.txt"]);
        }
        fs::remove_dir_all(within).expect("removed");
    }
}
