//! How the lesson's task parts from the lesson book.

use core::time::Duration;
use std::path::PathBuf;
use std::time::Instant;

use fifthpeg_book::{Book, LessonId};
use tokio::task::JoinHandle;

use crate::lesson_task::LessonTask;

/// How long the end of a lesson waits for its last lines to be written.
const LAST_LINES: Duration = Duration::from_secs(3);

/// A lesson whose host left its book and ended it in good order is not to be
/// taken up again: the book says so, if it can be written by now. If it cannot,
/// the next start finds it open and says what to do.
async fn give_up(left: JoinHandle<(PathBuf, LessonId)>, by: Instant) {
    let Ok(Ok((path, lesson))) = tokio::time::timeout_at(by.into(), left).await else {
        return;
    };
    let closed = tokio::task::spawn_blocking(move || {
        Book::open(&path).and_then(|mut book| book.give_up(lesson))
    });
    // Locked or full still: nothing more to do here.
    let _ = tokio::time::timeout_at(by.into(), closed).await;
}

impl LessonTask {
    /// The lesson goes on without it.
    pub(crate) fn leave_book(&mut self) {
        let recalling = self.recalling.take();
        if let Some(written) = self.written.take() {
            let place = written.place.clone();
            // Their threads may be waiting for the disk.
            let left = tokio::spawn(async move {
                if let Some(recalling) = recalling {
                    recalling.finish().await;
                }
                let _ = written.finish(Duration::ZERO).await;
                place
            });
            self.left = Some(left);
        }
    }

    /// Waits until the end is written down, so that everyone is told how their
    /// last answers were marked; what is wrong if it is not.
    pub(crate) async fn close_book(&mut self) -> Option<String> {
        let by = Instant::now() + LAST_LINES;
        while !self.heart.is_all_stored() {
            let Some(written) = &mut self.written else {
                break;
            };
            let report = tokio::time::timeout_at(by.into(), written.reports.recv()).await;
            match report {
                Ok(Some(report)) => {
                    let now = self.now();
                    self.heart.handle_report(Some(report), now);
                    self.act();
                }
                Ok(None) | Err(_) => break,
            }
        }
        self.heart.tell_end();
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
