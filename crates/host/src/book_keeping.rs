//! What the lesson's task does with what the lesson book says.

use core::time::Duration;
use std::time::Instant;

use fifthpeg_book::Report;

use crate::Notice;
use crate::lesson_task::LessonTask;
use crate::written::BookState;

/// How long the end of a lesson waits for its last lines to be written.
const LAST_LINES: Duration = Duration::from_secs(3);

const STOPPED: &str = "the program has stopped writing the lesson book: order to go on without \
                       the book, or end the lesson and start the program again";

impl LessonTask {
    /// `None`: the writer is gone.
    pub(crate) fn take_report(&mut self, report: Option<Report>) {
        match report {
            Some(Report::Stored { up_to }) => {
                if let Some(written) = &mut self.written {
                    written.note_stored(up_to);
                }
                let waited = matches!(*self.outlets.book.borrow(), BookState::Waits { .. });
                if waited {
                    self.outlets.book.send_replace(BookState::Writing);
                    self.tell(Notice::BookBack);
                }
                let free = self.hold.stored(up_to);
                self.hand_out(free);
                self.pass_on();
            }
            Some(Report::Trouble { sentence, .. } | Report::GaveUp { sentence }) => {
                self.book_waits(sentence);
            }
            // The writer's thread could not be started, or has stopped.
            None => self.book_waits(STOPPED.to_owned()),
        }
    }

    fn book_waits(&mut self, sentence: String) {
        let state = BookState::Waits {
            sentence: sentence.clone(),
        };
        self.outlets.book.send_replace(state);
        self.tell(Notice::BookWaits { sentence });
        let free = self.hold.go_ahead();
        self.hand_out(free);
        self.pass_on();
    }

    /// Stops writing the lesson down, and lets go of what waited for it;
    /// whether there was a book.
    pub(crate) fn go_without_book(&mut self) -> bool {
        let Some(written) = self.written.take() else {
            return false;
        };
        self.outlets.book.send_replace(BookState::Left);
        self.tell(Notice::BookLeft);
        let free = self.hold.let_go();
        self.hand_out(free);
        self.pass_on();
        self.show();
        // Its thread may be waiting for the disk.
        tokio::spawn(written.finish(Duration::ZERO));
        true
    }

    /// Waits until the end is written down, so that everyone is told how their
    /// last answers were marked; what is wrong if it is not.
    pub(crate) async fn close_book(&mut self) -> Option<String> {
        self.pass_on();
        let by = Instant::now() + LAST_LINES;
        while self.written.as_ref().is_some_and(|w| !w.is_all_stored()) {
            let written = self.written.as_mut()?;
            let report = tokio::time::timeout_at(by.into(), written.reports.recv()).await;
            match report {
                Ok(Some(report)) => self.take_report(Some(report)),
                Ok(None) | Err(_) => break,
            }
        }
        // The end itself is told in any case.
        let free = self.hold.go_ahead();
        self.hand_out(free);
        let written = self.written.take()?;
        let lasts = by.saturating_duration_since(Instant::now());
        written.finish(lasts).await.err()
    }
}
