//! The thread that writes a lesson down.
//!
//! All batches that wait are stored in one transaction (group commit), in the
//! order in which they came. What cannot be stored waits and is tried again,
//! so nothing is lost while the host runs, and nothing is told to be stored
//! before it is.

use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use fifthpeg_log::Chain;
use tracing::{error, trace, warn};

use crate::lessons::RunningLesson;
use crate::record::Batch;
use crate::transactions::Transactions;
use crate::{Book, BookError};

/// How soon a failed writing is tried again.
pub const RETRY: Duration = Duration::from_millis(500);
/// How often it is looked whether the book is still there while nothing is
/// written.
pub const LOOK_EVERY: Duration = Duration::from_secs(2);
/// Most inputs and events that wait to be stored: some hundred megabytes. A
/// lesson does not come near it; a disk that stays full under peers that never
/// rest does not fill the memory as well.
pub const MOST_WAITING: usize = 1_000_000;
/// Most batches in one transaction, so that the first of many need not wait
/// for the last.
const MOST_AT_ONCE: usize = 1024;
/// So many batches at once are a rush: many speak at the same moment.
const RUSH: usize = 32;
/// How often at most a rush is given a moment to bring more before it is
/// committed. A commit waits for the disk, so few of them end sooner than many.
const MOMENTS: u32 = 10;
/// A moment; a mark comes later by [`MOMENTS`] of them at most.
const MOMENT: Duration = Duration::from_micros(500);

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
pub struct BatchNumber(pub u64);

/// What the writer tells.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum WriterEvent {
    /// The batches up to and with this one are stored. After a trouble it also
    /// says that the trouble is over.
    Stored {
        /// The last of them.
        up_to: BatchNumber,
    },
    /// Storing failed and is tried again. Told once for each new sentence.
    Trouble {
        /// What happened and what to do.
        sentence: String,
        /// Batches that wait.
        waiting: usize,
        /// Whether it can pass by itself or by making room, rights or time.
        may_pass: bool,
        /// The book's file is not at its place any more, or not the same: the
        /// lesson can go on in a new one.
        is_lost: bool,
    },
    /// The lesson goes on in a new book, where it stands from its beginning.
    NewBook {
        /// The new book's file.
        path: PathBuf,
    },
    /// Too much waits. What waited and what comes now is not stored any more;
    /// the book holds the lesson up to the last batch told of as stored.
    GaveUp {
        /// What happened and what to do.
        sentence: String,
    },
}

enum Order {
    Store(Arc<Batch>),
    NewBook,
    Finish(Instant),
    Leave,
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
        running: RunningLesson,
        outlives: Outlives,
        sink: impl FnMut(WriterEvent) + Send + 'static,
    ) -> Writer {
        Self::start_with(book, running, outlives, MOST_WAITING, sink)
    }

    fn start_with(
        book: Book,
        running: RunningLesson,
        outlives: Outlives,
        most_waiting: usize,
        sink: impl FnMut(WriterEvent) + Send + 'static,
    ) -> Writer {
        let (orders, inbox) = channel();
        let waiting = Arc::new(AtomicUsize::new(0));
        let scribe = Scribe {
            transactions: Transactions::new(book, running, outlives),
            most_waiting,
            sink,
            waiting: Arc::clone(&waiting),
            queue: VecDeque::new(),
            told: None,
            gave_up: false,
            wants_new_book: false,
            leaves: false,
        };
        let thread = std::thread::Builder::new()
            .name("lesson-book".to_owned())
            .spawn(move || scribe.run(&inbox));
        Writer {
            orders,
            next: 0,
            waiting,
            // Without a thread nothing is ever told to be stored, and
            // `finish` says why.
            thread: thread.ok(),
        }
    }

    /// Has a batch stored. Returns at once; [`WriterEvent::Stored`] tells when it is
    /// done.
    pub fn store(&mut self, batch: Batch) -> BatchNumber {
        self.waiting.fetch_add(weight(&batch), Ordering::Relaxed);
        self.next += 1;
        // A thread that is gone has told why.
        let _ = self.orders.send(Order::Store(Arc::new(batch)));
        BatchNumber(self.next)
    }

    /// Where the book is lost, has the lesson go on in a new one: at the same
    /// place if nothing is there, else beside it. [`WriterEvent::NewBook`] tells when
    /// that is done.
    pub fn go_on_in_new_book(&self) {
        let _ = self.orders.send(Order::NewBook);
    }

    /// Writes nothing more, and closes the book.
    pub fn leave(mut self) {
        let _ = self.orders.send(Order::Leave);
        if let Some(thread) = self.thread.take() {
            // Nobody asks what is left.
            let _ = thread.join();
        }
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
                path: PathBuf::new(),
                why: "its thread is gone".into(),
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
    transactions: Transactions,
    most_waiting: usize,
    sink: S,
    waiting: Arc<AtomicUsize>,
    queue: VecDeque<Arc<Batch>>,
    /// The trouble told last, until it is over.
    told: Option<String>,
    gave_up: bool,
    wants_new_book: bool,
    leaves: bool,
}

impl<S: FnMut(WriterEvent)> Scribe<S> {
    fn run(mut self, inbox: &Receiver<Order>) -> Result<(), BookError> {
        let mut retry_at = None;
        let mut finish_by = None;
        let mut saved = None;
        loop {
            let wait = match (self.queue.is_empty(), finish_by) {
                _ if self.leaves || self.wants_new_book => Duration::ZERO,
                (true, Some(_)) => break,
                (true, None) => LOOK_EVERY,
                (false, _) => retry_at.map_or(LOOK_EVERY, |at: Instant| {
                    at.saturating_duration_since(Instant::now())
                }),
            };
            match inbox.recv_timeout(wait) {
                Ok(order) => self.take(order, &mut finish_by),
                // Nobody holds the other end: close as if told to.
                Err(RecvTimeoutError::Disconnected) => finish_by = Some(Instant::now()),
                Err(RecvTimeoutError::Timeout) if self.queue.is_empty() => {
                    if !self.wants_new_book {
                        self.look();
                    }
                }
                Err(RecvTimeoutError::Timeout) => {}
            }
            while let Ok(order) = inbox.try_recv() {
                self.take(order, &mut finish_by);
            }
            if self.leaves {
                self.transactions.leave();
                return Ok(());
            }
            if std::mem::take(&mut self.wants_new_book) {
                self.go_on_in_new_book();
                retry_at = None;
            }
            if self.gave_up || retry_at.is_some_and(|at| at > Instant::now() && finish_by.is_none())
            {
                continue;
            }
            retry_at = None;
            while !self.queue.is_empty() {
                let mut other = Vec::new();
                let hurry = finish_by.is_some();
                let stored = self.store_some(inbox, hurry, &mut other);
                for order in other {
                    self.take(order, &mut finish_by);
                }
                if self.leaves || self.wants_new_book {
                    break;
                }
                if let Err(trouble) = stored {
                    if finish_by.is_some() && trouble.is_lost() {
                        // Nobody will decide any more.
                        let Ok(Some(new)) = self.transactions.go_on_in_new_book() else {
                            return Err(trouble);
                        };
                        (self.sink)(WriterEvent::NewBook { path: new.clone() });
                        if let BookError::Lost { path, how } = trouble {
                            saved = Some(BookError::Saved { path, how, new });
                        }
                        continue;
                    }
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
        self.transactions.close()?;
        saved.map_or(Ok(()), Err)
    }

    fn take(&mut self, order: Order, finish_by: &mut Option<Instant>) {
        match order {
            Order::Finish(by) => *finish_by = Some(by),
            Order::NewBook => self.wants_new_book = true,
            Order::Leave => self.leaves = true,
            Order::Store(_) if self.gave_up => {}
            Order::Store(batch) => {
                self.queue.push_back(batch);
                if self.waiting.load(Ordering::Relaxed) > self.most_waiting {
                    self.give_up();
                }
            }
            #[cfg(test)]
            Order::With(act) => act(&self.transactions.book.connection),
        }
    }

    /// Stores the batches that wait, and those that come meanwhile, in one
    /// transaction. Whatever else comes ends it, and goes to `other`.
    fn store_some(
        &mut self,
        inbox: &Receiver<Order>,
        hurry: bool,
        other: &mut Vec<Order>,
    ) -> Result<(), BookError> {
        let Self {
            transactions,
            queue,
            ..
        } = self;
        let (mut count, mut moments, mut known) = (0, 0, 0);
        let batches = std::iter::from_fn(|| {
            while count < MOST_AT_ONCE {
                if let Some(batch) = queue.get(count) {
                    count += 1;
                    return Some(Arc::clone(batch));
                }
                while other.is_empty()
                    && let Ok(order) = inbox.try_recv()
                {
                    match order {
                        Order::Store(batch) => queue.push_back(batch),
                        order => other.push(order),
                    }
                }
                if queue.len() > count {
                    continue;
                }
                // The last moment brought nothing: the rush is over.
                let over = moments > 0 && count == known;
                if over || count < RUSH || moments == MOMENTS || hurry || !other.is_empty() {
                    return None;
                }
                known = count;
                moments += 1;
                std::thread::sleep(MOMENT);
            }
            None
        });
        let before = transactions.stored();
        let began = Instant::now();
        let up_to = transactions.write(batches)?;
        let took_us = u64::try_from(began.elapsed().as_micros()).unwrap_or(u64::MAX);
        trace!(name: "book-stored", count, took_us);
        // Fewer, where they had been committed before.
        let done = usize::try_from(up_to.0 - before.0).unwrap_or(usize::MAX);
        let done = done.min(self.queue.len());
        let written = self.queue.drain(..done).map(|b| weight(&b)).sum();
        self.waiting.fetch_sub(written, Ordering::Relaxed);
        self.told = None;
        (self.sink)(WriterEvent::Stored { up_to });
        Ok(())
    }

    fn tell_trouble(&mut self, trouble: &BookError) {
        let sentence = trouble.to_string();
        if self.told.as_ref() != Some(&sentence) {
            let waiting = self.queue.len();
            warn!(name: "book-waits", error = %Chain(trouble), waiting);
            self.told = Some(sentence.clone());
            (self.sink)(WriterEvent::Trouble {
                sentence,
                waiting: self.queue.len(),
                may_pass: trouble.may_pass(),
                is_lost: trouble.is_lost(),
            });
        }
    }

    /// Nothing waits: whether the book is still there.
    fn look(&mut self) {
        if self.gave_up {
            return;
        }
        match self.transactions.look() {
            Err(trouble) => self.tell_trouble(&trouble),
            Ok(()) => self.tell_over(),
        }
    }

    /// A trouble that was told is over, and nothing waits.
    fn tell_over(&mut self) {
        if self.told.take().is_some() && self.queue.is_empty() {
            let up_to = self.transactions.stored();
            (self.sink)(WriterEvent::Stored { up_to });
        }
    }

    fn go_on_in_new_book(&mut self) {
        match self.transactions.go_on_in_new_book() {
            Ok(Some(path)) => {
                (self.sink)(WriterEvent::NewBook { path });
                self.tell_over();
            }
            Ok(None) => self.tell_over(),
            Err(trouble) => {
                // Asked for, so told again.
                self.told = None;
                self.tell_trouble(&trouble);
            }
        }
    }

    fn give_up(&mut self) {
        self.gave_up = true;
        error!(name: "book-given-up", waiting = self.queue.len());
        self.queue.clear();
        (self.sink)(WriterEvent::GaveUp {
            sentence: "too much waits to be written into the lesson book, so the rest of this \
                       lesson is not kept: end the lesson and look after the disk"
                .to_owned(),
        });
    }
}

#[cfg(test)]
mod tests;
