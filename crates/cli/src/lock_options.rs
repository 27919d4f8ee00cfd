//! The options on who gets in, for `host` and `join`.

use std::path::{Path, PathBuf};

use clap::Args;
use fifthpeg_front::failure::Failure;
use fifthpeg_front::files;
use fifthpeg_lock::Passphrase;
use fifthpeg_student::Entry;

/// No more of a passphrase's file is read, in bytes.
const LONGEST_FILE: u64 = 1024;

/// Who gets into a lesson.
#[derive(Debug, Clone, Default, Args)]
pub struct DoorOptions {
    /// Choose the lesson's passphrase yourself, instead of the four words that
    /// the host makes
    ///
    /// At least 10 letters or digits. Capitals, spaces and hyphens make no
    /// difference. Other programs of this machine can see what a command line
    /// says; --passphrase-file is for where that matters.
    #[arg(long, value_name = "WORDS", conflicts_with_all = ["passphrase_file", "open"])]
    pub passphrase: Option<String>,

    /// Read the passphrase from the first line of a file
    #[arg(long, value_name = "FILE", conflicts_with = "open")]
    pub passphrase_file: Option<PathBuf>,

    /// Hold an open lesson: no passphrase, nothing encrypted
    ///
    /// Anyone on the network can join it and listen in. Every screen says so.
    #[arg(long)]
    pub open: bool,
}

impl DoorOptions {
    /// The passphrase chosen for the lesson of this name, if one was.
    ///
    /// # Errors
    /// When it could be guessed, or its file cannot be read.
    pub fn chosen(&self, lesson: &str) -> Result<Option<Passphrase>, Failure> {
        let given = given(self.passphrase.as_deref(), self.passphrase_file.as_deref())?;
        let Some((option, text)) = given else {
            return Ok(None);
        };
        let chosen = Passphrase::chosen(&text, lesson);
        chosen
            .map(Some)
            .map_err(|why| Failure::usage(why).told(|why| format!("{option}: {why}")))
    }
}

/// How a student gets in.
#[derive(Debug, Clone, Default, Args)]
pub struct EntryOptions {
    /// The lesson's passphrase, such as acorn-river-candle-tiger
    ///
    /// Without it you are asked once the lesson is found. Capitals, spaces and
    /// hyphens make no difference. Other programs of this machine can see what a
    /// command line says; --passphrase-file is for where that matters.
    #[arg(long, value_name = "WORDS", conflicts_with_all = ["passphrase_file", "open", "list"])]
    pub passphrase: Option<String>,

    /// Read the passphrase from the first line of a file
    #[arg(long, value_name = "FILE", conflicts_with_all = ["open", "list"])]
    pub passphrase_file: Option<PathBuf>,

    /// Join even where a lesson that used to be locked is open now
    #[arg(long, conflicts_with = "list")]
    pub open: bool,

    /// Go on even where the host's key is not the one of last time
    ///
    /// Only if you know why it changed, such as a new computer.
    #[arg(long, conflicts_with = "list")]
    pub new_key: bool,
}

impl EntryOptions {
    /// What the terminal is to know of the lock. Hosts' keys are remembered in
    /// `hosts`.
    ///
    /// # Errors
    /// When the passphrase is none, or its file cannot be read.
    pub fn entry(&self, hosts: Option<PathBuf>) -> Result<Entry, Failure> {
        let given = given(self.passphrase.as_deref(), self.passphrase_file.as_deref())?;
        let passphrase = given
            .map(|(option, text)| {
                let typed = Passphrase::typed(&text);
                typed.map_err(|why| Failure::usage(why).told(|why| format!("{option}: {why}")))
            })
            .transpose()?;
        Ok(Entry {
            passphrase,
            open: self.open,
            new_key: self.new_key,
            hosts,
        })
    }
}

/// What was given, and by which option.
fn given(
    words: Option<&str>,
    file: Option<&Path>,
) -> Result<Option<(&'static str, String)>, Failure> {
    if let Some(words) = words {
        return Ok(Some(("--passphrase", words.to_owned())));
    }
    let Some(path) = file else {
        return Ok(None);
    };
    let text = files::read_text(path, LONGEST_FILE)?;
    let first = text.trim_start_matches('\u{feff}').lines().next();
    let first = first.unwrap_or_default().trim().to_owned();
    Ok(Some(("--passphrase-file", first)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_chosen_is_judged_and_what_is_typed_is_taken() {
        let door = |words: &str| DoorOptions {
            passphrase: Some(words.to_owned()),
            ..DoorOptions::default()
        };
        let chosen = door("blue boots in the rain").chosen("Hall").unwrap();
        assert_eq!(chosen, Passphrase::typed("Blue-Boots-In-The-Rain").ok());
        let weak = door("blue").chosen("Hall").unwrap_err().to_string();
        assert!(weak.starts_with("--passphrase: "), "{weak}");
        assert_eq!(DoorOptions::default().chosen("Hall").unwrap(), None);
        let entry = EntryOptions {
            passphrase: Some("blue".to_owned()),
            ..EntryOptions::default()
        };
        let entry = entry.entry(None).unwrap();
        assert_eq!(entry.passphrase, Passphrase::typed("BLUE").ok());
    }
}
