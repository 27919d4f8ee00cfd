//! Python, for checks against libraries outside the project.

use std::path::{Path, PathBuf};
use std::process::Command;

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

/// A Python that has these modules: that of `scripts/test` or of
/// `scripts/ear-table`, or the system's. `None` where none has them.
pub fn python_with(modules: &str) -> Option<PathBuf> {
    let venv = |name: &str| root().join("target").join(name).join("bin/python");
    [venv("ear-venv"), venv("reference-venv"), "python3".into()]
        .into_iter()
        .find(|python| {
            let tried = Command::new(python)
                .args(["-c", &format!("import {modules}")])
                .output();
            tried.is_ok_and(|out| out.status.success())
        })
}

/// Runs a script of `tests/reference/ear`.
///
/// # Panics
/// With what it said, if it fails.
pub fn run_script(python: &Path, name: &str, args: &[&str]) {
    let out = Command::new(python)
        .arg(root().join("tests/reference/ear").join(name))
        .args(args)
        .output()
        .expect("python runs");
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(out.status.success(), "{name}: {said}");
}

/// The rows of a comma-separated table under its heading.
///
/// # Panics
/// If it cannot be read.
pub fn table_rows(path: &Path) -> Vec<Vec<String>> {
    let text = std::fs::read_to_string(path).expect("a table");
    let cells = |line: &str| line.split(',').map(str::to_owned).collect();
    text.lines().skip(1).map(cells).collect()
}

/// An empty folder under the build's own, for a test's files.
///
/// # Panics
/// If it cannot be made.
pub fn empty_folder(build: &str, name: &str) -> PathBuf {
    let folder = Path::new(build).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).expect("a folder for a test's files");
    folder
}
