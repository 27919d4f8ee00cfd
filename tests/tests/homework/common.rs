//! What these tests share.

use std::path::{Path, PathBuf};

use fifthpeg_tests::{Outcome, run, temporary, three_weeks};

pub const CLASS: &str = "Village hall evening class";
pub const NAMES: [&str; 7] = ["Ada", "Ben", "Ivo", "Mia", "Noor", "Ruth", "Tomas"];

/// A folder with a lesson book in it, and room for homework.
pub struct Hall {
    pub folder: PathBuf,
    pub book: PathBuf,
    pub to: PathBuf,
}

pub fn hall(test: &str) -> Hall {
    let folder = temporary(test);
    Hall {
        book: three_weeks(&folder),
        to: folder.join("homework"),
        folder,
    }
}

impl Hall {
    /// The command's arguments.
    pub fn arguments<'a>(&'a self, options: &[&'a str]) -> Vec<&'a str> {
        let mut arguments = vec!["homework", "--class", CLASS];
        arguments.extend(["--book", text(&self.book), "--to", text(&self.to)]);
        arguments.extend(options);
        arguments
    }

    pub fn homework(&self, options: &[&str]) -> Outcome {
        run(&self.arguments(options))
    }

    /// Runs it where nothing is to go wrong.
    pub fn made(&self, options: &[&str]) -> String {
        let outcome = self.homework(options);
        assert_eq!(outcome.code, Some(0), "{outcome:?}");
        outcome.output
    }

    pub fn of(&self, student: &str) -> PathBuf {
        self.to.join(student)
    }
}

pub fn text(path: &Path) -> &str {
    path.to_str().expect("a plain path")
}

/// What is in a folder, by name.
pub fn names(folder: &Path) -> Vec<String> {
    let entries = std::fs::read_dir(folder).expect("a folder");
    let mut names: Vec<String> = entries
        .map(|entry| {
            entry
                .expect("an entry")
                .file_name()
                .to_string_lossy()
                .into()
        })
        .collect();
    names.sort();
    names
}

/// A text file.
pub fn read(path: &Path) -> String {
    std::fs::read_to_string(path).unwrap_or_else(|why| panic!("{}: {why}", path.display()))
}

/// The command that a student's answer sheet ends with.
pub fn command(hall: &Hall, student: &str) -> String {
    let sheet = read(&hall.of(student).join(format!("{student}.txt")));
    sheet.lines().last().expect("a command").to_owned()
}

/// Notes and weights in such a command.
pub fn weights(command: &str) -> Vec<(String, f64)> {
    let (_, notes) = command.split_once("--notes '").expect("notes");
    let (notes, _) = notes.split_once('\'').expect("notes end");
    notes
        .split(',')
        .map(|note| {
            let (name, weight) = note.split_once('=').expect("a weight");
            (name.to_owned(), weight.parse().expect("a number"))
        })
        .collect()
}
