//! Writes one lesson down, a transaction at a time: what the writer's thread
//! does, without the thread.

use std::borrow::Borrow;
use std::path::PathBuf;

use fifthpeg_lesson::input::GivenInput;
use rusqlite::Connection;

use crate::error::BookLost;
use crate::error::OrBookError;
use crate::lessons::RunningLesson;
use crate::location::free_beside;
use crate::lock::LessonLock;
use crate::origin::Origin;
use crate::record::{Batch, WrittenSoFar, note_progress, write};
use crate::watch::checkpoint;
use crate::writer::{BatchNumber, Outlives};
use crate::{Book, BookError};

/// So many commits, or rows in them, are brought from the log into the book at
/// once. SQLite would do so in a commit of its own choosing, without looking
/// whose file it is.
const CHECKPOINT_COMMITS: u32 = 100;
const CHECKPOINT_ROWS: usize = 10_000;

/// Most inputs of a lesson that are kept, so that it can be written into
/// another book from its beginning: some fifty megabytes, and many evenings.
const MOST_KEPT: usize = 500_000;

/// A book, open at one lesson.
#[derive(Debug)]
pub struct Transactions {
    pub(crate) book: Book,
    progress: WrittenSoFar,
    lock: LessonLock,
    outlives: Outlives,
    /// SQLite has been told of it.
    is_set: bool,
    stored: u64,
    /// Committed, but not yet seen to be where the book belongs.
    unproven: Unproven,
    /// What another book is begun from, and how many events come of it; `None`
    /// once there are too many inputs.
    origin: Option<(Origin, i64)>,
    /// Since the log was last brought into the book.
    commits: u32,
    rows: usize,
    /// What has become of the book, as last seen.
    lost: Option<BookLost>,
}

#[derive(Debug, Default)]
struct Unproven {
    batches: u64,
    inputs: Vec<GivenInput>,
}

impl Transactions {
    /// At a lesson that was begun or taken up.
    pub fn new(book: Book, running: RunningLesson, outlives: Outlives) -> Self {
        let RunningLesson {
            progress,
            lock,
            origin,
        } = running;
        let events = progress.events;
        Self {
            book,
            progress,
            lock,
            outlives,
            is_set: false,
            stored: 0,
            unproven: Unproven::default(),
            origin: Some((origin, events)).filter(|(o, _)| o.inputs.len() <= MOST_KEPT),
            commits: 0,
            rows: 0,
            lost: None,
        }
    }

    /// Stands for the last batch that is stored.
    pub fn stored(&self) -> BatchNumber {
        BatchNumber(self.stored)
    }

    /// Stores batches in one transaction: all of them, or none. The ticket
    /// stands for the last. What is asked for late, while the transaction is
    /// open, is stored with the rest.
    ///
    /// # Errors
    /// [`BookError`]; the same batches may be tried again, from the first that
    /// [`Transactions::stored`] does not stand for.
    pub fn write<B: Borrow<Batch>>(
        &mut self,
        batches: impl IntoIterator<Item = B>,
    ) -> Result<BatchNumber, BookError> {
        // Nothing flows into a file that is another by now.
        self.look()?;
        if self.unproven.batches > 0 {
            // It was committed already, and is there.
            return Ok(self.prove());
        }
        self.set_up()?;
        self.bring_in()?;
        let mut progress = self.progress.clone();
        let mut fresh = Unproven::default();
        let Book {
            path, connection, ..
        } = &mut self.book;
        let step = connection.transaction().at(path)?;
        for batch in batches {
            let batch = batch.borrow();
            write(&step, &mut progress, batch).at(path)?;
            self.rows += batch.inputs.len() + batch.events.len();
            fresh.batches += 1;
            if self.origin.is_some() {
                fresh.inputs.extend(batch.inputs.iter().cloned());
            }
        }
        note_progress(&step, &mut progress).at(path)?;
        step.commit().at(path)?;
        self.progress = progress;
        self.unproven = fresh;
        self.commits += 1;
        self.look()?;
        Ok(self.prove())
    }

    /// What was committed is where it belongs.
    fn prove(&mut self) -> BatchNumber {
        let fresh = std::mem::take(&mut self.unproven);
        self.stored += fresh.batches;
        if let Some((origin, events)) = &mut self.origin {
            origin.inputs.extend(fresh.inputs);
            *events = self.progress.events;
            if origin.inputs.len() > MOST_KEPT {
                self.origin = None;
            }
        }
        self.stored()
    }

    /// Looks whether the book is still the file at its place.
    ///
    /// # Errors
    /// [`BookError::Lost`], until it is put back.
    pub fn look(&mut self) -> Result<(), BookError> {
        let Book {
            connection, watch, ..
        } = &mut self.book;
        let mut found = watch.look(connection);
        if found == Some(BookLost::LogGone) && self.bring_log_back().is_ok() {
            found = self.book.watch.look(&self.book.connection);
        }
        if let Some(how) = found
            && self.lost != found
        {
            self.book.watch.part(&self.book.connection, how);
            if how == BookLost::WrittenOver {
                // Nothing of ours is left in it.
                self.shut()?;
            }
        }
        self.lost = found;
        match found {
            None => Ok(()),
            Some(how) => Err(BookError::Lost {
                path: self.book.path.clone(),
                how,
            }),
        }
    }

    /// The book is there and its log is gone: what is in the log, which is open
    /// still, goes into the book, and the book is opened anew.
    fn bring_log_back(&mut self) -> Result<(), BookError> {
        let path = self.book.path.clone();
        checkpoint(&self.book.connection, "TRUNCATE").at(&path)?;
        self.book
            .watch
            .part(&self.book.connection, BookLost::LogGone);
        // Closed before another is opened: they would share what goes with the
        // log.
        self.shut()?;
        self.book = Book::open(&path)?;
        self.is_set = false;
        Ok(())
    }

    /// Closes the file, and writes nowhere.
    fn shut(&mut self) -> Result<(), BookError> {
        let none = Connection::open_in_memory().at(&self.book.path)?;
        drop(std::mem::replace(&mut self.book.connection, none));
        self.book.watch.shut();
        Ok(())
    }

    /// Goes on in a new book, into which the lesson is written from its
    /// beginning, as far as it was stored: at the same place if nothing is
    /// there, else beside it. `None` if the book is not lost at all.
    ///
    /// # Errors
    /// [`BookError`]; then it may be tried again.
    pub fn go_on_in_new_book(&mut self) -> Result<Option<PathBuf>, BookError> {
        let Err(lost) = self.look() else {
            return Ok(None);
        };
        let Some((origin, events)) = self.origin.clone() else {
            return Err(lost);
        };
        let place = self.book.path.clone();
        let place = if place.symlink_metadata().is_ok() {
            free_beside(&place)
        } else {
            place
        };
        let mut book = Book::open(&place)?;
        // At the same place the lesson is locked already.
        let same = place == self.book.path && self.lock.path().exists();
        let lock = match same {
            true => None,
            false => Some(LessonLock::take(&place, self.progress.id)?),
        };
        self.progress = book.begin_again(self.progress.id, &origin, events)?;
        if let Some(lock) = lock {
            if let Some(port) = self.lock.noted_port() {
                lock.note_port(port);
            }
            std::mem::replace(&mut self.lock, lock).let_go();
        }
        self.book = book;
        self.unproven = Unproven::default();
        self.origin = Some((origin, events));
        self.is_set = false;
        self.lost = None;
        Ok(Some(place))
    }

    /// Tells SQLite what a commit outlives, once, and that it is told when to
    /// bring the log into the book.
    fn set_up(&mut self) -> Result<(), BookError> {
        if self.is_set {
            return Ok(());
        }
        let synchronous = match self.outlives {
            Outlives::PowerCut => "FULL",
            Outlives::Kill => "NORMAL",
        };
        let Book {
            path, connection, ..
        } = &self.book;
        connection
            .pragma_update(None, "synchronous", synchronous)
            .at(path)?;
        connection
            .query_row("PRAGMA wal_autocheckpoint = 0", [], |_| Ok(()))
            .at(path)?;
        if let Some(mark) = self.book.watch.mark_in_file() {
            self.lock.note_mark(mark);
        }
        self.is_set = true;
        Ok(())
    }

    /// Brings the log into the book where it has grown long.
    fn bring_in(&mut self) -> Result<(), BookError> {
        if self.commits < CHECKPOINT_COMMITS && self.rows < CHECKPOINT_ROWS {
            return Ok(());
        }
        let Book {
            path, connection, ..
        } = &self.book;
        checkpoint(connection, "PASSIVE").at(path)?;
        (self.commits, self.rows) = (0, 0);
        Ok(())
    }

    /// Closes the book. A lesson that has not ended can be taken up again.
    ///
    /// # Errors
    /// [`BookError`]. Of a book that is lost, [`BookError::Saved`] if the
    /// lesson could be written into another.
    pub fn close(mut self) -> Result<(), BookError> {
        let saved = match self.look() {
            Ok(()) => None,
            Err(lost) => match self.go_on_in_new_book() {
                Ok(new) => Some((lost, new)),
                Err(_) => return Err(lost),
            },
        };
        let old = self.book.path.clone();
        if self.progress.ended {
            self.lock.let_go();
        }
        let closed = self.book.connection.close();
        closed.map_err(|(_, e)| BookError::from_sqlite(e, &old))?;
        match saved {
            Some((BookError::Lost { path, how }, Some(new))) => {
                Err(BookError::Saved { path, how, new })
            }
            _ => Ok(()),
        }
    }

    /// Closes the book as it is, and writes nothing more, wherever it is.
    pub fn leave(mut self) {
        // A book that is lost has been parted from by this.
        let _ = self.look();
        if self.progress.ended {
            self.lock.let_go();
        }
    }
}
