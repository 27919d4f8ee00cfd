//! How the lesson's task parts from the lesson book.

use core::time::Duration;
use std::time::Instant;

use crate::lesson_task::LessonTask;

/// How long the end of a lesson waits for its last lines to be written.
const LAST_LINES: Duration = Duration::from_secs(3);

impl LessonTask {
    /// The lesson goes on without it.
    pub(crate) fn leave_book(&mut self) {
        if let Some(written) = self.written.take() {
            // Its thread may be waiting for the disk.
            tokio::spawn(written.finish(Duration::ZERO));
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
        let written = self.written.take()?;
        let lasts = by.saturating_duration_since(Instant::now());
        written.finish(lasts).await.err()
    }
}
