//! What else a student's plain mode waits for: the host's notices, and answers
//! that are not confirmed yet.

use fifthpeg_host::Notice;
use fifthpeg_lesson::terminal::TerminalView;
use fifthpeg_student::UNWRITTEN_PATIENCE;
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::time::Instant;

/// What the friend who hosts is told of the network and the book; never, where
/// nobody hosts or the host is gone.
pub(super) async fn next_notice(
    notices: &mut Option<broadcast::Receiver<Notice>>,
) -> Result<Notice, RecvError> {
    let Some(open) = notices else {
        return std::future::pending().await;
    };
    let notice = open.recv().await;
    if matches!(notice, Err(RecvError::Closed)) {
        *notices = None;
    }
    notice
}

/// An answer that the host has not confirmed for a while.
#[derive(Default)]
pub(super) struct Unwritten {
    since: Option<Instant>,
    told: bool,
}

impl Unwritten {
    pub(super) fn look(&mut self, view: &TerminalView) {
        if view.owed.is_empty() {
            *self = Self::default();
        } else {
            self.since.get_or_insert_with(Instant::now);
        }
    }

    /// Whether an answer waits, and not for long yet.
    pub(super) fn is_fresh(&self) -> bool {
        self.since.is_some() && !self.told
    }

    /// Comes once for each time that answers wait.
    pub(super) async fn is_long(&mut self) {
        match self.since {
            Some(since) if !self.told => {
                tokio::time::sleep_until(since + UNWRITTEN_PATIENCE).await;
                self.told = true;
            }
            _ => std::future::pending().await,
        }
    }
}
