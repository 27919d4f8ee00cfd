//! Writes one lesson down, a transaction at a time: what the writer's thread
//! does, without the thread.

use std::borrow::Borrow;

use rusqlite::TransactionBehavior;

use crate::error::OrBookError;
use crate::lessons::Running;
use crate::lock::LessonLock;
use crate::record::{Batch, Progress, note_progress, write};
use crate::writer::{Outlives, Ticket};
use crate::{Book, BookError};

/// A book, open at one lesson.
#[derive(Debug)]
pub struct Pen {
    pub(crate) book: Book,
    progress: Progress,
    lock: LessonLock,
    outlives: Outlives,
    /// SQLite has been told of it.
    is_set: bool,
    stored: u64,
}

impl Pen {
    /// At a lesson that was begun or taken up.
    pub fn new(book: Book, running: Running, outlives: Outlives) -> Self {
        let Running { progress, lock } = running;
        Self {
            book,
            progress,
            lock,
            outlives,
            is_set: false,
            stored: 0,
        }
    }

    /// Stores batches in one transaction: all of them, or none. The ticket
    /// stands for the last. What is asked for late, while the transaction is
    /// open, is stored with the rest.
    ///
    /// # Errors
    /// [`BookError`]; the same batches may be tried again.
    pub fn write<B: Borrow<Batch>>(
        &mut self,
        batches: impl IntoIterator<Item = B>,
    ) -> Result<Ticket, BookError> {
        let mut progress = self.progress.clone();
        let mut count = 0;
        self.set_outlives()?;
        let Book {
            path, connection, ..
        } = &mut self.book;
        let step = connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .at(path)?;
        for batch in batches {
            write(&step, &mut progress, batch.borrow()).at(path)?;
            count += 1;
        }
        note_progress(&step, &mut progress).at(path)?;
        step.commit().at(path)?;
        self.progress = progress;
        self.stored += count;
        Ok(Ticket(self.stored))
    }

    /// Tells SQLite what a commit outlives, once.
    fn set_outlives(&mut self) -> Result<(), BookError> {
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
        self.is_set = true;
        Ok(())
    }

    /// Closes the book. A lesson that has not ended can be taken up again.
    ///
    /// # Errors
    /// [`BookError`].
    pub fn close(self) -> Result<(), BookError> {
        if self.progress.ended {
            self.lock.let_go();
        }
        self.book
            .connection
            .close()
            .map_err(|(_, e)| BookError::from_sqlite(&e, &self.book.path))
    }
}
