//! Taking the book's content out, and taking in what went out of one.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use fifthpeg_book::exchange::csv_files;
use fifthpeg_book::{Book, BookError, TakenAs, TakenIn};
use fifthpeg_core::text::{count, one_line};
use fifthpeg_front::drafts::{Drafts, Replaces};
use fifthpeg_front::failure::Failure;
use fifthpeg_front::folder_draft::FolderDraft;
use fifthpeg_front::out;

use super::keeping::one_file;
use super::shelf;
use super::talk::say;
use super::working::work;
use crate::args::book::{ExportForm, Taking};
use crate::report_cmd::is_standard_output;

/// How an export as JSON begins.
const JSON_BEGINS: &[u8] = b"{\"name\": \"fifthpeg lesson book\"";
/// How an SQLite file begins (SQLite file format, section 1.3.1).
const SQLITE_BEGINS: &[u8] = b"SQLite format 3\0";

/// Writes the whole book as JSON or CSV.
pub fn export(
    named: Option<&Path>,
    form: ExportForm,
    to: &Path,
    replace: bool,
) -> Result<(), Failure> {
    let path = shelf::there(named)?;
    let reader = shelf::to_read(&path)?;
    if is_standard_output(to) {
        if form == ExportForm::Csv {
            return Err(Failure::usage(
                "an export as csv is a folder of files: name one, or say --as json",
            ));
        }
        let mut made = Vec::new();
        reader.write_json(&mut made).map_err(Failure::runtime)?;
        return out::document(&String::from_utf8_lossy(&made));
    }
    match form {
        ExportForm::Json => {
            let drafts = Drafts::of_one(to, replace.then_some(EXPORT_AS_JSON))?;
            let at = drafts.temporary(to).unwrap_or(to).to_owned();
            work("writing", vec![at.clone()], move || {
                reader.export_json(&at).map_err(Failure::runtime)
            })?;
            drafts.publish()?;
        }
        ExportForm::Csv => {
            let draft = FolderDraft::open(to, replace.then_some(EXPORT_AS_CSV))?;
            let at = draft.temporary().to_owned();
            work("writing", vec![at.clone()], move || {
                reader.export_csv(&at).map_err(Failure::runtime)
            })?;
            draft.publish(&csv_files())?;
        }
    }
    say(&[format!(
        "written to {}: it holds everybody's names and your notes, so mind who may see it, and \
         delete it once it is no longer needed",
        to.display()
    )])
}

/// The exports that are made anew.
const EXPORT_AS_JSON: Replaces = Replaces {
    what: "export",
    is_one: |there: &Path| there.is_file() && begins(there, JSON_BEGINS),
};
const EXPORT_AS_CSV: Replaces = Replaces {
    what: "export",
    is_one: |there: &Path| {
        let known = csv_files();
        std::fs::read_dir(there).is_ok_and(|entries| {
            entries.flatten().all(|entry| {
                let name = entry.file_name();
                known.iter().any(|known| name == known.as_str())
            })
        })
    },
};

fn begins(path: &Path, with: &[u8]) -> bool {
    let mut start = Vec::new();
    let read =
        File::open(path).and_then(|file| file.take(with.len() as u64).read_to_end(&mut start));
    read.is_ok() && start == with
}

/// Takes an export in.
pub fn import(taking: &Taking) -> Result<(), Failure> {
    let from = &taking.from;
    if !from.exists() {
        return Err(not_there(from));
    }
    if from.is_file() && begins(from, SQLITE_BEGINS) {
        return Err(Failure::usage(format!(
            "{} is a lesson book, not an export: say fifthpeg book take-in",
            from.display()
        )));
    }
    let as_csv = from.is_dir() || from.extension().is_some_and(|ending| ending == "csv");
    // One file of the folder names the folder.
    let from = match (as_csv, from.is_dir(), from.parent()) {
        (true, false, Some(folder)) if folder.as_os_str().is_empty() => PathBuf::from("."),
        (true, false, Some(folder)) => folder.to_owned(),
        _ => from.clone(),
    };
    taken(taking, move |book| {
        if as_csv {
            book.import_csv(&from)
        } else {
            book.import_json(&from)
        }
    })
}

/// Takes another book in.
pub fn take_in(taking: &Taking) -> Result<(), Failure> {
    let from = taking.from.clone();
    if !from.is_file() {
        return Err(not_there(&from));
    }
    if begins(&from, JSON_BEGINS) {
        return Err(Failure::usage(format!(
            "{} is an export, not a lesson book: say fifthpeg book import",
            from.display()
        )));
    }
    if one_file(&from, &shelf::path(taking.book.as_deref())?) {
        return Err(Failure::usage(
            "that is the book itself: name another teacher's book",
        ));
    }
    taken(taking, move |book| match book.merge_book(&from) {
        Err(BookError::Older { path, version }) => Err(BookError::BadImport {
            path,
            why: format!(
                "it is of the older version {version}; fifthpeg book lessons --book FILE brings \
                 it up to date and keeps a copy"
            )
            .into(),
        }),
        other => other,
    })
}

fn not_there(from: &Path) -> Failure {
    Failure::usage(format!(
        "there is no {} to take in: name what another book gave",
        from.display()
    ))
}

fn taken(
    taking: &Taking,
    take: impl FnOnce(&mut Book) -> Result<TakenIn, BookError> + Send + 'static,
) -> Result<(), Failure> {
    let path = shelf::path(taking.book.as_deref())?;
    let fresh = !path.exists();
    let mut book = shelf::to_write(&path)?;
    shelf::no_host(&book)?;
    if taking.only_tell {
        book.only_tell();
    }
    book.take_as(TakenAs {
        class: taking.class.clone(),
        person: taking.person.clone(),
    });
    let beside = {
        let mut name = path.as_os_str().to_owned();
        name.push("-wal");
        PathBuf::from(name)
    };
    let outcome = work("taking in", vec![beside], move || {
        take(&mut book).map_err(Failure::runtime)
    });
    if fresh && (outcome.is_err() || taking.only_tell) {
        // A book made for what did not come in is of no use.
        let _ = std::fs::remove_file(&path);
    }
    say(&told(&outcome?, taking, &path))
}

fn told(taken: &TakenIn, taking: &Taking, path: &Path) -> Vec<String> {
    let would = taking.only_tell;
    let people = match taken.people {
        1 => "1 new person".to_owned(),
        n => format!("{n} new people"),
    };
    let mut lines = Vec::new();
    if taken.rows == 0 {
        lines.push(format!(
            "nothing in {} is new to the lesson book",
            taking.from.display()
        ));
    } else {
        lines.push(format!(
            "{} {} and {people} into {} ({})",
            if would { "would take" } else { "took" },
            count(taken.lessons as usize, "new lesson"),
            path.display(),
            match taken.rows {
                1 => "1 entry".to_owned(),
                n => format!("{n} entries"),
            }
        ));
    }
    for (class, name) in &taken.joined {
        lines.push(format!(
            "{} of {} is in both and taken to be one person{}",
            one_line(name),
            one_line(class),
            if would {
                ": if they are two, rename one first"
            } else {
                ""
            }
        ));
    }
    for (class, name) in &taken.removed_there {
        lines.push(format!(
            "{} of {} was removed from the other book and is still in this one: if that was \
             asked for, say fifthpeg book remove",
            one_line(name),
            one_line(class)
        ));
    }
    if !taken.open_here.is_empty() {
        lines.push(format!(
            "left out, since not ended in this book: {}",
            count(taken.open_here.len(), "lesson")
        ));
    }
    if would {
        lines.push("nothing was changed".to_owned());
    }
    lines
}
