//! What can be wrong with a lesson book, each in one sentence.

use std::path::{Path, PathBuf};

use fifthpeg_core::Cause;
use fifthpeg_core::text::one_line;
use rusqlite::ErrorCode;

use crate::stored::Unread;

/// What has become of the book.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BookLost {
    /// There is no file at its place.
    Gone,
    /// There is another file at its place.
    Replaced,
    /// It is the same file with something else in it.
    WrittenOver,
    /// The log beside it is gone; the book itself is there.
    LogGone,
}

/// What can be wrong with a lesson book. The text is one sentence that says
/// what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BookError {
    /// The system names no folder for a user's files.
    #[error("no folder is known to keep the lesson book in: name a file for it")]
    NoDataFolder,
    /// The folder cannot be made, or no file can be made in it.
    #[error("the lesson book cannot be made at {} ({why}): choose a folder that can be written to", path.display())]
    NoFolder {
        /// The book's file.
        path: PathBuf,
        /// What the system says.
        #[source]
        why: Cause,
    },
    /// The file is something else.
    #[error("{} is not a lesson book and was left as it is: name another file", path.display())]
    NotABook {
        /// The file.
        path: PathBuf,
        /// What lies behind it, if anything does.
        #[source]
        why: Option<Cause>,
    },
    /// The book was written by a newer program.
    #[error(
        "the lesson book {} is of version {version}, and this program knows versions up to {known}: update the program, or name another file",
        path.display()
    )]
    Newer {
        /// The book's file.
        path: PathBuf,
        /// Its version.
        version: u32,
        /// The newest version this program knows.
        known: u32,
    },
    /// The book is of an older version, and was opened for reading alone.
    #[error(
        "the lesson book {} is of the older version {version} and may not be written: open it once where it can be brought up to date",
        path.display()
    )]
    Older {
        /// The book's file.
        path: PathBuf,
        /// Its version.
        version: u32,
    },
    /// The file is damaged. It was not written to.
    #[error(
        "the lesson book {} is damaged ({what}) and was left as it is: put back a copy of it, or begin a new book at {}",
        path.display(), beside.display()
    )]
    Damaged {
        /// The book's file.
        path: PathBuf,
        /// What was found first.
        #[source]
        what: Cause,
        /// A name beside it that is free, for a new book.
        beside: PathBuf,
    },
    /// The file or its folder may be read only.
    #[error(
        "the lesson book {} may be read but not written: allow writing to the file and its folder, or name another file",
        path.display()
    )]
    ReadOnly {
        /// The book's file.
        path: PathBuf,
        /// What lies behind it, if anything does.
        #[source]
        why: Option<Cause>,
    },
    /// Another program holds the file.
    #[error("the lesson book {} is in use by another program: close that program, or wait", path.display())]
    Locked {
        /// The book's file.
        path: PathBuf,
        /// What lies behind it, if anything does.
        #[source]
        why: Option<Cause>,
    },
    /// No space is left.
    #[error("the disk is full, so the lesson book {} cannot take more in: make room on the disk", path.display())]
    Full {
        /// The book's file.
        path: PathBuf,
        /// What lies behind it, if anything does.
        #[source]
        why: Option<Cause>,
    },
    /// The system failed to read or write.
    #[error("the lesson book {} cannot be read or written ({why}): check the disk", path.display())]
    Disk {
        /// The book's file.
        path: PathBuf,
        /// What the system says.
        #[source]
        why: Cause,
    },
    /// The copy that is kept before a book is brought up to date.
    #[error(
        "no copy of the older lesson book could be kept at {} ({why}), so the book was left as it is: make room there",
        path.display()
    )]
    NoCopy {
        /// The copy's file.
        path: PathBuf,
        /// What the system says.
        #[source]
        why: Cause,
    },
    /// The file is not at its place any more, or not the same.
    #[error("{}", lost(path, *how))]
    Lost {
        /// The book's file.
        path: PathBuf,
        /// What has become of it.
        how: BookLost,
    },
    /// The file was lost as the lesson ended, which was written into another.
    #[error(
        "{}; this lesson stands in {} from its beginning",
        lost_why(path, *how), new.display()
    )]
    Saved {
        /// The book's file.
        path: PathBuf,
        /// What has become of it.
        how: BookLost,
        /// The new book.
        new: PathBuf,
    },
    /// Something that is no reading, writing or lock trouble.
    #[error("the lesson book {} did not take that ({why}): please report it with these words", path.display())]
    Strange {
        /// The book's file.
        path: PathBuf,
        /// What was said.
        #[source]
        why: Cause,
    },
    /// A text in the book cannot be read.
    #[error(transparent)]
    Unread(#[from] Unread),
    /// Part of a lesson is damaged or lost, or cannot be.
    #[error("the lesson \"{lesson}\" of {} cannot be read ({why})", day(*started_ms))]
    Spoilt {
        /// The lesson's name.
        lesson: String,
        /// When it began: UTC in milliseconds since 1970.
        started_ms: i64,
        /// What is wrong with it.
        why: String,
    },
    /// No such lesson.
    #[error("the lesson book holds no such lesson: list the lessons and choose one")]
    NoLesson,
    /// No such person.
    #[error(
        "the lesson book knows nobody of that name in that class: list the people and choose one"
    )]
    NoPerson,
    /// No such class.
    #[error("the lesson book holds no class of that name: list the classes and choose one")]
    NoClass,
    /// The name cannot be used.
    #[error("that name cannot be used: give one of 1 to 32 letters, without control signs")]
    BadName,
    /// Somebody of that name is in the class already.
    #[error("the class has somebody of that name already: choose another name, or merge the two")]
    NameTaken,
    /// The two are not in one class, or are one.
    #[error("only two people of one class can be merged: choose two names of the same class")]
    NotTwo,
    /// The person is in a lesson that has not ended.
    #[error(
        "{name} is still in a lesson that has not ended: end or give up that lesson first, then remove"
    )]
    InOpenLesson {
        /// The person's name.
        name: String,
    },
    /// Another program runs this lesson.
    #[error("that lesson is being held by another program just now: end it there first")]
    LessonRuns,
    /// The lesson has ended.
    #[error("that lesson has ended, so there is nothing to go on with: begin a new one")]
    LessonEnded,
    /// The lesson cannot be made again from what is kept.
    #[error(
        "the lesson cannot be taken up again ({why}): what was written of it stays in the book; begin a new lesson"
    )]
    CannotResume {
        /// Why.
        #[source]
        why: Cause,
    },
    /// The lesson cannot begin.
    #[error("{0}")]
    Setup(String),
    /// A file to be read in is not what this program writes.
    #[error("{} cannot be taken into the lesson book ({why}): nothing of it was taken in", path.display())]
    BadImport {
        /// The file or folder.
        path: PathBuf,
        /// What is wrong.
        #[source]
        why: Cause,
    },
    /// A file cannot be written or read.
    #[error("{} cannot be read or written ({why}): name another place", path.display())]
    File {
        /// The file or folder.
        path: PathBuf,
        /// What the system says.
        #[source]
        why: Cause,
    },
}

/// What has become of the book, and what to do.
fn lost(path: &Path, how: BookLost) -> String {
    let remedy = match how {
        BookLost::Gone | BookLost::Replaced | BookLost::LogGone => {
            "put it back, or go on in a new book with all of this lesson"
        }
        BookLost::WrittenOver => "go on in a new book with all of this lesson",
    };
    format!("{}: {remedy}", lost_why(path, how))
}

fn lost_why(path: &Path, how: BookLost) -> String {
    let path = path.display();
    match how {
        BookLost::Gone => {
            format!(
                "the lesson book {path} was moved or deleted while this lesson was written into it"
            )
        }
        BookLost::Replaced => format!(
            "another file was put in the place of the lesson book {path} while this lesson was \
             written into it"
        ),
        BookLost::WrittenOver => format!(
            "the lesson book {path} was written over with something else while this lesson was \
             written into it"
        ),
        BookLost::LogGone => format!(
            "the file {path}-wal, which belongs to the lesson book, was moved or deleted while \
             this lesson was written"
        ),
    }
}

impl BookError {
    /// What SQLite says of the book at `path`, as an error of ours.
    pub(crate) fn from_sqlite(error: rusqlite::Error, path: &Path) -> Self {
        let path = path.to_owned();
        match error.sqlite_error_code() {
            Some(ErrorCode::DiskFull) => BookError::Full {
                path,
                why: Some(error.into()),
            },
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => BookError::Locked {
                path,
                why: Some(error.into()),
            },
            Some(ErrorCode::ReadOnly | ErrorCode::PermissionDenied) => BookError::ReadOnly {
                path,
                why: Some(error.into()),
            },
            Some(ErrorCode::NotADatabase) => BookError::NotABook {
                path,
                why: Some(error.into()),
            },
            Some(ErrorCode::DatabaseCorrupt) => BookError::damaged(path, error),
            Some(
                ErrorCode::SystemIoFailure
                | ErrorCode::CannotOpen
                | ErrorCode::FileLockingProtocolFailed,
            ) => BookError::Disk {
                path,
                why: error.into(),
            },
            _ => BookError::Strange {
                path,
                why: error.into(),
            },
        }
    }

    /// A file or folder that cannot be read or written.
    pub(crate) fn file(path: &Path, why: impl Into<Cause>) -> Self {
        BookError::File {
            path: path.to_owned(),
            why: why.into(),
        }
    }

    /// A file that cannot be taken in. What is wrong may be told in its own
    /// words, so they are made fit to be shown.
    pub(crate) fn bad_import(path: &Path, why: impl Into<Cause>) -> Self {
        BookError::BadImport {
            path: path.to_owned(),
            why: why.into().told_as(one_line),
        }
    }

    pub(crate) fn damaged(path: PathBuf, what: impl Into<Cause>) -> Self {
        let what = what.into();
        let beside = crate::location::free_beside(&path);
        BookError::Damaged { path, what, beside }
    }

    /// Whether the file is not at its place any more, or not the same.
    pub fn is_lost(&self) -> bool {
        matches!(self, BookError::Lost { .. })
    }

    /// Whether trying again later may do, with nothing changed but the disk.
    pub fn may_pass(&self) -> bool {
        matches!(
            self,
            BookError::Full { .. }
                | BookError::Locked { .. }
                | BookError::ReadOnly { .. }
                | BookError::Disk { .. }
        )
    }
}

/// Turns SQLite's errors into the book's, which name the file.
pub(crate) trait OrBookError<T> {
    fn at(self, path: &Path) -> Result<T, BookError>;
}

impl<T> OrBookError<T> for rusqlite::Result<T> {
    fn at(self, path: &Path) -> Result<T, BookError> {
        self.map_err(|e| BookError::from_sqlite(e, path))
    }
}

/// The day, `2026-10-13`, of a time in UTC in milliseconds since 1970.
fn day(unix_ms: i64) -> impl std::fmt::Display {
    use jiff::Timestamp;
    let bounds = Timestamp::MIN.as_millisecond()..=Timestamp::MAX.as_millisecond();
    let at = Timestamp::from_millisecond(unix_ms.clamp(*bounds.start(), *bounds.end()));
    at.unwrap_or_default().strftime("%Y-%m-%d").to_string()
}
