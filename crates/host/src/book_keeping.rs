//! How the lesson lets go of its book: at its end, when the host goes on without one,
//! and when the book is lost.

use core::time::Duration;
use std::time::Instant;

use fifthpeg_book::{Book, WriterEvent};
use fifthpeg_core::Cause;
use tokio::task::JoinHandle;

use crate::lesson_task::LessonTask;
use crate::written::Left;

/// How long the end of a lesson waits for its last lines to be written.
const LAST_LINES: Duration = Duration::from_secs(3);

/// A lesson whose host left its book and ended it in good order is not to be
/// taken up again: the book says so, if it can be written by now. If it cannot,
/// the next start finds it open and says what to do.
async fn give_up(left: JoinHandle<Left>, by: Instant) {
    let Ok(Ok(Some((path, lesson)))) = tokio::time::timeout_at(by.into(), left).await else {
        return;
    };
    let closed = tokio::task::spawn_blocking(move || {
        Book::open(&path).and_then(|mut book| book.give_up(lesson))
    });
    // Locked or full still: nothing more to do here.
    let _ = tokio::time::timeout_at(by.into(), closed).await;
}

impl LessonTask {
    /// The lesson goes on without it. What is lost cannot be told that the
    /// lesson has ended, and what lies there now is left alone.
    pub(crate) fn leave_book(&mut self, is_lost: bool) {
        let recalling = self.recalling.take();
        if let Some(written) = self.written.take() {
            let kept_in = Some(written.kept_in.clone()).filter(|_| !is_lost);
            // Their threads may be waiting for the disk.
            let left = tokio::spawn(async move {
                if let Some(recalling) = recalling {
                    recalling.finish().await;
                }
                written.leave().await;
                kept_in
            });
            self.left = Some(left);
        }
    }

    /// The lesson goes on in a new book, if its book is lost.
    pub(crate) fn go_on_in_new_book(&mut self) {
        if let Some(written) = &self.written {
            written.go_on_in_new_book();
        }
    }

    /// Heeds what the book says.
    pub(crate) fn heed_report(&mut self, report: Option<WriterEvent>) {
        if let (Some(WriterEvent::NewBook { path }), Some(written)) = (&report, &mut self.written) {
            let recalling = written.is_in(path.clone());
            if let Some(old) = std::mem::replace(&mut self.recalling, recalling) {
                tokio::spawn(old.finish());
            }
        }
        self.engine.handle_report(report, self.now());
    }

    /// The lesson is about to end, and nobody will decide any more where it goes
    /// on if its book is lost: in a new one, so that the last answers are told
    /// before the end is.
    pub(crate) async fn find_lost_book(&mut self) {
        if self.engine.book().is_lost() {
            self.go_on_in_new_book();
            self.store_all(Instant::now() + LAST_LINES).await;
        }
    }

    /// Heeds what the book says until everything is stored.
    async fn store_all(&mut self, by: Instant) {
        while !self.engine.is_all_stored() {
            let Some(written) = &mut self.written else {
                break;
            };
            let report = tokio::time::timeout_at(by.into(), written.reports.recv()).await;
            match report {
                Ok(Some(report)) => {
                    self.heed_report(Some(report));
                    self.act();
                    if self.engine.book().is_lost() {
                        self.go_on_in_new_book();
                    }
                }
                Ok(None) | Err(_) => break,
            }
        }
    }

    /// Waits until the end is written down, so that everyone is told how their
    /// last answers were marked; what is wrong if it is not.
    pub(crate) async fn close_book(&mut self) -> Option<Cause> {
        let by = Instant::now() + LAST_LINES;
        self.store_all(by).await;
        self.engine.tell_end();
        self.act();
        if let Some(left) = self.left.take() {
            give_up(left, by).await;
        }
        let written = self.written.take()?;
        if let Some(recalling) = self.recalling.take() {
            // Not for ever: the lesson is written, whatever lies beside the book.
            let _ = tokio::time::timeout_at(by.into(), recalling.finish()).await;
        }
        let lasts = by.saturating_duration_since(Instant::now());
        written.finish(lasts).await.err()
    }
}
