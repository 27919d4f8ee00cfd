//! The folders where a user's programs keep things, as each system has them.

use std::path::PathBuf;

/// The program's folder among those of other programs.
const FOLDER: &str = "fifthpeg";

/// What is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kept {
    /// What the user made and would miss.
    Data,
    /// What lasts from one start to the next and could be done without.
    State,
    /// What the user chose.
    Settings,
}

impl Kept {
    /// The variable that names its folder, and that folder below the home folder
    /// otherwise (XDG Base Directory Specification 0.8); the variable of Windows.
    const fn names(self) -> (&'static str, &'static str, &'static str) {
        match self {
            Kept::Data => ("XDG_DATA_HOME", ".local/share", "LOCALAPPDATA"),
            Kept::State => ("XDG_STATE_HOME", ".local/state", "LOCALAPPDATA"),
            Kept::Settings => ("XDG_CONFIG_HOME", ".config", "APPDATA"),
        }
    }
}

/// The program's folder for that: `fifthpeg` in `$XDG_DATA_HOME` (or
/// `XDG_STATE_HOME`, `XDG_CONFIG_HOME`), else in `~/.local/share` (`~/.local/state`,
/// `~/.config`); in `%LOCALAPPDATA%` or `%APPDATA%` on Windows; in `~/Library/Application
/// Support` on macOS. `None` where the system names none. It need not be there yet.
pub fn folder(kept: Kept) -> Option<PathBuf> {
    folder_by(kept, |variable| {
        std::env::var_os(variable).map(PathBuf::from)
    })
}

fn folder_by(kept: Kept, variable: impl Fn(&str) -> Option<PathBuf>) -> Option<PathBuf> {
    // The specification has relative paths left out.
    let absolute = |name| variable(name).filter(|folder: &PathBuf| folder.is_absolute());
    let (named, at_home, windows) = kept.names();
    let folder = absolute(named).or_else(|| {
        if cfg!(windows) {
            absolute(windows)
        } else if cfg!(target_os = "macos") {
            Some(absolute("HOME")?.join("Library/Application Support"))
        } else {
            Some(absolute("HOME")?.join(at_home))
        }
    })?;
    Some(folder.join(FOLDER))
}

#[cfg(all(test, unix, not(target_os = "macos")))]
mod tests {
    use super::*;

    #[test]
    fn the_usual_folders_follow_the_specification() {
        // XDG Base Directory Specification 0.8: the defaults below $HOME, and
        // relative paths are to be ignored.
        let found = |kept, set: &[(&str, &str)]| {
            let folder = folder_by(kept, |name| {
                let found = set.iter().find(|(n, _)| *n == name);
                found.map(|(_, value)| PathBuf::from(value))
            });
            folder.map(|folder| folder.display().to_string())
        };
        let home = ("HOME", "/home/ruth");
        for (kept, variable, usual) in [
            (
                Kept::Data,
                "XDG_DATA_HOME",
                "/home/ruth/.local/share/fifthpeg",
            ),
            (
                Kept::State,
                "XDG_STATE_HOME",
                "/home/ruth/.local/state/fifthpeg",
            ),
            (
                Kept::Settings,
                "XDG_CONFIG_HOME",
                "/home/ruth/.config/fifthpeg",
            ),
        ] {
            assert_eq!(found(kept, &[home]).as_deref(), Some(usual));
            assert_eq!(
                found(kept, &[home, (variable, "mine")]).as_deref(),
                Some(usual)
            );
            let named = found(kept, &[home, (variable, "/mine")]);
            assert_eq!(named.as_deref(), Some("/mine/fifthpeg"));
            assert_eq!(found(kept, &[]), None);
        }
    }
}
