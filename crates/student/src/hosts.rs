//! The hosts that this terminal has been with, by their keys, so that it can
//! warn when a lesson is suddenly held by another.
//!
//! One small file for all: a line for each host, the latest first. Where it
//! cannot be kept, every lesson is one with an unknown host.

use std::fmt::Write as _;
use std::fs::File;
use std::io::{Read, Seek, Write};
use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use fifthpeg_core::text::{are_alike, hex, unhex};
use fifthpeg_link::secure::Fingerprint;

/// Hosts that are remembered; of more, the longest unseen is forgotten.
pub(crate) const MOST: usize = 64;
/// No more of the file is read.
pub(crate) const LONGEST_FILE: u64 = 64 * 1024;
/// The file's name.
const FILE: &str = "hosts";

/// A host that held a lesson.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct KnownHost {
    pub(crate) key: Fingerprint,
    /// Where it was.
    pub(crate) address: SocketAddr,
    /// The lesson's name.
    pub(crate) lesson: String,
}

/// What is known of a host's key.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) enum Seen {
    /// It held this lesson before.
    Known,
    /// Nobody did, as far as this terminal knows.
    First,
    /// Another key did; the latest of them.
    Changed(Fingerprint),
}

/// The hosts that are remembered.
#[derive(Debug, Default)]
pub(crate) struct KnownHosts {
    path: Option<PathBuf>,
    known: Vec<KnownHost>,
}

impl KnownHosts {
    /// Those remembered in this folder.
    pub(crate) fn open(folder: Option<&Path>) -> Self {
        let Some(folder) = folder else {
            return Self::default();
        };
        let path = folder.join(FILE);
        let known = File::open(&path).ok().map(|file| read(&file));
        Self {
            path: Some(path),
            known: known.unwrap_or_default(),
        }
    }

    /// Whether this lesson, or one at any of these addresses given by hand, was
    /// locked when this terminal was there.
    pub(crate) fn expects_lock(&self, lesson: Option<&str>, typed: &[SocketAddr]) -> bool {
        self.known.iter().any(|known| {
            lesson.is_some_and(|lesson| same(lesson, &known.lesson))
                || typed.contains(&known.address)
        })
    }

    /// What is known of this key, shown at `address` for `lesson`. An address
    /// counts only where it was given by hand: a found one is the network's
    /// word.
    pub(crate) fn judge(&self, key: Fingerprint, lesson: &str, typed: Option<SocketAddr>) -> Seen {
        let concerns = |known: &&KnownHost| {
            same(&known.lesson, lesson) || typed.is_some_and(|at| at == known.address)
        };
        let mut first = None;
        for known in self.known.iter().filter(concerns) {
            if known.key == key {
                return Seen::Known;
            }
            first.get_or_insert(known.key);
        }
        first.map_or(Seen::First, Seen::Changed)
    }

    /// Remembers a host that has proved itself.
    pub(crate) fn remember(&mut self, host: KnownHost) {
        let Some(path) = self.path.clone() else {
            self.put(host);
            return;
        };
        // What cannot be kept is as if it had never been; the lesson goes on.
        let _ = self.put_in_file(&path, host);
    }

    fn put(&mut self, host: KnownHost) {
        let is_it = |k: &KnownHost| k.key == host.key && same(&k.lesson, &host.lesson);
        self.known.retain(|known| !is_it(known));
        self.known.insert(0, host);
        self.known.truncate(MOST);
    }

    /// Another terminal of this machine may have written in the meantime.
    fn put_in_file(&mut self, path: &Path, host: KnownHost) -> std::io::Result<()> {
        if let Some(folder) = path.parent() {
            fifthpeg_files::make_own_folder(folder)?;
        }
        let mut options = fifthpeg_files::own();
        options.read(true).write(true).create(true).truncate(false);
        let mut file = options.open(path)?;
        file.lock()?;
        self.known = read(&file);
        self.put(host);
        let text = written(&self.known);
        file.rewind()?;
        file.write_all(text.as_bytes())?;
        file.set_len(text.len() as u64)
    }
}

/// Names are one if people would take them for one: an impostor's need not be
/// the same to the letter.
fn same(one: &str, other: &str) -> bool {
    are_alike(one.trim(), other.trim())
}

fn written(known: &[KnownHost]) -> String {
    let mut text = String::new();
    for host in known {
        let key = key_written(host.key);
        // A name is one line: the lesson's rules see to that, and so does this.
        let lesson: String = host.lesson.chars().filter(|c| !c.is_control()).collect();
        let _ = writeln!(text, "{key} {} {lesson}", host.address);
    }
    text
}

/// Whole lines that make sense.
fn read(mut file: &File) -> Vec<KnownHost> {
    let mut bytes = Vec::new();
    if file.rewind().is_err() || file.take(LONGEST_FILE).read_to_end(&mut bytes).is_err() {
        return Vec::new();
    }
    let text = String::from_utf8_lossy(&bytes);
    let whole = text
        .split_inclusive('\n')
        .filter_map(|l| l.strip_suffix('\n'));
    whole.filter_map(read_line).take(MOST).collect()
}

fn read_line(line: &str) -> Option<KnownHost> {
    let mut fields = line.splitn(3, ' ');
    Some(KnownHost {
        key: key_read(fields.next()?)?,
        address: fields.next()?.parse().ok()?,
        lesson: fields.next()?.to_owned(),
    })
}

/// A key as 64 hexadecimal digits.
pub(crate) fn key_written(key: Fingerprint) -> String {
    hex(&key.0)
}

/// The same read back.
pub(crate) fn key_read(text: &str) -> Option<Fingerprint> {
    unhex(text)?.try_into().ok().map(Fingerprint)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn host(key: u8, lesson: &str) -> KnownHost {
        KnownHost {
            key: Fingerprint([key; 32]),
            address: SocketAddr::from(([192, 0, 2, key], 4750)),
            lesson: lesson.to_owned(),
        }
    }

    fn print(key: u8) -> Fingerprint {
        Fingerprint([key; 32])
    }

    #[test]
    fn a_key_is_known_first_or_changed() {
        let mut hosts = KnownHosts::default();
        assert_eq!(hosts.judge(print(1), "Monday", None), Seen::First);
        assert!(!hosts.expects_lock(Some("Monday"), &[]));
        hosts.remember(host(1, "Monday"));
        assert!(hosts.expects_lock(Some("monday "), &[]));
        assert!(hosts.expects_lock(Some("M\u{43e}nday"), &[]));
        assert!(!hosts.expects_lock(Some("Friday"), &[]));
        assert_eq!(hosts.judge(print(1), "Monday", None), Seen::Known);
        assert_eq!(
            hosts.judge(print(2), "MONDAY", None),
            Seen::Changed(print(1))
        );
        assert_eq!(hosts.judge(print(2), "Friday", None), Seen::First);
        // Two laptops that take turns are known both.
        hosts.remember(host(2, "Monday"));
        assert_eq!(hosts.judge(print(1), "Monday", None), Seen::Known);
        assert_eq!(
            hosts.judge(print(3), "Monday", None),
            Seen::Changed(print(2))
        );
    }

    #[test]
    fn an_address_given_by_hand_counts_whatever_the_lesson_calls_itself() {
        let mut hosts = KnownHosts::default();
        let monday = host(1, "Monday");
        let at = monday.address;
        hosts.remember(monday);
        assert!(hosts.expects_lock(None, &[at]));
        assert_eq!(
            hosts.judge(print(2), "Anything", Some(at)),
            Seen::Changed(print(1))
        );
        // The same host holds another lesson.
        assert_eq!(hosts.judge(print(1), "Friday", Some(at)), Seen::Known);
    }

    #[test]
    fn what_is_kept_is_read_back_whole_and_bounded() {
        let folder = std::env::temp_dir().join(format!("fifthpeg-hosts-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let mut hosts = KnownHosts::open(Some(&folder));
        hosts.remember(host(1, "Village hall, Monday"));
        hosts.remember(host(2, "Friday\nX"));
        let again = KnownHosts::open(Some(&folder));
        assert_eq!(
            again.known,
            [host(2, "FridayX"), host(1, "Village hall, Monday")]
        );
        // Half a line, as a full disk leaves it, and nonsense are passed over.
        let path = folder.join(FILE);
        let text = std::fs::read_to_string(&path).unwrap();
        std::fs::write(
            &path,
            format!("nonsense\n\u{1f3b8}\n{}", &text[..text.len() - 5]),
        )
        .unwrap();
        assert_eq!(KnownHosts::open(Some(&folder)).known, [host(2, "FridayX")]);
        for key in 0..100 {
            hosts.remember(host(key, &format!("Lesson {key}")));
        }
        assert_eq!(KnownHosts::open(Some(&folder)).known.len(), MOST);
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let mode = std::fs::metadata(&path).unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
