//! `--log`: what happened, into a file that can be sent to whoever helps.

use std::env::{self, consts};
use std::path::PathBuf;
use std::time::Instant;

use clap::Args;
use fifthpeg_front::failure::Failure;
use fifthpeg_log::{Chain, Detail, RunningLog};
use tracing::{error, info};

/// What names the file without an option.
const FILE: &str = "FIFTHPEG_LOG";
/// What says how much without an option.
const DETAIL: &str = "FIFTHPEG_LOG_LEVEL";

/// What is written about the program itself, for every command.
#[derive(Debug, Args)]
#[command(next_help_heading = "Diagnostics")]
pub struct LogOptions {
    /// Write what the program does into this file, to be sent to whoever helps
    ///
    /// It holds no names, notes, passphrases, sound or whole addresses; docs/privacy.md says what it
    /// does hold. The FIFTHPEG_LOG environment variable asks for the same.
    #[arg(long, value_name = "FILE", global = true)]
    pub log: Option<PathBuf>,

    /// How much: trouble, steps, detail or all; without it, steps
    ///
    /// The FIFTHPEG_LOG_LEVEL environment variable says the same.
    #[arg(long, value_name = "LEVEL", global = true)]
    pub log_level: Option<Detail>,
}

impl LogOptions {
    /// Begins to write, where a file was named.
    ///
    /// # Errors
    /// If it cannot be written, or the environment names no level there is.
    pub fn start(&self) -> Result<Option<RunningLog>, Failure> {
        let named = || env::var_os(FILE).filter(|name| !name.is_empty());
        let Some(file) = self.log.clone().or_else(|| named().map(PathBuf::from)) else {
            return Ok(None);
        };
        let detail = match (self.log_level, env::var(DETAIL)) {
            (Some(detail), _) => detail,
            (None, Ok(word)) if !word.is_empty() => {
                let read = word.parse::<Detail>();
                read.map_err(|say| Failure::usage(say).told(|say| format!("{DETAIL}: {say}")))?
            }
            (None, _) => Detail::default(),
        };
        let running = fifthpeg_log::start(&file, detail).map_err(Failure::usage)?;
        hear_panics();
        Ok(Some(running))
    }
}

/// Says what was started, and on what.
pub fn started(command: &str) {
    let cores = std::thread::available_parallelism().map_or(0, usize::from);
    info!(
        name: "started",
        command,
        version = env!("CARGO_PKG_VERSION"),
        system = %system(),
        machine = %format_args!("{}, {cores} cores", consts::ARCH),
    );
}

/// Says how it ended.
pub fn ended(outcome: &Result<(), Failure>, began: Instant) {
    let took_us = began.elapsed().as_micros() as u64;
    match outcome {
        Ok(()) => info!(name: "ended", code = 0, took_us),
        Err(failure) => {
            let code = failure.code();
            error!(name: "ended", code, took_us, error = %Chain(failure));
        }
    }
}

/// The kind of system, and its own words for its version where it has a file of them.
fn system() -> String {
    let read = |file: &str| std::fs::read_to_string(file).unwrap_or_default();
    let about = read("/etc/os-release");
    let name = about
        .lines()
        .find_map(|line| line.strip_prefix("PRETTY_NAME="));
    let kernel = read("/proc/sys/kernel/osrelease");
    let words = [consts::OS, name.unwrap_or(""), kernel.trim()].map(|word| word.trim_matches('"'));
    words.join(" ").trim().to_owned()
}

/// A fault of the program says where it was, and not its words, which may hold anything.
fn hear_panics() {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |panic| {
        if let Some(place) = panic.location() {
            let file = place.file().rsplit(['/', '\\']).next().unwrap_or("");
            error!(name: "fault", line = %format_args!("{file}:{}", place.line()));
        }
        before(panic);
    }));
}
