//! Folders that tests of files work in.

use std::fs;
use std::path::{Path, PathBuf};

/// An empty folder for one test.
pub fn folder(test: &str) -> PathBuf {
    let name = format!("fifthpeg-{test}-{}", std::process::id());
    let folder = std::env::temp_dir().join(name);
    let _ = fs::remove_dir_all(&folder);
    fs::create_dir_all(&folder).expect("a folder");
    folder
}

/// The names of what is in a folder, in order.
pub fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|e| e.expect("an entry").file_name().to_string_lossy().into())
        .collect();
    names.sort();
    names
}
