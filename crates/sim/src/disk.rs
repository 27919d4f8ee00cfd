//! The disk with the lesson book: the real book, written late, not at all for
//! a while, and left behind by a host that is killed.

use fifthpeg_book::{Batch, BatchNumber, Book, BookError, Outlives, Transactions, WriterEvent};
use fifthpeg_host::BookState;
use fifthpeg_lesson::Lesson;

use crate::bug::Bug;
use crate::clock::Clock;
use crate::clock::{MS, START_US};
use crate::parts::Shadow;
use crate::world::{Happening, World};

/// 13 October 2026, 18:00 UTC.
const EVENING_MS: i64 = 1_791_914_400_000;
/// How soon a failed writing is tried again, as the book's writer has it.
const RETRY: u64 = 500 * MS;

impl World {
    pub fn unix_ms(&self) -> i64 {
        EVENING_MS + ((self.now - START_US) / MS) as i64
    }

    /// The lesson begins, in a book of its own where there is one.
    pub fn begin_lesson(&mut self) -> Result<(), String> {
        let began = self.host_now();
        let lesson = Lesson::new(self.setup.clone(), began).map_err(|e| e.to_string())?;
        let state = match self.begin_book() {
            Ok(true) => BookState::Writing,
            Ok(false) => BookState::None,
            Err(e) => return Err(format!("the book cannot be begun: {e}")),
        };
        if state == BookState::Writing {
            self.host.shadow = Some(Shadow::new(&self.setup, began, &[], true));
        }
        self.began = began;
        self.host_begins(lesson, state, true);
        Ok(())
    }

    fn begin_book(&mut self) -> Result<bool, BookError> {
        let Some(path) = self.disk.path() else {
            return Ok(false);
        };
        let mut book = Book::open(&path)?;
        let running = book.begin("Tuesday", &self.setup, self.host_now(), self.unix_ms())?;
        self.disk.id = Some(running.id());
        self.disk.transactions = Some(Transactions::new(book, running, Outlives::Kill));
        Ok(true)
    }

    pub fn store(&mut self, ticket: BatchNumber, mut batch: Batch) {
        if self.has(Bug::ConfirmsEarly) {
            self.report(WriterEvent::Stored { up_to: ticket });
        }
        if self.has(Bug::LogsTooLittle) && ticket.0.is_multiple_of(7) {
            batch.inputs.pop();
        }
        self.disk.queue.push_back((ticket, batch));
        if self.disk.writing == 0 {
            self.write();
        }
    }

    /// Begins to write what waits.
    fn write(&mut self) {
        self.disk.writing = self.disk.queue.len().min(256);
        let takes = if self.calm {
            self.dice.between(200, 2 * MS)
        } else if self.now < self.disk.slow_until {
            self.dice.between(60 * MS, 2_500 * MS)
        } else {
            self.dice.between(300, 12 * MS)
        };
        self.at(self.now + takes, Happening::DiskDone(self.host.life));
    }

    pub fn disk_done(&mut self, life: u32) {
        if life != self.host.life || self.disk.transactions.is_none() {
            return;
        }
        if self.now < self.disk.fails_until && !self.calm {
            if !self.disk.told_trouble {
                self.disk.told_trouble = true;
                self.report(WriterEvent::Trouble {
                    sentence: "the disk is full: make room on it".to_owned(),
                    waiting: self.disk.queue.len(),
                    may_pass: true,
                    is_lost: false,
                });
            }
            return self.at(self.now + RETRY, Happening::DiskDone(life));
        }
        let count = self.disk.writing;
        let mut written: Vec<_> = self.disk.queue.drain(..count).collect();
        let dropped =
            self.has(Bug::DropsBatch) && written.last().is_some_and(|(t, _)| t.0.is_multiple_of(9));
        let up_to = written.last().map(|(ticket, _)| *ticket);
        if dropped {
            written.pop();
        }
        if let Some(transactions) = &mut self.disk.transactions
            && let Err(e) = transactions.write(written.iter().map(|(_, batch)| batch))
        {
            return self.fail(format!("the book does not take what happened: {e}"));
        }
        for (_, batch) in &written {
            self.disk.inputs.extend(batch.inputs.iter().cloned());
            self.stored.take(&batch.events);
        }
        self.disk.told_trouble = false;
        self.disk.writing = 0;
        if let Some(up_to) = up_to {
            let forgotten = self.has(Bug::ForgetsReport) && up_to.0.is_multiple_of(5);
            if !forgotten {
                self.report(WriterEvent::Stored { up_to });
            }
        }
        if !self.disk.queue.is_empty() {
            self.write();
        }
    }

    /// What the writer says reaches the host a little later.
    fn report(&mut self, report: WriterEvent) {
        let later = self.dice.between(0, MS);
        let life = self.host.life;
        // In order: what waits to be said is said first.
        self.disk_says_at = (self.now + later).max(self.disk_says_at);
        self.at(self.disk_says_at, Happening::Report(life, report));
    }

    pub fn host_hears_book(&mut self, life: u32, report: WriterEvent) {
        if life == self.host.life {
            self.note("book", format_args!("{report:?}"));
            self.with_engine(|engine, now| engine.handle_report(Some(report), now));
        }
    }

    /// The host goes on without the book.
    pub fn disk_closes(&mut self) {
        self.disk.queue.clear();
        self.disk.writing = 0;
        self.disk.transactions = None;
        self.host.shadow = None;
        self.end_recalling();
    }

    /// The host is killed, and comes back after so long.
    pub fn kill_host(&mut self, for_us: u64) {
        if self.disk.transactions.is_none() || self.host.engine.is_none() || self.truth.ended {
            return;
        }
        self.counts.crashes += 1;
        self.note("host", format_args!("is killed"));
        self.host.engine = None;
        self.host.shadow = None;
        self.host.ending_until = None;
        self.disk.transactions = None;
        self.disk.queue.clear();
        self.disk.writing = 0;
        self.disk.told_trouble = false;
        self.end_recalling();
        for conn in 0..self.conns.len() {
            let c = &mut self.conns[conn];
            if c.life == self.host.life && c.host_open {
                c.host_open = false;
                c.up_lost = true;
                c.down_lost |= self.dice.chance(500);
                if self.dice.chance(700) {
                    let at = self.now + self.dice.between(MS, 300 * MS);
                    self.at(at, Happening::TerminalSeesEnd(conn));
                }
            }
        }
        // Whatever this process was about to do, it does no more.
        self.host.life += 1;
        self.truth = self.truth.again(&self.stored.events);
        self.at(self.now + for_us, Happening::HostBack);
    }

    pub fn host_back(&mut self) {
        let (Some(path), Some(id)) = (self.disk.path(), self.disk.id) else {
            return;
        };
        let unix_ms = self.unix_ms();
        let resumed = Book::open(&path).and_then(|mut book| {
            let resumed = book.resume(id, unix_ms)?;
            Ok((book, resumed))
        });
        let (book, resumed) = match resumed {
            Ok(both) => both,
            Err(e) => return self.fail(format!("the lesson cannot be taken up again: {e}")),
        };
        self.note("host", format_args!("is back"));
        self.host.clock = Clock::new(self.now, resumed.goes_on.micros(), self.host.ppm);
        self.disk.transactions = Some(Transactions::new(book, resumed.running, Outlives::Kill));
        let fresh = self.disk.inputs.is_empty() && self.stored.events.is_empty();
        let shadow = Shadow::new(&self.setup, self.began, &self.disk.inputs, fresh);
        self.check(resumed.lesson.view() == shadow.lesson().view(), || {
            "the lesson taken up again is not the one that was stored".to_owned()
        });
        self.host.shadow = Some(shadow);
        self.host_begins(resumed.lesson, BookState::Writing, false);
        self.who_again();
    }
}
