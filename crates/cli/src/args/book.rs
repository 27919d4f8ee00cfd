//! What `fifthpeg book` takes.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};
use fifthpeg_front::values::parse_name;

/// `fifthpeg book`.
#[derive(Debug, Args)]
pub struct BookArgs {
    /// What to do with the book.
    #[command(subcommand)]
    pub command: BookCommand,
}

/// What can be done with the lesson book.
#[derive(Debug, Subcommand)]
pub enum BookCommand {
    /// List the people in it: class, name, lessons, last seen, class key
    People {
        /// Take the class key of this person back, or number:1a2b3c4d
        #[arg(long, value_name = "NAME")]
        take_back_key: Option<String>,
        /// Which book and class.
        #[command(flatten)]
        at: Where,
    },
    /// Give one person another name, in every lesson
    Rename {
        /// The name now, or number:1a2b3c4d
        name: String,
        /// The name from now on
        #[arg(value_parser = parse_name)]
        new_name: String,
        /// Which book and class.
        #[command(flatten)]
        at: Where,
    },
    /// Make two entries of one person one
    Merge {
        /// The entry that stays, or number:1a2b3c4d
        name: String,
        /// The entry that goes; what it did is added to the one that stays
        other: String,
        /// Which book and class.
        #[command(flatten)]
        at: Where,
        /// Do it without asking
        #[arg(long)]
        yes: bool,
    },
    /// Remove one person's data wholly
    ///
    /// Name, answers, tries, hearings, sung notes and the notes about the
    /// person go, and the file is written anew so that nothing is left in its
    /// freed parts. Reports, exports and copies elsewhere are beyond it: it
    /// says which to look for. It cannot be taken back.
    Remove {
        /// The name, or number:1a2b3c4d
        name: String,
        /// Which book and class.
        #[command(flatten)]
        at: Where,
        /// Do it without asking
        #[arg(long)]
        yes: bool,
        /// Delete the copies from before the book was brought up to date, too
        #[arg(long)]
        delete_copies: bool,
    },
    /// Write the file anew, so that nothing removed is left in its freed parts
    ///
    /// A removal does this by itself, unless another program kept it from it.
    Wipe(Where),
    /// List the lessons, and those that have not ended
    Lessons(Where),
    /// End lessons that were left open and will not be gone on with
    ///
    /// A host that was killed goes on with its lesson when it is started again
    /// under the same name within 12 hours; a lesson closed here it does not.
    Close {
        /// Which: last, its day (2026-10-13), or its day and time; without it,
        /// all that were left open
        #[arg(long, value_name = "WHICH")]
        lesson: Option<String>,
        /// Which book and class.
        #[command(flatten)]
        at: Where,
        /// Do it without asking
        #[arg(long)]
        yes: bool,
    },
    /// Write a note of yours about a class, a student or a lesson
    Note {
        /// The note, in quotes
        text: String,
        /// It is about this student
        #[arg(long, value_name = "NAME")]
        student: Option<String>,
        /// It is about this lesson: last, its day, or its day and time
        #[arg(long, value_name = "WHICH")]
        lesson: Option<String>,
        /// Which book and class.
        #[command(flatten)]
        at: Where,
    },
    /// List the notes, or delete one
    Notes {
        /// Delete the note of this number
        #[arg(long, value_name = "NUMBER")]
        delete: Option<String>,
        /// Which book and class.
        #[command(flatten)]
        at: Where,
    },
    /// Write the whole book as JSON (a file) or CSV (a folder of files)
    Export {
        /// json, one file, or csv, a folder with a file for each kind of entry
        #[arg(
            long = "as",
            id = "form",
            value_name = "FORM",
            value_enum,
            hide_possible_values = true
        )]
        form: ExportForm,
        /// The file or folder to write; - is standard output, for json
        #[arg(long, value_name = "PATH")]
        to: PathBuf,
        /// Write over an older export there
        #[arg(long)]
        replace: bool,
        /// The lesson book; without it, the one kept in the usual place
        #[arg(long, value_name = "FILE")]
        book: Option<PathBuf>,
    },
    /// Take an export in: all of it or, where anything is wrong, nothing
    Import(Taking),
    /// Take another teacher's book in, or an older copy of this one
    ///
    /// Whoever has the same name in the same class is taken to be one person.
    /// Taking the same book in twice adds nothing. The other file is not
    /// changed.
    TakeIn(Taking),
    /// Write a safe copy of the book, also while a host writes into it
    Copy {
        /// The file to write
        to: PathBuf,
        /// Write over an older copy there
        #[arg(long)]
        replace: bool,
        /// The lesson book; without it, the one kept in the usual place
        #[arg(long, value_name = "FILE")]
        book: Option<PathBuf>,
    },
    /// Look whether the file is sound
    Check {
        /// The lesson book; without it, the one kept in the usual place
        #[arg(long, value_name = "FILE")]
        book: Option<PathBuf>,
    },
}

/// Which book, and which class of it.
#[derive(Debug, Clone, Args)]
pub struct Where {
    /// The lesson book; without it, the one kept in the usual place
    #[arg(long, value_name = "FILE")]
    pub book: Option<PathBuf>,
    /// The class, where it is not clear without
    #[arg(long, value_name = "NAME")]
    pub class: Option<String>,
}

/// What is taken in, and into which book.
#[derive(Debug, Clone, Args)]
pub struct Taking {
    /// What to take in
    pub from: PathBuf,
    /// The class here that all of it belongs to; without it, each class keeps
    /// its name
    ///
    /// For practice at home, which is in the class Solo there.
    #[arg(long, value_name = "NAME", value_parser = parse_name)]
    pub class: Option<String>,
    /// Who the one person in it is here; without it, everybody keeps the name
    #[arg(long = "as", id = "person", value_name = "NAME", value_parser = parse_name)]
    pub person: Option<String>,
    /// Tell what would be taken in, and change nothing
    #[arg(long)]
    pub only_tell: bool,
    /// The book to take it into, made if it is not there; without it, the one
    /// kept in the usual place
    #[arg(long, value_name = "FILE")]
    pub book: Option<PathBuf>,
}

/// The forms of an export.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ExportForm {
    /// One file.
    Json,
    /// A folder of files.
    Csv,
}
