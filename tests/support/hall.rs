//! A private sound system without a loudspeaker: `scripts/pulse-hall`.

use crate::skip;
use std::path::{Path, PathBuf};
use std::process::Command;

/// A private sound system, ended when dropped. What is played to its default
/// device goes to the sink `hall`, whose monitor is its microphone.
pub struct Hall {
    dir: PathBuf,
    env: Vec<(String, String)>,
}

impl Hall {
    /// `None`, once said plainly, when this machine has no PulseAudio.
    ///
    /// # Panics
    /// When PulseAudio is there but does not start.
    pub fn start(name: &str) -> Option<Hall> {
        Hall::start_with_log(name, "notice")
    }

    /// The same with a log that tells more: `debug` tells everything. It is the
    /// file `log` in [`Hall::dir`].
    ///
    /// # Panics
    /// As [`Hall::start`].
    pub fn start_with_log(name: &str, level: &str) -> Option<Hall> {
        // Sockets have short names, so not under the build directory.
        let dir = std::env::temp_dir().join(format!("fifthpeg-{name}-{}", std::process::id()));
        let out = Command::new(script())
            .args(["start".as_ref(), dir.as_os_str()])
            .env("FIFTHPEG_HALL_LOG", level)
            .output()
            .expect("scripts/pulse-hall runs");
        let said = String::from_utf8_lossy(&out.stderr).into_owned();
        if out.status.code() == Some(3) {
            let _ = std::fs::remove_dir_all(&dir);
            skip(&format!("sound through PulseAudio: {said}"));
            return None;
        }
        assert!(out.status.success(), "{said}");
        let env = String::from_utf8_lossy(&out.stdout)
            .lines()
            .filter_map(|line| line.split_once('='))
            .map(|(name, value)| (name.to_owned(), value.to_owned()))
            .collect();
        Some(Hall { dir, env })
    }

    /// A program that has this sound system.
    pub fn command(&self, program: impl AsRef<Path>) -> Command {
        let mut command = Command::new(program.as_ref());
        command.envs(self.env.iter().cloned());
        command
    }

    /// Its own directory, gone with it.
    pub fn dir(&self) -> &Path {
        &self.dir
    }

    /// Has its sound server do something; what `pactl` prints.
    ///
    /// # Panics
    /// When it refuses.
    pub fn pactl(&self, args: &[&str]) -> String {
        let out = self.command("pactl").args(args).output().expect("pactl");
        let said = String::from_utf8_lossy(&out.stderr).into_owned();
        assert!(out.status.success(), "pactl {args:?}: {said}");
        String::from_utf8_lossy(&out.stdout).trim().to_owned()
    }
}

impl Drop for Hall {
    fn drop(&mut self) {
        let _ = Command::new(script())
            .args(["stop".as_ref(), self.dir.as_os_str()])
            .status();
        let _ = std::fs::remove_dir_all(&self.dir);
    }
}

fn script() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../scripts/pulse-hall")
}
