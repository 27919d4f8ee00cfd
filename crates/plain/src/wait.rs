//! Waiting: for something to hold, for a while, and for being asked to stop.

use std::fmt::Display;

use fifthpeg_front::failure::Failure;
use fifthpeg_front::stops::Stops;
use tokio::time::Instant;

/// A wait or pause that holds up the commands after it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Waiting<W> {
    /// What it waits for; `None` only lets time pass.
    pub what: Option<W>,
    /// When it ends at the latest.
    pub until: Instant,
}

impl<W: Display> Waiting<W> {
    /// What to say once it is over; `None` while it is not.
    pub fn over(&self, holds: impl FnOnce(&W) -> bool) -> Option<String> {
        let time_is_up = Instant::now() >= self.until;
        match &self.what {
            Some(what) if holds(what) => Some(what.to_string()),
            Some(what) if time_is_up => Some(format!("{what} in vain: the time is up")),
            None if time_is_up => Some("pause".to_owned()),
            _ => None,
        }
    }
}

/// Tells when the process is asked to stop: Ctrl-C, the system, or its terminal
/// going away.
pub struct Stop(Stops);

impl Stop {
    /// Takes these over from now on.
    ///
    /// # Errors
    /// When the system does not let it.
    pub fn new() -> Result<Self, Failure> {
        Stops::listen().map(Self).map_err(|why| {
            Failure::runtime(why).told(|why| {
                format!(
                    "this system does not let the program notice Ctrl-C ({why}): start it again"
                )
            })
        })
    }

    /// Waits until one of them comes.
    pub async fn asked(&mut self) {
        self.0.next().await;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    #[test]
    fn a_wait_is_over_when_it_holds_or_the_time_is_up() {
        let later = Instant::now() + Duration::from_secs(60);
        let wait = Waiting {
            what: Some("found 2"),
            until: later,
        };
        assert_eq!(wait.over(|_| false), None);
        assert_eq!(wait.over(|_| true), Some("found 2".to_owned()));
        let late = Waiting {
            what: Some("found 2"),
            until: Instant::now(),
        };
        assert_eq!(
            late.over(|_| false),
            Some("found 2 in vain: the time is up".to_owned())
        );
        let pause = Waiting::<&str> {
            what: None,
            until: later,
        };
        assert_eq!(pause.over(|_| true), None);
    }
}
