//! The thread that writes a lesson down.
//!
//! All batches that wait are stored in one transaction (group commit), in the
//! order in which they came. What cannot be stored waits and is tried again,
//! so nothing is lost while the host runs, and nothing is told to be stored
//! before it is.

use std::collections::VecDeque;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use rusqlite::TransactionBehavior;

use crate::error::OrBookError;
use crate::lessons::{LessonLock, Running};
use crate::record::{Batch, Progress, write};
use crate::{Book, BookError};

/// How soon a failed writing is tried again.
pub const RETRY: Duration = Duration::from_millis(500);
/// Most inputs and events that wait to be stored: some hundred megabytes. A
/// lesson does not come near it; a disk that stays full under peers that never
/// rest does not fill the memory as well.
pub const MOST_WAITING: usize = 1_000_000;
/// Most batches in one transaction, so that the first of many need not wait
/// for the last.
const MOST_AT_ONCE: usize = 256;

/// What a commit outlives.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Outlives {
    /// The program's being killed, and a power cut: each commit waits for the
    /// disk (`synchronous=FULL`).
    #[default]
    PowerCut,
    /// The program's being killed. A power cut may take the last seconds, never
    /// the book (`synchronous=NORMAL`).
    Kill,
}

/// Stands for a batch: they are counted from 1 in the order of storing.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Ticket(pub u64);

/// What the writer tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Report {
    /// The batches up to and with this one are stored. After a trouble it also
    /// says that the trouble is over.
    Stored {
        /// The last of them.
        up_to: Ticket,
    },
    /// Storing failed and is tried again. Told once for each new sentence.
    Trouble {
        /// What happened and what to do.
        sentence: String,
        /// Batches that wait.
        waiting: usize,
        /// Whether it can pass by itself or by making room, rights or time.
        may_pass: bool,
    },
    /// Too much waits. What waited and what comes now is not stored any more;
    /// the book holds the lesson up to the last batch told of as stored.
    GaveUp {
        /// What happened and what to do.
        sentence: String,
    },
}

enum Order {
    Store(Box<Batch>),
    Finish(Instant),
    #[cfg(test)]
    With(Box<dyn FnOnce(&rusqlite::Connection) + Send>),
}

/// Writes one lesson down, on a thread of its own.
#[derive(Debug)]
pub struct Writer {
    orders: Sender<Order>,
    next: u64,
    waiting: Arc<AtomicUsize>,
    thread: Option<JoinHandle<Result<(), BookError>>>,
}

impl Writer {
    /// Starts the thread. `sink` is called on it, and must not wait.
    pub fn start(
        book: Book,
        running: Running,
        outlives: Outlives,
        sink: impl FnMut(Report) + Send + 'static,
    ) -> Writer {
        let (orders, inbox) = channel();
        let waiting = Arc::new(AtomicUsize::new(0));
        let Running { progress, lock } = running;
        let scribe = Scribe {
            book,
            progress,
            outlives,
            sink,
            waiting: Arc::clone(&waiting),
            queue: VecDeque::new(),
            stored: 0,
            told: None,
            gave_up: false,
        };
        let thread = std::thread::Builder::new()
            .name("lesson-book".to_owned())
            .spawn(move || scribe.run(&inbox, lock));
        Writer {
            orders,
            next: 0,
            waiting,
            // Without a thread nothing is ever told to be stored, and
            // `finish` says why.
            thread: thread.ok(),
        }
    }

    /// Has a batch stored. Returns at once; [`Report::Stored`] tells when it is
    /// done.
    pub fn store(&mut self, batch: Batch) -> Ticket {
        self.waiting.fetch_add(weight(&batch), Ordering::Relaxed);
        self.next += 1;
        // A thread that is gone has told why.
        let _ = self.orders.send(Order::Store(Box::new(batch)));
        Ticket(self.next)
    }

    /// Stores what waits, trying for as long as `patience`, and closes the book.
    ///
    /// # Errors
    /// The trouble that is left; then the last batches are not in the book.
    pub fn finish(mut self, patience: Duration) -> Result<(), BookError> {
        self.close(patience)
    }

    fn close(&mut self, patience: Duration) -> Result<(), BookError> {
        let _ = self.orders.send(Order::Finish(Instant::now() + patience));
        match self.thread.take().map(JoinHandle::join) {
            Some(Ok(done)) => done,
            _ => Err(BookError::Strange {
                path: std::path::PathBuf::new(),
                why: "its thread is gone".to_owned(),
            }),
        }
    }

    #[cfg(test)]
    pub(crate) fn with(&self, act: impl FnOnce(&rusqlite::Connection) + Send + 'static) {
        let _ = self.orders.send(Order::With(Box::new(act)));
    }
}

impl Drop for Writer {
    fn drop(&mut self) {
        if self.thread.is_some() {
            // Whoever wants to know calls `finish`.
            let _ = self.close(Duration::ZERO);
        }
    }
}

fn weight(batch: &Batch) -> usize {
    batch.inputs.len() + batch.events.len() + batch.notes.len()
}

/// What the thread owns.
struct Scribe<S> {
    book: Book,
    progress: Progress,
    outlives: Outlives,
    sink: S,
    waiting: Arc<AtomicUsize>,
    queue: VecDeque<Batch>,
    stored: u64,
    /// The trouble told last, until it is over.
    told: Option<String>,
    gave_up: bool,
}

impl<S: FnMut(Report)> Scribe<S> {
    fn run(mut self, inbox: &Receiver<Order>, lock: LessonLock) -> Result<(), BookError> {
        let mut retry_at = None;
        let mut finish_by = None;
        loop {
            let wait = match (self.queue.is_empty(), finish_by) {
                (true, Some(_)) => break,
                (true, None) => None,
                (false, _) => {
                    retry_at.map(|at: Instant| at.saturating_duration_since(Instant::now()))
                }
            };
            let order = match wait {
                // Nobody holds the other end: close as if told to.
                None => inbox.recv().map_err(|_| RecvTimeoutError::Disconnected),
                Some(wait) => inbox.recv_timeout(wait),
            };
            match order {
                Ok(order) => self.take(order, &mut finish_by),
                Err(RecvTimeoutError::Disconnected) => finish_by = Some(Instant::now()),
                Err(RecvTimeoutError::Timeout) => {}
            }
            while let Ok(order) = inbox.try_recv() {
                self.take(order, &mut finish_by);
            }
            if self.gave_up || retry_at.is_some_and(|at| at > Instant::now() && finish_by.is_none())
            {
                continue;
            }
            retry_at = None;
            while !self.queue.is_empty() {
                if let Err(trouble) = self.store_some() {
                    if finish_by.is_some_and(|by| Instant::now() >= by) {
                        return Err(trouble);
                    }
                    self.tell_trouble(&trouble);
                    retry_at = Some(Instant::now() + RETRY);
                    if finish_by.is_some() {
                        std::thread::sleep(RETRY / 10);
                    }
                    break;
                }
            }
        }
        if self.progress.ended {
            lock.let_go();
        }
        self.book
            .connection
            .close()
            .map_err(|(_, e)| BookError::from_sqlite(&e, &self.book.path))
    }

    fn take(&mut self, order: Order, finish_by: &mut Option<Instant>) {
        match order {
            Order::Finish(by) => *finish_by = Some(by),
            Order::Store(_) if self.gave_up => {}
            Order::Store(batch) => {
                self.queue.push_back(*batch);
                if self.waiting.load(Ordering::Relaxed) > MOST_WAITING {
                    self.give_up();
                }
            }
            #[cfg(test)]
            Order::With(act) => act(&self.book.connection),
        }
    }

    /// Stores the batches that wait, in one transaction.
    fn store_some(&mut self) -> Result<(), BookError> {
        let count = self.queue.len().min(MOST_AT_ONCE);
        let mut progress = self.progress.clone();
        let synchronous = match self.outlives {
            Outlives::PowerCut => "FULL",
            Outlives::Kill => "NORMAL",
        };
        let Book { path, connection } = &mut self.book;
        connection
            .pragma_update(None, "synchronous", synchronous)
            .at(path)?;
        let step = connection
            .transaction_with_behavior(TransactionBehavior::Immediate)
            .at(path)?;
        for batch in self.queue.iter().take(count) {
            write(&step, &mut progress, batch).at(path)?;
        }
        step.commit().at(path)?;
        self.progress = progress;
        let written = self.queue.drain(..count).map(|b| weight(&b)).sum();
        self.waiting.fetch_sub(written, Ordering::Relaxed);
        self.stored += count as u64;
        self.told = None;
        (self.sink)(Report::Stored {
            up_to: Ticket(self.stored),
        });
        Ok(())
    }

    fn tell_trouble(&mut self, trouble: &BookError) {
        let sentence = trouble.to_string();
        if self.told.as_ref() != Some(&sentence) {
            self.told = Some(sentence.clone());
            (self.sink)(Report::Trouble {
                sentence,
                waiting: self.queue.len(),
                may_pass: trouble.may_pass(),
            });
        }
    }

    fn give_up(&mut self) {
        self.gave_up = true;
        self.queue.clear();
        (self.sink)(Report::GaveUp {
            sentence: "too much waits to be written into the lesson book, so the rest of this \
                       lesson is not kept: end the lesson and look after the disk"
                .to_owned(),
        });
    }
}

#[cfg(test)]
mod tests {
    use std::sync::mpsc::Receiver;

    use fifthpeg_core::Neck;
    use fifthpeg_lesson::{Lesson, LessonSetup, Moment};

    use super::*;
    use crate::{LessonId, Note};

    /// A lesson begun in a new book, with its first batch stored.
    fn begun(test: &str) -> (std::path::PathBuf, LessonId, Writer, Receiver<Report>) {
        let name = format!("fifthpeg-writer-{test}-{}", std::process::id());
        let folder = std::env::temp_dir().join(name);
        let _ = std::fs::remove_dir_all(&folder);
        let mut book = Book::open(&folder.join("lessons.book")).unwrap();
        let setup = LessonSetup::new("Tuesday", &Neck::ready("banjo-open-g").unwrap());
        let began = Moment::from_micros(7);
        let running = book.begin("Tuesday", &setup, began, 0).unwrap();
        let id = running.id();
        let (sender, reports) = channel();
        let sink = move |report| {
            let _ = sender.send(report);
        };
        let mut writer = Writer::start(book, running, Outlives::PowerCut, sink);
        let mut lesson = Lesson::new(setup, began).unwrap();
        let events = std::iter::from_fn(|| lesson.poll_event()).collect();
        let first = writer.store(Batch {
            events,
            ..Batch::default()
        });
        assert_eq!(next(&reports), Report::Stored { up_to: first });
        (folder, id, writer, reports)
    }

    fn next(reports: &Receiver<Report>) -> Report {
        reports.recv_timeout(Duration::from_secs(30)).unwrap()
    }

    fn long_note() -> Batch {
        let note = Note::new("Tuesday", &"fourths ".repeat(2_000), 1).unwrap();
        Batch {
            notes: vec![note],
            ..Batch::default()
        }
    }

    /// The last report of being stored, once it is that of `ticket`.
    fn wait_for(reports: &Receiver<Report>, ticket: Ticket) {
        loop {
            match next(reports) {
                Report::Stored { up_to } if up_to == ticket => return,
                Report::Stored { up_to } => assert!(up_to < ticket),
                other => panic!("{other:?}"),
            }
        }
    }

    #[test]
    fn a_full_disk_makes_batches_wait_and_loses_none() {
        let (folder, id, mut writer, reports) = begun("full");
        // SQLite gives the same error for this limit as for a full disk.
        writer.with(|connection| {
            let pages: u32 = connection
                .pragma_query_value(None, "page_count", |row| row.get(0))
                .unwrap();
            let limit =
                connection.pragma_update_and_check(None, "max_page_count", pages + 2, |row| {
                    row.get::<_, u32>(0)
                });
            assert_eq!(limit.unwrap(), pages + 2);
        });
        let last = (0..5).map(|_| writer.store(long_note())).last().unwrap();
        let mut stored = Ticket(1);
        let sentence = loop {
            match next(&reports) {
                Report::Stored { up_to } => stored = up_to,
                Report::Trouble {
                    sentence, may_pass, ..
                } => {
                    assert!(may_pass);
                    break sentence;
                }
                other => panic!("{other:?}"),
            }
        };
        assert!(stored < last);
        assert!(sentence.starts_with("the disk is full"), "{sentence}");
        assert!(sentence.contains("lessons.book"), "{sentence}");
        // The same trouble is not told again, and nothing is told as stored.
        let silent = reports.recv_timeout(RETRY * 3);
        assert!(silent.is_err(), "{silent:?}");
        writer.with(|connection| {
            let raised =
                connection.pragma_update_and_check(None, "max_page_count", 1 << 20, |row| {
                    row.get::<_, u32>(0)
                });
            assert_eq!(raised.unwrap(), 1 << 20);
        });
        wait_for(&reports, last);
        writer.finish(Duration::from_secs(10)).unwrap();
        let book = Book::open(&folder.join("lessons.book")).unwrap();
        assert_eq!(book.reader().unwrap().notes("Tuesday").unwrap().len(), 5);
        book.check_log(id).unwrap();
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn a_book_held_by_another_program_makes_batches_wait() {
        let (folder, _, mut writer, reports) = begun("locked");
        let other = rusqlite::Connection::open(folder.join("lessons.book")).unwrap();
        other.execute_batch("BEGIN IMMEDIATE").unwrap();
        let ticket = writer.store(long_note());
        let Report::Trouble {
            sentence, may_pass, ..
        } = next(&reports)
        else {
            panic!("it was stored");
        };
        assert!(may_pass);
        assert!(sentence.contains("in use by another program"), "{sentence}");
        other.execute_batch("ROLLBACK").unwrap();
        wait_for(&reports, ticket);
        writer.finish(Duration::from_secs(10)).unwrap();
        std::fs::remove_dir_all(&folder).unwrap();
    }

    #[test]
    fn what_is_left_when_the_trouble_stays_is_told_at_the_end() {
        let (folder, id, mut writer, reports) = begun("stays");
        writer.with(|connection| connection.execute_batch("PRAGMA query_only = 1").unwrap());
        writer.store(long_note());
        let Report::Trouble { sentence, .. } = next(&reports) else {
            panic!("it was stored");
        };
        assert!(
            sentence.contains("may be read but not written"),
            "{sentence}"
        );
        let left = writer.finish(Duration::from_millis(50)).unwrap_err();
        assert!(matches!(left, BookError::ReadOnly { .. }), "{left}");
        // The lesson is free to be taken up again.
        let mut book = Book::open(&folder.join("lessons.book")).unwrap();
        let resumed = book.resume(id, 5).unwrap();
        assert_eq!(
            book.resume(id, 5).unwrap_err().to_string(),
            BookError::LessonRuns.to_string()
        );
        assert!(book.open_lessons().unwrap()[0].runs);
        drop(resumed);
        assert!(!book.open_lessons().unwrap()[0].runs);
        std::fs::remove_dir_all(&folder).unwrap();
    }
}
