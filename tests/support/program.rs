//! The real program, built if need be, and the usual ways to start it.

use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicU32, Ordering};
use std::time::SystemTime;

use crate::net::PASSPHRASE;
use crate::process::Process;

/// The built `fifthpeg`, from the same target folder as the running test. It is
/// built first if it is missing or older than the sources.
pub fn program() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| built("fifthpeg", &["-p", "fifthpeg-cli"]))
}

/// A lesson book of three made-up weeks of a class, in this folder: Ada, Ben,
/// Ivo, Mia, Noor, Ruth and Tomas.
pub fn three_weeks(folder: &Path) -> PathBuf {
    static EXAMPLE: OnceLock<PathBuf> = OnceLock::new();
    let example = EXAMPLE.get_or_init(|| {
        let which = ["-p", "fifthpeg-bench", "--bin", "three_weeks"];
        built("three_weeks", &which)
    });
    let book = folder.join("weeks.book");
    let made = Command::new(example).arg(&book).output();
    let made = made.expect("the example runs");
    assert!(made.status.success(), "{made:?}");
    book
}

/// A program of this workspace at a place below the profile's folder.
fn built(place: &str, which: &[&str]) -> PathBuf {
    let test = std::env::current_exe().expect("the test's own path");
    let profile = test
        .parent()
        .and_then(Path::parent)
        .expect("target/PROFILE/deps/TEST");
    let program = profile.join(place);
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let built = program.metadata().and_then(|file| file.modified());
    if built.is_err() || built.is_ok_and(|built| built < newest(&root.join("crates"))) {
        let mut cargo = Command::new(env!("CARGO"));
        cargo.args(["build", "--quiet"]).args(which);
        if profile.file_name().is_some_and(|name| name == "release") {
            cargo.arg("--release");
        }
        cargo.arg("--target-dir").arg(profile.join(".."));
        let status = cargo.current_dir(&root).status().expect("cargo runs");
        assert!(status.success(), "{place} does not build");
    }
    program
}

/// When the newest Rust source below a folder was changed.
fn newest(folder: &Path) -> SystemTime {
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    entries
        .map(|entry| {
            let path = entry.path();
            if path.is_dir() {
                newest(&path)
            } else if path.extension().is_some_and(|end| end == "rs") {
                let changed = path.metadata().and_then(|file| file.modified());
                changed.unwrap_or(SystemTime::UNIX_EPOCH)
            } else {
                SystemTime::UNIX_EPOCH
            }
        })
        .max()
        .unwrap_or(SystemTime::UNIX_EPOCH)
}

/// How a finished program ended.
#[derive(Debug)]
pub struct Outcome {
    /// Its exit code; `None` if a signal ended it.
    pub code: Option<i32>,
    /// What it wrote to standard output.
    pub output: String,
    /// What it wrote to standard error.
    pub errors: String,
}

/// Runs the program to its end, with no input.
pub fn run(arguments: &[&str]) -> Outcome {
    let mut process = Process::start("fifthpeg", Command::new(program()).args(arguments));
    process.end_input();
    let (code, lines, errors) = process.finish();
    Outcome {
        code,
        output: lines.join("\n"),
        errors,
    }
}

/// Starts a silent host in plain mode on loopback, unannounced; it and the
/// address to join at.
pub fn host(arguments: &[&str]) -> (Process, String) {
    host_with(arguments, &[])
}

/// The same with environment variables.
pub fn host_with(arguments: &[&str], variables: &[(&str, &str)]) -> (Process, String) {
    let mut command = Command::new(program());
    command
        .args(["host", "--plain", "--no-announce", "--bind", "127.0.0.1"])
        .args(arguments)
        .envs(variables.iter().copied());
    // The usual port may go to another test as soon as this host is gone.
    if !arguments.contains(&"--port") {
        command.args(["--port", "0"]);
    }
    if !arguments.contains(&"--output") {
        command.args(["--output", "none"]);
    }
    know_passphrase(&mut command, arguments);
    if !arguments.contains(&"--book") {
        command.arg("--no-book");
    }
    let mut host = Process::start("host", &mut command);
    let line = host.wait_for("address ");
    let address = line.trim_start_matches("address ").to_owned();
    (host, address)
}

/// Host and students know one passphrase, unless a test says otherwise.
pub fn know_passphrase(command: &mut Command, arguments: &[&str]) {
    let lock = ["--passphrase", "--passphrase-file", "--open"];
    if !lock.iter().any(|option| arguments.contains(option)) {
        command.args(["--passphrase", PASSPHRASE]);
    }
}

/// Starts a silent student in plain mode and waits until the lesson is joined.
pub fn join(name: &str, address: &str, arguments: &[&str]) -> Process {
    join_with(name, address, arguments, &[])
}

/// The same with environment variables.
pub fn join_with(
    name: &str,
    address: &str,
    arguments: &[&str],
    variables: &[(&str, &str)],
) -> Process {
    let mut command = Command::new(program());
    command
        .args(["join", address, "--as", name, "--plain"])
        .args(arguments)
        .envs(variables.iter().copied());
    if !arguments.contains(&"--output") {
        command.args(["--output", "none"]);
    }
    know_passphrase(&mut command, arguments);
    let mut student = Process::start(name, &mut command);
    student.wait_for("joined ");
    student
}

/// A folder of its own for a test's files, below the target folder.
pub fn temporary(test: &str) -> PathBuf {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let folder = std::env::temp_dir().join(format!(
        "{test}-{}-{}",
        std::process::id(),
        COUNT.fetch_add(1, Ordering::Relaxed)
    ));
    std::fs::create_dir_all(&folder).expect("a folder for the test");
    folder
}
