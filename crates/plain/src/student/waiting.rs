//! What a student's plain mode waits for: what a command says, the host's notices,
//! and what goes on for long.

use std::time::Duration;

use fifthpeg_host::Notice;
use fifthpeg_lesson::message::Progress;
use fifthpeg_lesson::terminal::TerminalView;
use fifthpeg_lesson::view::CallStage;
use tokio::sync::broadcast::{self, error::RecvError};
use tokio::time::Instant;

use crate::student_lines::StudentWait;

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

/// Something that may go on for long, which is then said, once for each time.
#[derive(Default)]
pub(super) struct Lasting {
    since: Option<Instant>,
    told: bool,
}

impl Lasting {
    /// Takes whether it goes on.
    pub(super) fn look(&mut self, goes_on: bool) {
        if goes_on {
            self.since.get_or_insert_with(Instant::now);
        } else {
            *self = Self::default();
        }
    }

    /// Whether it goes on, and not for long yet.
    pub(super) fn is_fresh(&self) -> bool {
        self.since.is_some() && !self.told
    }

    /// Comes once it has gone on for so long.
    pub(super) async fn is_long(&mut self, patience: Duration) {
        match self.since {
            Some(since) if !self.told => {
                tokio::time::sleep_until(since + patience).await;
                self.told = true;
            }
            _ => std::future::pending().await,
        }
    }
}

/// Which calls a wait for a call passes over.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct KnownCalls {
    /// The last that an earlier wait has seen.
    pub(super) waited_for: u32,
    /// Up to here, calls count only while they are open. Later ones were made
    /// during the wait, and count even if others found the note so soon that
    /// nobody saw the call open.
    pub(super) over_before: u32,
    /// The call before the one that was picked last, until the next wait is
    /// over: that wait may begin after the call was found.
    pub(super) picked_after: Option<u32>,
}

pub(super) fn number_of_call(view: &TerminalView) -> u32 {
    view.call.as_ref().map_or(0, |call| call.number)
}

pub(super) fn holds(wait: StudentWait, view: &TerminalView, known: KnownCalls) -> bool {
    let call = view.call.as_ref();
    match wait {
        StudentWait::Call => call.is_some_and(|call| {
            call.number > known.waited_for
                && (call.number > known.over_before || call.stage == CallStage::Open)
        }),
        StudentWait::Reveal => {
            call.is_some_and(|call| call.revealed.is_some() || call.stage == CallStage::Closed)
        }
        StudentWait::Mark => view.owed.is_empty(),
        StudentWait::Turn => matches!(view.turn, Some((_, true))),
        // Once everyone has found it, the lesson reveals it by itself.
        StudentWait::Found(number) => call.is_some_and(|call| {
            let over = call.stage != CallStage::Open;
            let found = call.progress.iter().filter(|(_, p)| *p == Progress::Found);
            over || found.count() >= number
        }),
        StudentWait::End => view.ended,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[tokio::test]
    async fn what_lasts_is_said_once_and_counted_from_when_it_began() {
        let patience = Duration::from_millis(40);
        let mut looks = Lasting::default();
        tokio::time::sleep(patience).await;
        looks.look(true);
        let began = Instant::now();
        looks.look(true);
        assert!(looks.is_fresh());
        looks.is_long(patience).await;
        assert!(began.elapsed() >= patience);
        assert!(!looks.is_fresh());
        let again = tokio::time::timeout(3 * patience, looks.is_long(patience));
        assert!(again.await.is_err(), "said twice");
        // It ended, and begins anew.
        looks.look(false);
        looks.look(true);
        assert!(looks.is_fresh());
        looks.is_long(patience).await;
    }
}
