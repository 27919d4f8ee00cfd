//! Opening the book: what the file is, whether it is sound, and bringing an
//! older one up to date. Nothing is written to a file that is not a sound book.

use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::time::Duration;

use fifthpeg_core::Cause;
use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use crate::error::{BookError, OrBookError};
use crate::location::{MAGIC, beside, copy_of, kept_copies, onto_disk};
use crate::schema::{self, APPLICATION_ID, VERSION};
use crate::watch::{Watch, set_aside_strange_log};

/// How long another program's lock on the book is waited for.
pub const LOCK_PATIENCE: Duration = Duration::from_secs(2);

/// SQLite file format, section 1.3: the header, and where the application's
/// number stands in it.
const HEADER_BYTES: usize = 100;
const APPLICATION_ID_AT: usize = 68;

/// A lesson book, open for reading and writing.
#[derive(Debug)]
pub struct Book {
    pub(crate) path: PathBuf,
    pub(crate) connection: Connection,
    /// Taking in tells what it would do, and does nothing.
    pub(crate) only_tells: bool,
    pub(crate) taken_as: crate::taken_as::TakenAs,
    /// Behind the connection, which is to be closed first.
    pub(crate) watch: Watch,
}

impl Book {
    /// Opens the book at `path`, or makes a new one if there is no such file.
    /// A book of an older version is brought up to date, and a copy of it is
    /// kept beside it (`lessons.v1-backup`).
    ///
    /// The file belongs on a disk of this machine: SQLite's locks do not hold
    /// over network shares.
    ///
    /// # Errors
    /// [`BookError`]: no such folder, not a book, newer, damaged, read only,
    /// locked, full, or no room for the copy. A file that was there is then as
    /// it was.
    pub fn open(path: &Path) -> Result<Book, BookError> {
        make(path)?;
        let fresh = !has_content(path)?;
        set_aside_strange_log(path);
        let mut connection = Connection::open_with_flags(
            path,
            OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
        )
        .map_err(|e| unwritable(e, path))?;
        // Each step waits for other writers at its beginning: half-way it could not.
        connection.set_transaction_behavior(TransactionBehavior::Immediate);
        // Until the file is known to be sound, nothing flows into it.
        let hold = |c: &Connection, on| {
            c.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, on)
                .map(drop)
        };
        hold(&connection, true).at(path)?;
        connection.busy_timeout(LOCK_PATIENCE).at(path)?;
        if connection.is_readonly("main").at(path)? {
            return Err(BookError::ReadOnly {
                path: path.to_owned(),
                why: None,
            });
        }
        let version = schema::version(&connection).map_err(|e| unwritable(e, path))?;
        if version > VERSION {
            return Err(BookError::Newer {
                path: path.to_owned(),
                version,
                known: VERSION,
            });
        }
        if fresh && !is_empty(&connection).at(path)? {
            return Err(BookError::NotABook {
                path: path.to_owned(),
                why: None,
            });
        }
        if !fresh {
            check_sound(&connection, path)?;
        }
        if version > 0 && version < VERSION {
            keep_copy(&connection, path, version)?;
        }
        set_up(&connection).at(path)?;
        if version < VERSION {
            let step = connection
                .transaction_with_behavior(TransactionBehavior::Exclusive)
                .at(path)?;
            schema::bring_up(&step).at(path)?;
            step.commit().at(path)?;
        }
        // Only now: a new file has its tables before it keeps a second file.
        let mode: String = connection
            .pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0))
            .map_err(|e| unwritable(e, path))?;
        if mode != "wal" {
            return Err(BookError::Disk {
                path: path.to_owned(),
                why: "the disk cannot write safely".into(),
            });
        }
        hold(&connection, false).at(path)?;
        let watch = Watch::begin(&connection, path).at(path)?;
        let watch = watch.map_err(|why| BookError::file(path, why))?;
        Ok(Book {
            path: path.to_owned(),
            connection,
            only_tells: false,
            taken_as: Default::default(),
            watch,
        })
    }

    /// The book's file.
    pub fn path(&self) -> &Path {
        &self.path
    }
}

/// What holds for every connection that writes.
fn set_up(connection: &Connection) -> rusqlite::Result<()> {
    connection.pragma_update(None, "foreign_keys", true)?;
    connection.pragma_update(None, "synchronous", "FULL")?;
    // What is taken out is overwritten, not only forgotten.
    connection.pragma_update(None, "secure_delete", true)?;
    connection.pragma_update(None, "trusted_schema", false)?;
    connection.pragma_update(None, "cell_size_check", true)?;
    connection.set_prepared_statement_cache_capacity(64);
    Ok(())
}

/// Opens a book for reading alone; also one that may not be written.
pub(crate) fn open_to_read(path: &Path) -> Result<Connection, BookError> {
    // The file is left to SQLite alone: whoever opens and closes it besides
    // takes back the locks of a writer in the same process (POSIX, `fcntl`),
    // and another program may then take the log away from under it.
    std::fs::metadata(path).map_err(|e| BookError::file(path, e))?;
    set_aside_strange_log(path);
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(path, flags).at(path)?;
    connection.busy_timeout(LOCK_PATIENCE).at(path)?;
    let version = match version_of_book(&connection) {
        Ok(version) => version,
        // In a folder that may not be written there is no room for the files
        // that readers share; if no writer left anything, none are needed.
        Err(e)
            if matches!(
                e.sqlite_error_code(),
                Some(rusqlite::ErrorCode::CannotOpen | rusqlite::ErrorCode::ReadOnly)
            ) =>
        {
            return open_unchanging(path);
        }
        Err(e) => return Err(BookError::from_sqlite(e, path)),
    };
    let version = version.ok_or_else(|| BookError::NotABook {
        path: path.to_owned(),
        why: None,
    })?;
    readable(connection, version, path)
}

/// The version of a book; `None` of another program's database.
fn version_of_book(connection: &Connection) -> rusqlite::Result<Option<u32>> {
    let id: i32 = connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
    let version = schema::version(connection)?;
    Ok((id == APPLICATION_ID).then_some(version))
}

fn open_unchanging(path: &Path) -> Result<Connection, BookError> {
    let waiting = std::fs::metadata(beside(path, "-wal")).map_or(0, |about| about.len());
    if waiting > 0 {
        return Err(BookError::ReadOnly {
            path: path.to_owned(),
            why: None,
        });
    }
    let mut escaped = String::new();
    for byte in path.to_string_lossy().bytes() {
        if byte.is_ascii_alphanumeric() || b"/._-".contains(&byte) {
            escaped.push(char::from(byte));
        } else {
            escaped.push_str(&format!("%{byte:02x}"));
        }
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY
        | OpenFlags::SQLITE_OPEN_NO_MUTEX
        | OpenFlags::SQLITE_OPEN_URI;
    let connection =
        Connection::open_with_flags(format!("file:{escaped}?immutable=1"), flags).at(path)?;
    let version = version_of_book(&connection).at(path)?;
    let version = version.ok_or_else(|| BookError::NotABook {
        path: path.to_owned(),
        why: None,
    })?;
    readable(connection, version, path)
}

fn readable(connection: Connection, version: u32, path: &Path) -> Result<Connection, BookError> {
    if version > VERSION {
        return Err(BookError::Newer {
            path: path.to_owned(),
            version,
            known: VERSION,
        });
    }
    if version < VERSION {
        // Reading changes nothing, so it cannot bring the book up to date.
        return Err(BookError::Older {
            path: path.to_owned(),
            version,
        });
    }
    connection
        .pragma_update(None, "trusted_schema", false)
        .at(path)?;
    Ok(connection)
}

/// Makes the file and its folder where they are wanting, for this user alone.
fn make(path: &Path) -> Result<(), BookError> {
    if path.exists() {
        return Ok(());
    }
    let unmade = |e: std::io::Error| BookError::NoFolder {
        path: path.to_owned(),
        why: e.into(),
    };
    if let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty()) {
        fifthpeg_files::make_own_folder(folder).map_err(unmade)?;
    }
    let mut options = fifthpeg_files::own();
    options.write(true).create(true).truncate(false);
    options.open(path).map(drop).map_err(unmade)
}

/// Whether there is anything in the file. What is there must be a book: this
/// looks at the header alone, before SQLite touches the file.
fn has_content(path: &Path) -> Result<bool, BookError> {
    let unread = |e: std::io::Error| BookError::file(path, e);
    let mut header = Vec::new();
    let file = File::open(path).map_err(unread)?;
    let limit = HEADER_BYTES as u64;
    file.take(limit).read_to_end(&mut header).map_err(unread)?;
    // Making a new book was cut short: SQLite takes that back by itself.
    let cut_short = beside(path, "-journal").exists();
    if header.is_empty() || cut_short {
        return Ok(false);
    }
    if !header.starts_with(MAGIC) {
        return Err(BookError::NotABook {
            path: path.to_owned(),
            why: None,
        });
    }
    let id = header.get(APPLICATION_ID_AT..APPLICATION_ID_AT + 4);
    match id {
        Some(id) if id == APPLICATION_ID.to_be_bytes() => Ok(true),
        Some(_) => Err(BookError::NotABook {
            path: path.to_owned(),
            why: None,
        }),
        None => Err(BookError::damaged(
            path.to_owned(),
            "it ends within its first lines",
        )),
    }
}

/// Where a book cannot be opened though it is there, it or its folder may not
/// be written.
fn unwritable(error: rusqlite::Error, path: &Path) -> BookError {
    match error.sqlite_error_code() {
        Some(rusqlite::ErrorCode::CannotOpen) if path.exists() => BookError::ReadOnly {
            path: path.to_owned(),
            why: Some(error.into()),
        },
        _ => BookError::from_sqlite(error, path),
    }
}

/// Whether a file without a book's header holds nothing else either.
fn is_empty(connection: &Connection) -> rusqlite::Result<bool> {
    let id: i32 = connection.pragma_query_value(None, "application_id", |row| row.get(0))?;
    let tables: u32 =
        connection.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
    Ok(id == APPLICATION_ID || tables == 0)
}

fn check_sound(connection: &Connection, path: &Path) -> Result<(), BookError> {
    let found: String = connection
        .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
        .map_err(|e| match e.sqlite_error_code() {
            Some(rusqlite::ErrorCode::NotADatabase) => BookError::damaged(path.to_owned(), e),
            _ => BookError::from_sqlite(e, path),
        })?;
    if found == "ok" {
        return Ok(());
    }
    // One sentence, whatever lines SQLite finds to say.
    let first = found.lines().last().unwrap_or_default().to_owned();
    Err(BookError::damaged(path.to_owned(), first))
}

/// A copy is another file: it is known by another mark. One of an older version
/// has none yet.
pub(crate) fn mark_anew(copy: &Path) -> rusqlite::Result<()> {
    let connection = Connection::open_with_flags(
        copy,
        OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX,
    )?;
    connection.execute("UPDATE mark SET mark = randomblob(16)", [])?;
    connection.close().map_err(|(_, e)| e)
}

fn keep_copy(connection: &Connection, path: &Path, version: u32) -> Result<(), BookError> {
    let copy = copy_of(path, version);
    let failed = |why: Cause| BookError::NoCopy {
        path: copy.clone(),
        why,
    };
    let name = copy
        .to_str()
        .ok_or_else(|| failed("its name is not text".into()))?;
    let written = make(&copy)
        .map_err(Cause::from)
        .and_then(|()| {
            let done = connection.execute("VACUUM INTO ?1", [name]);
            done.map_err(Cause::from)
        })
        .and_then(|_| onto_disk(&copy).map_err(Cause::from));
    written.map_err(|why| {
        // Half a copy is none.
        let _ = std::fs::remove_file(&copy);
        failed(why)
    })?;
    // Where bringing the book up to date failed before, its copy is there.
    let is_there = kept_copies(path)
        .iter()
        .any(|other| *other != copy && are_alike(other, &copy));
    if is_there {
        // A second one is only untidy.
        let _ = std::fs::remove_file(&copy);
    }
    Ok(())
}

/// Whether two files have the same content; not, where one cannot be read.
fn are_alike(one: &Path, other: &Path) -> bool {
    let length = |path: &Path| std::fs::metadata(path).map(|about| about.len()).ok();
    length(one) == length(other)
        && match (std::fs::read(one), std::fs::read(other)) {
            (Ok(one), Ok(other)) => one == other,
            _ => false,
        }
}
