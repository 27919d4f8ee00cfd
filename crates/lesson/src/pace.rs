//! The lesson that goes on by itself: the note is shown, and the next one
//! called, when it is time. No clock is read: moments come in like all else.
//!
//! It goes from the first call by hand. An order that intervenes stops it until
//! the next one, unless nobody is hurried ([`Pace::shown_after`] is not set).

use crate::Moment;
use crate::event::LessonEvent;
use crate::lesson::Lesson;
use crate::message::Mode;
use crate::pace_state::PaceState;
use crate::setup::HostOrder;
use crate::view::CallStage;
use fifthpeg_vocab::pace::{Pace, PaceStop};
use fifthpeg_vocab::rules::Setting;

/// After so many calls that nobody answered it stops. Our choice.
const UNANSWERED: u32 = 3;

impl Lesson {
    /// Why the lesson no longer goes on by itself, where it did.
    pub(crate) fn pace_stopped(&self) -> Option<PaceStop> {
        self.going.stopped.filter(|_| self.untold.pace.is_some())
    }

    fn pace(&self) -> Option<Pace> {
        let class = self.rules.mode == Mode::Class && !self.ended;
        self.untold.pace.filter(|_| class)
    }

    /// Whether a note that all have found is shown at once.
    pub(crate) fn shows_found(&self) -> bool {
        self.rules.show_found || self.pace().is_some()
    }

    /// An order of the host's was carried out.
    pub(crate) fn pace_heeds(&mut self, order: &HostOrder, now: Moment) {
        let Some(pace) = self.pace() else {
            if matches!(order, HostOrder::Set(Setting::Pace(_))) {
                self.going = PaceState {
                    over: self.going.over,
                    ..PaceState::default()
                };
            }
            return;
        };
        let alone = self.going.stopped == Some(PaceStop::Nobody);
        match order {
            // Somebody is here again, perhaps after a kill of the host.
            HostOrder::HearAgain | HostOrder::Reveal | HostOrder::Close
                if alone && self.roster.iter().any(|s| s.here()) =>
            {
                self.going.runs = true;
                self.going.stopped = None;
                self.going.set = now;
            }
            HostOrder::Set(Setting::Pace(_)) => {
                let open = self.stage() == Some(CallStage::Open);
                // Who is alone was ready once a call was made.
                self.going.runs |= open || (pace.shown_after.is_none() && self.call.is_some());
                self.going.stopped = None;
                self.going.set = now;
            }
            HostOrder::CallAt(_) | HostOrder::CallPlayed(_) | HostOrder::CallRandom => {
                self.going.runs = true;
                self.going.stopped = None;
                self.going.unanswered = 0;
            }
            HostOrder::HearAgain => {}
            _ if pace.shown_after.is_some() => self.stop_pace(PaceStop::Ordered),
            _ => {}
        }
    }

    /// A call was made, revealed or closed.
    pub(crate) fn pace_takes(&mut self, event: &LessonEvent) {
        match event {
            LessonEvent::CallMade { .. } => self.going.over = None,
            LessonEvent::Revealed { at, .. } | LessonEvent::Closed { at, .. }
                if self.going.over.is_none() =>
            {
                self.going.over = Some(*at);
                let answered = self.roster.iter().any(|s| {
                    let part = s.part.as_ref();
                    part.is_some_and(|part| !part.answers.is_empty())
                });
                self.going.unanswered = match answered {
                    true => 0,
                    false => self.going.unanswered + 1,
                };
            }
            _ => {}
        }
    }

    fn stop_pace(&mut self, why: PaceStop) {
        if core::mem::take(&mut self.going.runs) {
            self.going.stopped = Some(why);
        }
    }

    /// When the pace has something to do.
    pub(crate) fn pace_due(&self) -> Option<Moment> {
        let pace = self.pace().filter(|_| self.going.runs)?;
        match (self.stage()?, &self.call) {
            (CallStage::Open, Some(call)) => {
                Some(call.start.max(self.going.set) + pace.shown_after?)
            }
            _ => Some(self.going.over?.max(self.going.set) + pace.next_after?),
        }
    }

    /// Does what has become due.
    pub(crate) fn settle_pace(&mut self, now: Moment) {
        let Some(pace) = self.pace() else { return };
        let here = self.roster.iter().any(|s| s.here());
        if !here {
            self.stop_pace(PaceStop::Nobody);
            return;
        }
        if self.stage() == Some(CallStage::Open) && pace.shown_after.is_none() {
            self.going.runs = true;
            self.going.stopped = None;
        }
        if self.pace_due().is_none_or(|due| now < due) {
            return;
        }
        if self.stage() == Some(CallStage::Open) {
            self.reveal(now);
            if self.going.unanswered >= UNANSWERED {
                self.stop_pace(PaceStop::Unanswered);
            }
            return;
        }
        let helped = || {
            let glances = self.roster.iter().filter(|s| s.here());
            glances.into_iter().any(|s| self.glance(s).needs_help())
        };
        if pace.until_help && helped() {
            self.stop_pace(PaceStop::Help);
        } else if self.make_call(None, None, now).is_err() {
            self.stop_pace(PaceStop::NoNote);
        }
    }
}
