//! One pedal that does the next sensible thing: a foot switch, or the space bar.

use core::time::Duration;

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{CallId, Progress};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::CallStage;

use super::deeds::HostDeed;
use super::layers::HostAction;
use super::state::HostState;
use crate::words;

/// A second press so soon after one that did something is no second one.
const SETTLES: Duration = Duration::from_secs(1);
/// Presses closer together than this come from a key that is held down.
const HELD: Duration = Duration::from_millis(300);
/// So long a question waits for its second press.
const ASKS: Duration = Duration::from_secs(5);

/// Where the lesson stands, for the pedal.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stage {
    /// No call is open, and none is shown.
    Between,
    /// Somebody here still searches.
    Searching,
    /// Everybody here has found it, or nobody is here.
    Found,
    /// The note is shown.
    Shown,
}

/// Which press.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Press {
    /// The first.
    First,
    /// The one that confirms.
    Second,
}

/// What a press does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deed {
    /// Calls a note of the reach.
    CallPicked,
    /// Calls the note that was played.
    CallHeard,
    /// Asks first, since a reveal cannot be undone.
    Ask,
    /// Shows the note.
    Reveal,
}

#[rustfmt::skip] // So that it reads as the table it is.
const TABLE: &[(Stage, bool, Press, Deed)] = &[
    // stage           heard  press          does
    (Stage::Between,   false, Press::First,  Deed::CallPicked),
    (Stage::Between,   true,  Press::First,  Deed::CallHeard),
    (Stage::Searching, false, Press::First,  Deed::Ask),
    (Stage::Searching, false, Press::Second, Deed::Reveal),
    (Stage::Found,     false, Press::First,  Deed::Reveal),
    (Stage::Found,     false, Press::Second, Deed::Reveal),
    (Stage::Shown,     false, Press::First,  Deed::CallPicked),
    (Stage::Shown,     true,  Press::First,  Deed::CallHeard),
];

/// What a press does; `None` where there is no such case.
pub fn deed(stage: Stage, heard: bool, press: Press) -> Option<Deed> {
    let row = TABLE
        .iter()
        .find(|r| (r.0, r.1, r.2) == (stage, heard, press));
    row.map(|row| row.3)
}

/// What was pressed lately.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Pedal {
    /// The last press.
    pressed: Option<Moment>,
    /// The last press that did something.
    acted: Option<Moment>,
    /// The call that was asked about.
    asked: Option<(CallId, Moment)>,
}

impl Pedal {
    /// Takes a press; whether it counts as one.
    fn counts(&mut self, now: Moment) -> bool {
        let since = |then: Option<Moment>| then.map_or(Duration::MAX, |then| now.since(then));
        let counts = since(self.acted) >= SETTLES && since(self.pressed) >= HELD;
        self.pressed = Some(now);
        if counts {
            self.acted = Some(now);
        }
        counts
    }
}

impl HostState {
    /// Takes a press of the pedal.
    pub(super) fn press_pedal(&mut self) -> Option<HostAction> {
        if !self.pedal.counts(self.now) {
            return None;
        }
        self.message = None;
        let deed = self.pedal_deed()?;
        let asked = self.pedal.asked.take();
        let order = match deed {
            Deed::CallPicked => HostOrder::CallRandom,
            Deed::CallHeard => HostOrder::CallPlayed(self.offered()?),
            Deed::Reveal => HostOrder::Reveal,
            Deed::Ask => {
                let call = self.current_call().map(|call| (call.id, self.now));
                self.pedal.asked = call.or(asked);
                return None;
            }
        };
        Some(HostAction::Host(HostDeed::Order(order)))
    }

    fn pedal_deed(&self) -> Option<Deed> {
        let press = match self.pedal_asks() {
            true => Press::Second,
            false => Press::First,
        };
        deed(self.pedal_stage(), self.offered().is_some(), press)
    }

    fn pedal_stage(&self) -> Stage {
        match self.current_call().map(|call| call.stage) {
            None | Some(CallStage::Closed) => Stage::Between,
            Some(CallStage::Revealed) => Stage::Shown,
            Some(CallStage::Open) if self.searching() > 0 => Stage::Searching,
            Some(CallStage::Open) => Stage::Found,
        }
    }

    fn searching(&self) -> u32 {
        let progress = self.view.students.iter().filter(|s| s.connected);
        let searching = progress.filter(|s| s.progress.is_some_and(|p| p != Progress::Found));
        searching.count().try_into().unwrap_or(u32::MAX)
    }

    /// Whether the pedal waits for a second press.
    fn pedal_asks(&self) -> bool {
        let asked = self.pedal.asked.zip(self.view.open_call());
        asked.is_some_and(|((id, at), call)| id == call.id && self.now.since(at) < ASKS)
    }

    /// The question, while it waits.
    pub fn pedal_question(&self) -> Option<String> {
        self.pedal_asks().then(|| {
            let who = words::count(self.searching(), "student", "students");
            format!("{who} still searching: press the pedal again to reveal the note.")
        })
    }

    /// What the pedal does, for the corner of the screen.
    pub fn pedal_says(&self) -> String {
        match self.pedal_deed() {
            Some(Deed::CallPicked) => "Pedal: call a note".to_owned(),
            Some(Deed::CallHeard) => match self.offered().filter(|_| !self.is_offer_hidden()) {
                Some(pitch) => {
                    format!("Pedal: call {}", self.writing().pitch(pitch))
                }
                None => "Pedal: call what you played".to_owned(),
            },
            Some(Deed::Ask) => "Pedal: reveal?".to_owned(),
            Some(Deed::Reveal) if self.pedal_asks() => "Pedal: yes, reveal".to_owned(),
            Some(Deed::Reveal) => "Pedal: reveal".to_owned(),
            None => String::new(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_case_that_can_be_has_one_row() {
        for stage in [Stage::Between, Stage::Searching, Stage::Found, Stage::Shown] {
            for heard in [false, true] {
                for press in [Press::First, Press::Second] {
                    let rows = TABLE
                        .iter()
                        .filter(|r| (r.0, r.1, r.2) == (stage, heard, press));
                    // An open call offers nothing that was heard, and only it is asked about.
                    let open = matches!(stage, Stage::Searching | Stage::Found);
                    let can_be = if open { !heard } else { press == Press::First };
                    assert_eq!(
                        rows.count(),
                        usize::from(can_be),
                        "{stage:?} {heard} {press:?}"
                    );
                }
            }
        }
    }
}
