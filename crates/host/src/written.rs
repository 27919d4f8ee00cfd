//! The lesson written down: what it is given goes into the lesson book, and
//! what the book says of it comes back.

use std::path::PathBuf;
use std::time::Duration;

use fifthpeg_book::{
    Batch, BatchNumber, Book, BookError, LessonId, Outlives, Resumed, RunningLesson, Writer,
    WriterEvent,
};
use fifthpeg_core::Cause;
use fifthpeg_lesson::learning::When;
use fifthpeg_lesson::{LessonSetup, Moment};
use tokio::sync::mpsc;

use crate::recalling::{AskBook, Recalling};
use fifthpeg_link::clock::unix_ms;

/// The lesson book that a host writes into.
pub struct HostBook {
    pub(crate) book: Book,
    pub(crate) lesson: Planned,
    /// What a confirmation outlives.
    pub outlives: Outlives,
    /// Called on the writing thread with each report, before the lesson heeds
    /// it; must not wait. For whoever measures.
    pub on_report: Option<OnReport>,
}

/// Sees what the book's writer reports.
pub type OnReport = Box<dyn FnMut(&WriterEvent) + Send>;

pub(crate) enum Planned {
    Begin { class: String },
    GoOn(Box<Resumed>),
}

impl HostBook {
    /// A new lesson of `class`.
    pub fn begin(book: Book, class: impl Into<String>) -> Self {
        let class = class.into();
        Self {
            book,
            lesson: Planned::Begin { class },
            outlives: Outlives::default(),
            on_report: None,
        }
    }

    /// A lesson taken up again; it then goes by its own setup.
    pub fn go_on(book: Book, resumed: Resumed) -> Self {
        Self {
            book,
            lesson: Planned::GoOn(Box::new(resumed)),
            outlives: Outlives::default(),
            on_report: None,
        }
    }
}

/// A book that was left: its file, if it is there, and the lesson in it.
pub(crate) type Left = Option<(PathBuf, LessonId)>;

/// Where a lesson is written down.
#[derive(Debug)]
pub(crate) struct Written {
    writer: Writer,
    pub(crate) reports: mpsc::UnboundedReceiver<WriterEvent>,
    /// The writer has stopped, and that has been told.
    pub(crate) is_silent: bool,
    /// The book's file, and the lesson's number in it.
    pub(crate) kept_in: (PathBuf, LessonId),
    class: String,
    /// Says what earlier lessons know.
    pub(crate) recalling: Option<Recalling>,
}

impl Written {
    pub(crate) fn begin(
        mut book: Book,
        class: &str,
        setup: &LessonSetup,
        began: Moment,
        (outlives, on_report): (Outlives, Option<OnReport>),
        port: Option<u16>,
    ) -> Result<Self, BookError> {
        let now_ms = unix_ms();
        let running = book.begin(class, setup, began, now_ms)?;
        let ask = AskBook {
            path: book.path().to_owned(),
            class: class.to_owned(),
            lesson: running.id(),
            began: Some(When(now_ms.div_euclid(1000))),
        };
        Ok(Self::start(book, running, (outlives, on_report), port, ask))
    }

    pub(crate) fn start(
        book: Book,
        running: RunningLesson,
        (outlives, mut on_report): (Outlives, Option<OnReport>),
        port: Option<u16>,
        ask: AskBook,
    ) -> Self {
        if let Some(port) = port {
            running.note_port(port);
        }
        let (sink, reports) = mpsc::unbounded_channel();
        let writer = Writer::start(book, running, outlives, move |report| {
            if let Some(on_report) = &mut on_report {
                on_report(&report);
            }
            // Nobody listens once the lesson is over.
            let _ = sink.send(report);
        });
        Self {
            writer,
            reports,
            is_silent: false,
            kept_in: (ask.path.clone(), ask.lesson),
            class: ask.class.clone(),
            recalling: Recalling::start(ask),
        }
    }

    /// Has a batch stored; the ticket stands for it and all before.
    pub(crate) fn store(&mut self, batch: Batch) -> BatchNumber {
        self.writer.store(batch)
    }

    /// Where the book is lost, has the lesson go on in a new one.
    pub(crate) fn go_on_in_new_book(&self) {
        self.writer.go_on_in_new_book();
    }

    /// Has earlier lessons asked for in the new book.
    pub(crate) fn is_in(&mut self, path: PathBuf) -> Option<Recalling> {
        self.kept_in.0.clone_from(&path);
        Recalling::start(AskBook {
            path,
            class: self.class.clone(),
            lesson: self.kept_in.1,
            began: None,
        })
    }

    /// Writes nothing more, where waiting is allowed.
    pub(crate) async fn leave(self) {
        let writer = self.writer;
        // What went wrong in it has no meaning any more.
        let _ = tokio::task::spawn_blocking(move || writer.leave()).await;
    }

    /// Closes the book, where waiting is allowed.
    pub(crate) async fn finish(self, patience: Duration) -> Result<(), Cause> {
        let writer = self.writer;
        let done = tokio::task::spawn_blocking(move || writer.finish(patience)).await;
        match done {
            Ok(Ok(())) => Ok(()),
            Ok(Err(e)) => Err(e.into()),
            Err(e) => Err(e.into()),
        }
    }
}
