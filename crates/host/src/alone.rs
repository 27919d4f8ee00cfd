//! The pause before the next note of a lesson alone: the lesson's pace, as the
//! player's screen and commands set it.

use std::time::Duration;

use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_vocab::Setting;
use fifthpeg_vocab::pace::Pace;
use tokio::sync::watch;

use crate::Host;

/// The pause where none was asked for and the next notes are to come by
/// themselves all the same. Chosen freely: long enough to read four places.
const USUAL_GAP: Duration = Duration::from_secs(5);

/// After which pause the next note is called by itself, if it is.
#[derive(Debug)]
pub struct Gap {
    usual: Duration,
    now: watch::Sender<Option<Duration>>,
}

impl Gap {
    /// With the pause asked for.
    pub fn new(gap: Option<Duration>) -> Self {
        Self {
            usual: gap.unwrap_or(USUAL_GAP),
            now: watch::Sender::new(gap),
        }
    }

    /// The pause in force.
    pub fn gap(&self) -> Option<Duration> {
        *self.now.borrow()
    }

    /// The pause that comes into force when none is named.
    pub fn usual(&self) -> Duration {
        self.usual
    }

    /// Another pause, or none.
    pub fn set(&self, gap: Option<Duration>) {
        self.now.send_replace(gap);
    }

    /// Tells the lesson, for as long as it lasts; never returns.
    pub async fn keep(&self, host: &Host) {
        let mut gaps = self.now.subscribe();
        loop {
            let pace = Pace::alone(*gaps.borrow_and_update());
            if host.view().borrow().untold.pace != Some(pace) {
                // Refused only once the lesson is over.
                let _ = host.order(HostOrder::Set(Setting::Pace(Some(pace)))).await;
            }
            if gaps.changed().await.is_err() {
                return std::future::pending().await;
            }
        }
    }
}
