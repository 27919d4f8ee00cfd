//! The host's key in a file that only its owner reads.

use std::fs::File;
use std::io::{self, Read, Write};
use std::path::Path;

use super::HostKey;
use crate::LinkError;

/// No more of a file is read.
const LONGEST_FILE: u64 = 16 * 1024;

/// A key, and whether the file could be used.
#[derive(Debug)]
pub struct KeptHostKey {
    /// The key to use.
    pub key: HostKey,
    /// Why it will not be the same next time, as a sentence.
    pub trouble: Option<String>,
}

/// The key in this file, made there if it is the first. Where the file cannot
/// be used, a key for this once: a lesson can be held all the same.
///
/// # Errors
/// [`LinkError::Key`] if no key can be made at all.
pub fn keep_or_make(path: &Path) -> Result<KeptHostKey, LinkError> {
    let shown = path.display();
    let why = match read(path) {
        Ok(Some(pem)) => match HostKey::from_pem(&pem) {
            Ok(key) => return Ok(KeptHostKey { key, trouble: None }),
            Err(_) => "it holds no key".to_owned(),
        },
        Ok(None) => {
            let key = HostKey::make()?;
            match write(path, key.to_pem()) {
                Ok(()) => return Ok(KeptHostKey { key, trouble: None }),
                // Another host on this machine was first.
                Err(e) if e.kind() == io::ErrorKind::AlreadyExists => {
                    let pem = read(path).ok().flatten();
                    match pem.and_then(|pem| HostKey::from_pem(&pem).ok()) {
                        Some(key) => return Ok(KeptHostKey { key, trouble: None }),
                        None => "it holds no key".to_owned(),
                    }
                }
                Err(e) => e.to_string(),
            }
        }
        Err(e) => e.to_string(),
    };
    Ok(KeptHostKey {
        key: HostKey::make()?,
        trouble: Some(format!(
            "the host's key cannot be kept in {shown} ({why}): this lesson has a key of its own, \
             and students who were here before will be warned that it changed"
        )),
    })
}

/// `None` if there is no such file. One that others may read is closed to them.
pub(super) fn read(path: &Path) -> io::Result<Option<String>> {
    let file = match File::open(path) {
        Ok(file) => file,
        Err(e) if e.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(e) => return Err(e),
    };
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        let mode = file.metadata()?.permissions().mode();
        if mode & 0o077 != 0 {
            fifthpeg_files::make_own(&file)?;
        }
    }
    let mut text = String::new();
    file.take(LONGEST_FILE).read_to_string(&mut text)?;
    Ok(Some(text))
}

/// Writes it whole or not at all, and over nothing.
pub(super) fn write(path: &Path, pem: &str) -> io::Result<()> {
    let folder = path
        .parent()
        .ok_or_else(|| io::Error::from(io::ErrorKind::NotFound))?;
    fifthpeg_files::make_own_folder(folder)?;
    let beside = path.with_extension(format!("{}.new", std::process::id()));
    let written = (|| {
        let mut options = fifthpeg_files::own();
        let mut file = options.write(true).create_new(true).open(&beside)?;
        file.write_all(pem.as_bytes())?;
        file.sync_all()?;
        // Unlike renaming, a link is never made over a file that is there.
        std::fs::hard_link(&beside, path)
    })();
    let _ = std::fs::remove_file(&beside);
    written
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;

    fn folder(test: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("fifthpeg-{test}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        folder
    }

    #[test]
    fn the_key_is_made_once_and_for_its_owner_alone() {
        let folder = folder("host-key");
        let path = folder.join("deep/host.key");
        let first = keep_or_make(&path).unwrap();
        assert_eq!(first.trouble, None);
        let again = keep_or_make(&path).unwrap();
        assert_eq!(again.trouble, None);
        assert_eq!(first.key.fingerprint(), again.key.fingerprint());
        assert_eq!(
            std::fs::read_dir(path.parent().unwrap()).unwrap().count(),
            1
        );
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = |path: &Path| std::fs::metadata(path).unwrap().permissions().mode() & 0o777;
            assert_eq!(mode(&path), 0o600);
            let open = std::fs::Permissions::from_mode(0o644);
            std::fs::set_permissions(&path, open).unwrap();
            keep_or_make(&path).unwrap();
            assert_eq!(mode(&path), 0o600);
        }
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn a_file_that_holds_no_key_is_left_alone_and_told_of() {
        let folder = folder("no-host-key");
        std::fs::create_dir_all(&folder).unwrap();
        let path = folder.join("host.key");
        std::fs::write(&path, "shopping list").unwrap();
        let kept = keep_or_make(&path).unwrap();
        assert!(kept.trouble.unwrap().contains("holds no key"));
        assert_eq!(std::fs::read_to_string(&path).unwrap(), "shopping list");
        std::fs::remove_dir_all(&folder).unwrap();
        // Nor is there a lesson lost where nothing can be written.
        let nowhere = keep_or_make(Path::new("/dev/null/nowhere/host.key")).unwrap();
        assert!(nowhere.trouble.is_some());
    }
}
