//! Whether the file that is being written is still the one at the book's place.
//!
//! SQLite holds on to a file once it is open. Where somebody moves or deletes
//! it, puts another in its place or writes over it, everything goes on being
//! stored: where nobody looks for it, or into somebody else's book. So whoever
//! writes looks before and after each commit:
//!
//! - Is there a file, and is it the same one (device and inode on Unix)?
//! - Does the same hold of the log beside it (`-wal`)?
//! - Does the file itself still have the book's own number ([`mark`]) where it
//!   stood, and a change counter that has not gone back (SQLite file format,
//!   section 1.3.7)? It has not where the file was written over, be it by an
//!   older copy of the same book.
//!
//! On Windows SQLite opens its files so that nobody can move, replace or delete
//! them meanwhile (without `FILE_SHARE_DELETE`); there the third question is
//! the one that matters.
//!
//! [`mark`]: Watch::begin

use std::fs::File;
use std::io::{self, Read, Seek, SeekFrom};
use std::path::{Path, PathBuf};

use rusqlite::Connection;
use rusqlite::config::DbConfig;

use crate::error::BookLost;
use crate::location::{MAGIC, beside};
use crate::lock::marks_left;

/// SQLite file format, section 1.3: where the change counter stands.
const COUNTER_AT: usize = 24;
const HEADER_BYTES: usize = 100;

/// Which file it is, whatever it is called.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Identity {
    #[cfg(unix)]
    device_and_inode: (u64, u64),
}

/// Of the file at `path`; `None` where there is none.
fn identity(path: &Path) -> Option<Identity> {
    let about = std::fs::metadata(path).ok()?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::MetadataExt;
        Some(Identity {
            device_and_inode: (about.dev(), about.ino()),
        })
    }
    #[cfg(not(unix))]
    {
        drop(about);
        Some(Identity {})
    }
}

/// Watches one open book.
#[derive(Debug)]
pub(crate) struct Watch {
    path: PathBuf,
    /// Stays open as long as the connection: closing it would take back the
    /// locks that this process has on the file (POSIX, `fcntl`).
    file: Option<File>,
    book: Option<Identity>,
    log: Option<Identity>,
    mark: Vec<u8>,
    /// The page that the mark is on, and how long a page is. None while the
    /// mark is in the log alone.
    page: Option<(u64, usize)>,
    counter: u32,
}

impl Watch {
    /// Of a book that has just been opened for writing.
    pub fn begin(connection: &Connection, path: &Path) -> rusqlite::Result<io::Result<Self>> {
        let mark = connection.query_row("SELECT mark FROM mark", [], |row| row.get(0))?;
        let file = match File::open(path) {
            Ok(file) => file,
            Err(why) => return Ok(Err(why)),
        };
        let mut watch = Self {
            path: path.to_owned(),
            file: Some(file),
            book: identity(path),
            log: identity(&beside(path, "-wal")),
            mark,
            page: None,
            counter: 0,
        };
        if !watch.find_mark(connection)? {
            // A book that was brought up to date has it in its log still.
            checkpoint(connection, "PASSIVE")?;
            watch.find_mark(connection)?;
        }
        watch.counter = watch.read_counter().unwrap_or_default();
        Ok(Ok(watch))
    }

    /// The mark, if it stands in the file itself.
    pub fn mark_in_file(&self) -> Option<&[u8]> {
        self.page.map(|_| self.mark.as_slice())
    }

    /// Looks for the mark where SQLite says it is; whether the file has it.
    fn find_mark(&mut self, connection: &Connection) -> rusqlite::Result<bool> {
        let page: i64 = connection.query_row(
            "SELECT rootpage FROM sqlite_schema WHERE name = 'mark'",
            [],
            |row| row.get(0),
        )?;
        let size: u32 = connection.pragma_query_value(None, "page_size", |row| row.get(0))?;
        let (page, size) = (page.unsigned_abs(), size as usize);
        let found = self.has_mark(page, size);
        if found {
            self.page = Some((page, size));
        }
        Ok(found)
    }

    fn has_mark(&self, page: u64, size: usize) -> bool {
        let mut bytes = vec![0; size];
        let at = page.saturating_sub(1).saturating_mul(size as u64);
        self.read_at(at, &mut bytes).is_ok()
            && bytes.windows(self.mark.len()).any(|w| w == self.mark)
    }

    fn read_counter(&self) -> Option<u32> {
        let mut header = [0; HEADER_BYTES];
        self.read_at(0, &mut header).ok()?;
        let counter = header.get(COUNTER_AT..COUNTER_AT + 4)?;
        let counter = u32::from_be_bytes(counter.try_into().ok()?);
        header.starts_with(MAGIC).then_some(counter)
    }

    fn read_at(&self, at: u64, bytes: &mut [u8]) -> io::Result<()> {
        let mut file = self.file.as_ref().ok_or(io::ErrorKind::NotFound)?;
        file.seek(SeekFrom::Start(at))?;
        file.read_exact(bytes)
    }

    /// What has become of the book since the last look, if anything.
    pub fn look(&mut self, connection: &Connection) -> Option<BookLost> {
        if self.file.is_none() {
            return Some(BookLost::WrittenOver);
        }
        match identity(&self.path) {
            None => return Some(BookLost::Gone),
            there if there != self.book => return Some(BookLost::Replaced),
            Some(_) => {}
        }
        if !self.is_itself(connection) {
            return Some(BookLost::WrittenOver);
        }
        let log = identity(&beside(&self.path, "-wal"));
        match self.log {
            None => self.log = log,
            Some(_) if log != self.log => return Some(BookLost::LogGone),
            Some(_) => {}
        }
        None
    }

    fn is_itself(&mut self, connection: &Connection) -> bool {
        let Some(counter) = self.read_counter() else {
            return false;
        };
        // It begins anew after four thousand million changes.
        if counter.wrapping_sub(self.counter) > u32::MAX / 2 {
            return false;
        }
        self.counter = counter;
        match self.page {
            Some((page, size)) if self.has_mark(page, size) => true,
            // Written anew by another program, it may stand elsewhere.
            Some(_) => self.find_mark(connection).unwrap_or(false),
            None => {
                let _ = self.find_mark(connection);
                true
            }
        }
    }

    /// The connection is closed: so may this be.
    pub fn shut(&mut self) {
        self.file = None;
    }

    /// The book is lost: sees to it that what is ours beside its place is taken
    /// for no other file's. What is stored and still in the log goes into the
    /// book's own file, wherever that is now, but never into another's.
    pub fn part(&self, connection: &Connection, lost: BookLost) {
        // Each as far as it goes: there is nobody to tell more than is told.
        let _ = connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true);
        if lost != BookLost::WrittenOver {
            let _ = checkpoint(connection, "TRUNCATE");
        }
        let log = beside(&self.path, "-wal");
        if self.log.is_some() && identity(&log) == self.log {
            let _ = std::fs::remove_file(log);
            let _ = std::fs::remove_file(beside(&self.path, "-shm"));
        }
    }
}

/// A log that a killed program left belongs to the book that was here then. If
/// that is not the file that is here now, the log is set aside: SQLite would
/// take it for this one's.
pub(crate) fn set_aside_strange_log(path: &Path) {
    let log = beside(path, "-wal");
    if !std::fs::metadata(&log).is_ok_and(|about| about.len() > 0) {
        return;
    }
    let Some(marks) = marks_left(path).filter(|marks| !marks.is_empty()) else {
        return;
    };
    let Ok(bytes) = std::fs::read(path) else {
        return;
    };
    let is_here = |mark: &Vec<u8>| bytes.windows(mark.len()).any(|w| w == mark.as_slice());
    if !marks.iter().any(is_here) {
        // If that fails, so will opening the book, which says why.
        let _ = std::fs::rename(&log, beside(path, "-wal-of-another"));
        let _ = std::fs::remove_file(beside(path, "-shm"));
    }
}

/// Brings what is in the log into the book's file.
pub(crate) fn checkpoint(connection: &Connection, how: &str) -> rusqlite::Result<()> {
    connection.query_row(&format!("PRAGMA wal_checkpoint({how})"), [], |_| Ok(()))
}
