//! A host's lock as the program sets it up: the key that stays the same from
//! lesson to lesson, and the passphrase that outlives a host that is killed.

pub mod kept;

use std::path::PathBuf;

use fifthpeg_book::default_location;
use fifthpeg_front::failure::Failure;
use fifthpeg_host::{Certificate, Lock, made_passphrase};
use fifthpeg_link::LinkError;
use fifthpeg_link::secure::{HostKey, KeptHostKey, WebKey, keep_or_make};
use fifthpeg_lock::Passphrase;

use crate::args::host::HostArgs;
use crate::lesson_book::book_path;

/// A lock for a lesson, and where its passphrase is kept while the lesson lasts.
pub struct ChosenLock {
    /// The lock.
    pub lock: Lock,
    /// What to say of the key, if anything.
    pub trouble: Option<String>,
    kept: Option<PathBuf>,
}

impl ChosenLock {
    /// The lock for the lesson of this name; with `goes_on` the passphrase it
    /// had, unless another was chosen.
    ///
    /// # Errors
    /// When the chosen passphrase cannot be used, or the system gives no
    /// random numbers.
    pub fn set_up(
        args: &HostArgs,
        lesson: &str,
        goes_on: bool,
        state: Option<PathBuf>,
    ) -> Result<Self, Failure> {
        let chosen = args.door.chosen(lesson)?;
        if args.door.open {
            return Ok(Self {
                lock: Lock::Open,
                trouble: None,
                kept: None,
            });
        }
        let KeptHostKey { key, trouble } = match default_location() {
            Some(book) => keep_or_make(&book.with_file_name("host.key")),
            None => HostKey::make().map(|key| KeptHostKey { key, trouble: None }),
        }
        .map_err(Failure::runtime)?;
        let class = args.book.class.as_deref().unwrap_or(lesson);
        let book = book_path(&args.book).unwrap_or_default();
        let kept = state.map(|folder| folder.join(kept::file_name(&book, class, lesson)));
        let before = kept.as_deref().filter(|_| goes_on).and_then(kept::read);
        let passphrase = match chosen.or(before) {
            Some(passphrase) => passphrase,
            None => made()?,
        };
        // Only a lesson that is written down can be taken up again.
        let kept = kept.filter(|path| !args.book.no_book && kept::keep(path, &passphrase));
        Ok(Self {
            lock: Lock::Passphrase { key, passphrase },
            trouble,
            kept,
        })
    }

    /// The lesson is over: its passphrase is kept nowhere.
    pub fn forget(&self) {
        if let Some(path) = &self.kept {
            // One that is gone already is what is wanted.
            let _ = std::fs::remove_file(path);
        }
    }
}

/// What browsers are shown that come over https: one that was given, or the host's own,
/// kept beside its key.
///
/// # Errors
/// When the one given cannot be used.
pub fn certificate(args: &HostArgs) -> Result<Certificate, Failure> {
    let Some(path) = &args.certificate else {
        let beside = default_location().map(|book| book.with_file_name("pages.key"));
        return Ok(Certificate::Own(beside));
    };
    let why = match std::fs::read_to_string(path) {
        Ok(pem) => match WebKey::from_pem(&pem) {
            Ok(key) => return Ok(Certificate::Given(key)),
            Err(LinkError::Key(why)) => why.to_string(),
            Err(why) => why.to_string(),
        },
        Err(why) => why.to_string(),
    };
    Err(Failure::usage(format!(
        "--certificate {}: {why}; it takes a file in PEM with the certificate, those that vouch for \
         it, and the private key",
        path.display()
    )))
}

fn made() -> Result<Passphrase, Failure> {
    made_passphrase().map_err(|why| {
        Failure::runtime(why).told(|why| format!(
            "this system has no random numbers to give ({why}): restart it, then start the lesson again"
        ))
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use clap::Parser;

    fn args(more: &[&str]) -> HostArgs {
        let line = ["fifthpeg", "host", "--name", "Hall"].iter().chain(more);
        let parsed = crate::args::Cli::try_parse_from(line).expect("a command line");
        match parsed.command {
            crate::args::Command::Host(args) => *args,
            _ => panic!("no host"),
        }
    }

    fn passphrase_of(door: &ChosenLock) -> Passphrase {
        match &door.lock {
            Lock::Passphrase { passphrase, .. } => passphrase.clone(),
            Lock::Open => panic!("open"),
        }
    }

    #[test]
    fn a_lesson_is_locked_unless_it_is_asked_to_be_open() {
        let open = ChosenLock::set_up(&args(&["--open"]), "Hall", false, None).unwrap();
        assert!(matches!(open.lock, Lock::Open));
        let locked = ChosenLock::set_up(&args(&["--no-book"]), "Hall", false, None).unwrap();
        assert_eq!(passphrase_of(&locked).shown().split(' ').count(), 4);
        let weak = ChosenLock::set_up(&args(&["--passphrase", "hall"]), "Hall", false, None);
        assert!(weak.is_err());
    }

    #[test]
    fn a_certificate_that_cannot_be_used_is_told_of() {
        let given = |file| {
            certificate(&args(&[
                "--host-name",
                "hall.example",
                "--certificate",
                file,
            ]))
        };
        let none = given("/nowhere/hall.pem");
        let told = none.unwrap_err().to_string();
        assert!(told.contains("/nowhere/hall.pem"), "{told}");
        let shopping = std::env::temp_dir().join(format!("fifthpeg-pem-{}", std::process::id()));
        std::fs::write(&shopping, "shopping list").unwrap();
        let none = given(shopping.to_str().unwrap());
        let told = none.unwrap_err().to_string();
        assert!(told.contains("no certificate in it"), "{told}");
        std::fs::remove_file(&shopping).unwrap();
        assert!(certificate(&args(&[])).is_ok());
    }

    #[test]
    fn a_passphrase_outlives_a_killed_host_and_not_its_lesson() {
        let folder = std::env::temp_dir().join(format!("fifthpeg-door-{}", std::process::id()));
        let _ = std::fs::remove_dir_all(&folder);
        let set_up = |more: &[&str], goes_on| {
            ChosenLock::set_up(&args(more), "Hall", goes_on, Some(folder.clone())).unwrap()
        };
        let killed = passphrase_of(&set_up(&[], false));
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt;
            let file = std::fs::read_dir(&folder).unwrap().next().unwrap().unwrap();
            let mode = file.metadata().unwrap().permissions().mode();
            assert_eq!(mode & 0o777, 0o600);
        }
        // Another class is another lesson.
        let other = set_up(&["--class", "Barn"], true);
        assert_ne!(passphrase_of(&other), killed);
        other.forget();
        let again = set_up(&[], true);
        assert_eq!(passphrase_of(&again), killed);
        let chosen = set_up(&["--passphrase", "blue boots in the rain"], true);
        assert_ne!(passphrase_of(&chosen), killed);
        // A new lesson has a new one, and its end leaves none.
        let new = set_up(&[], false);
        assert_ne!(passphrase_of(&new), killed);
        new.forget();
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 0);
        set_up(&["--no-book"], false);
        assert_eq!(std::fs::read_dir(&folder).unwrap().count(), 0);
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
