//! The caller of a lesson alone: has the note shown once it is found, and
//! calls the next by itself after a pause, where one is set.
//!
//! It sees the lesson as its host does and orders what a host may order. It
//! calls nothing before a call was open while it looked on: whoever searches
//! calls the first note and so says that they are ready.

use core::time::Duration;
use std::collections::VecDeque;

use crate::Moment;
use crate::message::{CallId, Progress};
use crate::setup::HostOrder;
use crate::view::{CallStage, LessonView};

/// The caller.
#[derive(Debug, Clone, Default)]
pub struct Caller {
    gap: Option<Duration>,
    /// A call was open: whoever searches is ready.
    ready: bool,
    /// Somebody is here to hear a call.
    here: bool,
    /// The call that takes no more answers, and since when.
    over: Option<(CallId, Moment)>,
    /// The last call whose note it had shown.
    shown: Option<CallId>,
    /// The last call after which it called the next.
    followed: Option<CallId>,
    orders: VecDeque<HostOrder>,
}

impl Caller {
    /// Calls the next note so long after the one before is over; without a
    /// pause only whoever searches does.
    pub fn new(gap: Option<Duration>) -> Self {
        Self {
            gap,
            ..Self::default()
        }
    }

    /// Another pause, or none any more. One that runs begins anew.
    pub fn set_gap(&mut self, gap: Option<Duration>, now: Moment) {
        self.gap = gap;
        if let Some((_, since)) = &mut self.over {
            *since = now;
        }
    }

    /// Takes the lesson as it is now.
    pub fn handle_view(&mut self, view: &LessonView, now: Moment) {
        self.here = !view.ended && view.students.iter().any(|s| s.connected);
        let Some(call) = &view.call else { return };
        if call.stage != CallStage::Open {
            if self.over.is_none_or(|(id, _)| id != call.id) {
                self.over = Some((call.id, now));
            }
            return;
        }
        self.ready = true;
        self.over = None;
        let mut searching = view.students.iter().filter_map(|s| s.progress).peekable();
        let found = searching.peek().is_some() && searching.all(|p| p == Progress::Found);
        if found && self.shown != Some(call.id) {
            self.shown = Some(call.id);
            self.orders.push_back(HostOrder::Reveal);
        }
    }

    /// When [`Caller::handle_timeout`] has something to do.
    pub fn next_deadline(&self) -> Option<Moment> {
        let (id, since) = self.over.filter(|_| self.ready && self.here)?;
        let gap = self.gap.filter(|_| self.followed != Some(id))?;
        Some(since + gap)
    }

    /// Calls the next note, if it is time.
    pub fn handle_timeout(&mut self, now: Moment) {
        if self.next_deadline().is_some_and(|due| now >= due) {
            self.followed = self.over.map(|(id, _)| id);
            self.orders.push_back(HostOrder::CallRandom);
        }
    }

    /// What is to be ordered next. An order may be refused, where whoever
    /// searches was quicker.
    pub fn poll_order(&mut self) -> Option<HostOrder> {
        self.orders.pop_front()
    }
}
