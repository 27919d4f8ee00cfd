//! The caller of a lesson alone, on the host's clock.

use std::time::Duration;

use fifthpeg_core::text;
use fifthpeg_lesson::alone::Caller;
use tokio::sync::watch;

use crate::Host;

/// The pause where none was asked for and the next notes are to come by
/// themselves all the same. Chosen freely: long enough to read four places.
const USUAL_GAP: Duration = Duration::from_secs(5);

/// Shortest and longest pause before the next note, in seconds.
const GAP_S: std::ops::RangeInclusive<f64> = 1.0..=60.0;

/// After which pause the next note is called by itself, if it is.
#[derive(Debug)]
pub struct Pace {
    usual: Duration,
    now: watch::Sender<Option<Duration>>,
}

impl Pace {
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

    /// Calls for as long as the lesson lasts; never returns.
    pub async fn keep(&self, host: &Host) {
        let mut views = host.view();
        let mut gaps = self.now.subscribe();
        let mut caller = Caller::new(*gaps.borrow_and_update());
        loop {
            caller.handle_view(&views.borrow_and_update(), host.now());
            while let Some(order) = caller.poll_order() {
                // Refused only where the player was quicker.
                let _ = host.order(order).await;
            }
            let due = caller.next_deadline();
            let wait = due.map_or(Duration::MAX, |due| due.since(host.now()));
            tokio::select! {
                changed = views.changed() => if changed.is_err() {
                    return std::future::pending().await;
                },
                Ok(()) = gaps.changed() => {
                    let gap = *gaps.borrow_and_update();
                    caller.set_gap(gap, host.now());
                }
                () = tokio::time::sleep(wait), if due.is_some() => {
                    caller.handle_timeout(host.now());
                }
            }
        }
    }
}

/// A pause between notes.
///
/// # Errors
/// One sentence, when it is none.
pub fn parse_gap(typed: &str) -> Result<Duration, String> {
    typed
        .trim_end_matches('s')
        .trim()
        .parse()
        .ok()
        .filter(|seconds| GAP_S.contains(seconds))
        .map(Duration::from_secs_f64)
        .ok_or_else(|| {
            format!(
                "\"{}\" is no pause between notes: give seconds from {} to {}, such as 4",
                text::shown(typed),
                GAP_S.start(),
                GAP_S.end()
            )
        })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn pauses_are_bounded() {
        assert_eq!(parse_gap("4"), Ok(Duration::from_secs(4)));
        assert_eq!(parse_gap("1.5s"), Ok(Duration::from_millis(1500)));
        for wrong in ["", "0", "0.9", "61", "-2", "NaN", "inf", "soon"] {
            assert!(parse_gap(wrong).is_err(), "{wrong}");
        }
    }
}
