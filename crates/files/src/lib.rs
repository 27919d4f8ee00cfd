//! Where the program keeps what it keeps ([`folder`]), and files and folders that
//! only the user who made them may open.
//!
//! The one place that knows how a system is asked for that. Where files have no
//! modes (Windows) they are in the user's own folders, which others cannot read.
//! What is in a file, and what to say when it cannot be written, is the caller's.

mod usual;

pub use usual::{Kept, folder};

use std::fs::{DirBuilder, File, OpenOptions};
use std::io;
use std::path::Path;

/// Options by which a file that is made is its owner's alone. Nothing else is
/// set: add reading, writing, making.
pub fn own() -> OpenOptions {
    #[cfg_attr(not(unix), expect(unused_mut, reason = "a file has no mode there"))]
    let mut options = OpenOptions::new();
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    options
}

/// Makes a folder and those it lies in where they are wanting, its owner's alone.
///
/// # Errors
/// What the system says when it cannot be made.
pub fn make_own_folder(path: &Path) -> io::Result<()> {
    folders().recursive(true).create(path)
}

/// Makes one new folder, its owner's alone.
///
/// # Errors
/// What the system says when it cannot be made, or is there already.
pub fn make_new_folder(path: &Path) -> io::Result<()> {
    folders().create(path)
}

fn folders() -> DirBuilder {
    #[cfg_attr(not(unix), expect(unused_mut, reason = "a folder has no mode there"))]
    let mut folders = DirBuilder::new();
    #[cfg(unix)]
    std::os::unix::fs::DirBuilderExt::mode(&mut folders, 0o700);
    folders
}

/// Shuts a file that is there already to everybody but its owner.
///
/// # Errors
/// What the system says when it belongs to somebody else.
pub fn make_own(file: &File) -> io::Result<()> {
    #[cfg(unix)]
    file.set_permissions(std::os::unix::fs::PermissionsExt::from_mode(0o600))?;
    #[cfg(not(unix))]
    let _ = file;
    Ok(())
}

#[cfg(all(test, unix))]
mod tests {
    use super::*;
    use std::os::unix::fs::PermissionsExt;

    #[test]
    fn what_is_made_is_its_owners_alone() {
        let top = std::env::temp_dir().join(format!("fifthpeg-own-{}", std::process::id()));
        let folder = top.join("deep");
        make_own_folder(&folder).expect("made");
        make_own_folder(&folder).expect("there already");
        assert!(make_new_folder(&folder).is_err());
        let path = folder.join("a");
        let file = own()
            .write(true)
            .create_new(true)
            .open(&path)
            .expect("made");
        let mode = |path: &Path| path.metadata().expect("there").permissions().mode() & 0o777;
        assert_eq!(
            [mode(&top), mode(&folder), mode(&path)],
            [0o700, 0o700, 0o600]
        );
        std::fs::set_permissions(&path, PermissionsExt::from_mode(0o644)).expect("opened to all");
        make_own(&file).expect("shut");
        assert_eq!(mode(&path), 0o600);
        std::fs::remove_dir_all(top).expect("removed");
    }
}
