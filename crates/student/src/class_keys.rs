//! Class keys that this machine has, each in a file of its own that only its
//! owner reads.
//!
//! A key is for one host, one class and one student, and fits no other. What is
//! not used for 90 days holds no longer, and its file goes.

use std::fs::{File, OpenOptions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::time::{Duration, SystemTime};

use fifthpeg_core::text::hex;
use fifthpeg_lesson::names::are_alike;
use fifthpeg_link::secure::Fingerprint;
use fifthpeg_lock::{ClassKey, MOST_KEYS, PrivateKey, PublicKey, UNUSED_DAYS};

use crate::hosts::{key_read, key_written};

/// No more of a file is read.
pub(crate) const LONGEST_FILE: u64 = 4096;
/// Most files that are looked at.
pub(crate) const MOST_FILES: usize = 64;
/// How the files' names end.
const ENDING: &str = "class-key";

/// A class key as kept.
#[derive(Debug, Clone)]
pub(crate) struct KeptKey {
    pub(crate) key: ClassKey,
    /// The host that granted it.
    pub(crate) host: Fingerprint,
    /// Under which name it lets in.
    pub(crate) name: String,
}

/// The folder with the keys.
#[derive(Debug, Clone, Default)]
pub(crate) struct ClassKeys {
    folder: Option<PathBuf>,
}

impl ClassKeys {
    pub(crate) fn open(folder: Option<&Path>) -> Self {
        Self {
            folder: folder.map(Path::to_owned),
        }
    }

    /// All that hold, the longest unused first; others go.
    fn all(&self) -> Vec<(PathBuf, KeptKey)> {
        let mut found: Vec<(SystemTime, PathBuf, KeptKey)> = Vec::new();
        let Some(files) = self
            .folder
            .as_deref()
            .and_then(|f| std::fs::read_dir(f).ok())
        else {
            return Vec::new();
        };
        let ours = files
            .flatten()
            .map(|file| file.path())
            .filter(|path| path.extension().is_some_and(|e| e == ENDING));
        for path in ours.take(MOST_FILES) {
            let Ok(used) = std::fs::metadata(&path).and_then(|about| about.modified()) else {
                continue;
            };
            let unused = SystemTime::now().duration_since(used).unwrap_or_default();
            if unused > Duration::from_secs(u64::from(UNUSED_DAYS) * 24 * 3600) {
                let _ = std::fs::remove_file(&path);
            } else if let Some(kept) = File::open(&path).ok().and_then(|file| read(&file)) {
                found.push((used, path, kept));
            }
        }
        found.sort_by(|(one, a, _), (other, b, _)| (one, a).cmp(&(other, b)));
        found
            .into_iter()
            .map(|(_, path, kept)| (path, kept))
            .collect()
    }

    /// Those of this host for who has that name, the likeliest last: those of a
    /// class that is called like the lesson come before those used of late.
    pub(crate) fn fitting(&self, host: Fingerprint, name: &str, lesson: &str) -> Vec<ClassKey> {
        let fits = |kept: &KeptKey| kept.host == host && are_alike(&kept.name, name);
        let mut keys: Vec<ClassKey> = self
            .all()
            .into_iter()
            .map(|(_, kept)| kept)
            .filter(fits)
            .map(|kept| kept.key)
            .collect();
        keys.sort_by_key(|key| are_alike(&key.class, lesson));
        let first = keys.len().saturating_sub(MOST_KEYS);
        keys.split_off(first)
    }

    /// This one was used: it holds for as long again.
    pub(crate) fn note_used(&self, public: PublicKey) {
        for (path, kept) in self.all() {
            if kept.key.private.public() == public {
                let file = OpenOptions::new().write(true).open(path);
                // What cannot be noted makes it end earlier, no more.
                let _ = file.and_then(|file| file.set_modified(SystemTime::now()));
            }
        }
    }

    /// Keeps a key, replacing one for the same host, class and name.
    pub(crate) fn keep(&self, kept: &KeptKey) -> io::Result<()> {
        let Some(folder) = &self.folder else {
            return Err(io::Error::new(
                io::ErrorKind::NotFound,
                "this system names no folder for it",
            ));
        };
        fifthpeg_files::make_own_folder(folder)?;
        let same = |old: &KeptKey| {
            old.host == kept.host && old.key.class == kept.key.class && old.name == kept.name
        };
        let old: Vec<_> = self
            .all()
            .into_iter()
            .filter(|(_, old)| same(old))
            .collect();
        let public = kept.key.private.public();
        let path = folder.join(format!("{}.{ENDING}", hex(&public.0[..8])));
        let beside = path.with_extension("new");
        // One that was left half written is nobody's.
        let _ = std::fs::remove_file(&beside);
        let mut options = fifthpeg_files::own();
        let mut file = options.write(true).create_new(true).open(&beside)?;
        file.write_all(written(kept).as_bytes())?;
        file.sync_all()?;
        std::fs::rename(&beside, &path)?;
        for (old, _) in old.iter().filter(|(old, _)| *old != path) {
            let _ = std::fs::remove_file(old);
        }
        Ok(())
    }
}

/// The names under which this machine comes in by class keys.
pub fn class_key_names(folder: &Path) -> Vec<String> {
    let all = ClassKeys::open(Some(folder)).all();
    let mut names: Vec<String> = all.into_iter().map(|(_, kept)| kept.name).collect();
    names.sort();
    names.dedup();
    names
}

/// Deletes every class key of this machine; how many there were.
///
/// # Errors
/// What the system says of the first that cannot be deleted.
pub fn forget_class_keys(folder: &Path) -> io::Result<usize> {
    let all = ClassKeys::open(Some(folder)).all();
    for (path, _) in &all {
        std::fs::remove_file(path)?;
    }
    Ok(all.len())
}

fn written(kept: &KeptKey) -> String {
    let line = |text: &str| -> String { text.chars().filter(|c| !c.is_control()).collect() };
    format!(
        "private {}\nproof {}\nhost {}\nclass {}\nname {}\n",
        key_written(Fingerprint(*kept.key.private.bytes())),
        key_written(Fingerprint(kept.key.host.0)),
        key_written(kept.host),
        line(&kept.key.class),
        line(&kept.name),
    )
}

/// `None` for a file that was not written to its end.
fn read(file: &File) -> Option<KeptKey> {
    let mut text = String::new();
    file.take(LONGEST_FILE).read_to_string(&mut text).ok()?;
    let field = |word: &str| {
        text.split_inclusive('\n')
            .filter_map(|line| line.strip_suffix('\n'))
            .find_map(|line| line.strip_prefix(word)?.strip_prefix(' '))
    };
    Some(KeptKey {
        name: field("name")?.to_owned(),
        host: key_read(field("host")?)?,
        key: ClassKey {
            private: PrivateKey::from_bytes(key_read(field("private")?)?.0),
            host: PublicKey(key_read(field("proof")?)?.0),
            class: field("class")?.to_owned(),
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn folder(test: &str) -> PathBuf {
        let folder = std::env::temp_dir().join(format!("fifthpeg-{test}-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        folder
    }

    fn kept(private: u8, host: u8, class: &str, name: &str) -> KeptKey {
        KeptKey {
            key: ClassKey {
                private: PrivateKey::from_bytes([private; 32]),
                host: PublicKey([8; 32]),
                class: class.to_owned(),
            },
            host: Fingerprint([host; 32]),
            name: name.to_owned(),
        }
    }

    fn publics(keys: &[ClassKey]) -> Vec<PublicKey> {
        keys.iter().map(|key| key.private.public()).collect()
    }

    fn public(private: u8) -> PublicKey {
        PrivateKey::from_bytes([private; 32]).public()
    }

    #[test]
    fn a_key_is_for_one_host_and_name_and_its_owner_s_eyes() {
        let folder = folder("class-keys");
        let keys = ClassKeys::open(Some(&folder));
        keys.keep(&kept(1, 7, "Thursday", "Mia")).unwrap();
        keys.keep(&kept(2, 7, "Friday", "Mia")).unwrap();
        keys.keep(&kept(3, 7, "Thursday", "Ole")).unwrap();
        keys.keep(&kept(4, 9, "Thursday", "Mia")).unwrap();
        let host = Fingerprint([7; 32]);
        let thursday = keys.fitting(host, "mia", "Thursday");
        assert_eq!(publics(&thursday), [public(2), public(1)]);
        let friday = keys.fitting(host, "Mia", "friday");
        assert_eq!(publics(&friday), [public(1), public(2)]);
        assert_eq!(keys.fitting(host, "Sol", "Thursday").len(), 0);
        assert_eq!(class_key_names(&folder), ["Mia", "Ole"]);
        #[cfg(unix)]
        for file in std::fs::read_dir(&folder).unwrap().flatten() {
            use std::os::unix::fs::PermissionsExt;
            let mode = file.metadata().unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        // A new one for the same takes the old one's place.
        keys.keep(&kept(5, 7, "Thursday", "Mia")).unwrap();
        let thursday = keys.fitting(host, "Mia", "Thursday");
        assert_eq!(publics(&thursday), [public(2), public(5)]);
        assert_eq!(forget_class_keys(&folder).unwrap(), 4);
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 0);
        std::fs::remove_dir(&folder).unwrap();
    }

    #[test]
    fn a_key_unused_for_90_days_is_gone_and_use_lengthens_it() {
        let folder = folder("class-keys-old");
        let keys = ClassKeys::open(Some(&folder));
        keys.keep(&kept(1, 7, "Thursday", "Mia")).unwrap();
        let host = Fingerprint([7; 32]);
        let path = keys.all()[0].0.clone();
        let age = |days: u64| {
            let file = OpenOptions::new().write(true).open(&path).unwrap();
            let at = SystemTime::now() - Duration::from_secs(days * 24 * 3600 + 60);
            file.set_modified(at).unwrap();
        };
        age(89);
        assert_eq!(keys.fitting(host, "Mia", "Hall").len(), 1);
        keys.note_used(public(1));
        let used = path.metadata().unwrap().modified().unwrap();
        assert!(used.elapsed().unwrap() < Duration::from_secs(3600));
        age(90);
        assert_eq!(keys.fitting(host, "Mia", "Hall").len(), 0);
        assert!(!path.exists());
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn half_a_file_is_no_key() {
        let folder = folder("class-keys-half");
        std::fs::create_dir_all(&folder).unwrap();
        let path = folder.join(format!("x.{ENDING}"));
        let whole = written(&kept(1, 7, "Thursday", "Mia"));
        for end in 0..whole.len() {
            std::fs::write(&path, &whole[..end]).unwrap();
            assert!(read(&File::open(&path).unwrap()).is_none(), "{end}");
        }
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
