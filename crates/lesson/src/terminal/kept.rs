//! Answers given here that nothing was told of yet: kept over any number of calls
//! and connections, each until the host has marked or refused it by call and
//! serial, or it is known to be lost.

use std::collections::VecDeque;

use crate::Moment;
use crate::message::{Answer, AnswerNotice, CallId, LastCall};

/// Answers that wait for the host's word at most; one more is refused when it is
/// given. The host reads as many at once ([`PAST_ANSWERS`](crate::past::PAST_ANSWERS)
/// says what it can tell of).
pub const ANSWERS_KEPT: usize = 100;

/// Marks told that are remembered: a host that was killed may go back to a call before
/// the one it named last, and names what it holds of it again.
pub const MARKS_REMEMBERED: usize = 256;

/// Answers of which was told what came of them, oldest first: of which call (its number, and where
/// it starts), under which serial.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Told(VecDeque<(CallId, Moment, u32)>);

impl Told {
    /// Remembers it; whether it is news.
    pub fn note(&mut self, call: CallId, start: Moment, serial: u32) -> bool {
        let it = (call, start, serial);
        let news = !self.0.contains(&it);
        if news {
            if self.0.len() == MARKS_REMEMBERED {
                self.0.pop_front();
            }
            self.0.push_back(it);
        }
        news
    }

    /// The highest serial told of that call.
    pub fn last_serial(&self, call: CallId, start: Moment) -> u32 {
        let of_it = self.0.iter().filter(|t| (t.0, t.1) == (call, start));
        of_it.map(|t| t.2).max().unwrap_or(0)
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Waiting {
    notice: AnswerNotice,
    /// Which call of that number: where it starts.
    start: Option<Moment>,
    /// It went out over the connection that is up now.
    sent: bool,
}

/// Answers that wait for the host's word, oldest first.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct KeptAnswers(VecDeque<Waiting>);

impl KeptAnswers {
    pub fn is_full(&self) -> bool {
        self.0.len() >= ANSWERS_KEPT
    }

    pub fn keep(&mut self, notice: AnswerNotice, start: Option<Moment>) {
        self.0.push_back(Waiting {
            notice,
            start,
            sent: false,
        });
    }

    /// Answers kept elsewhere by a program before this one.
    pub fn kept_before(kept: impl IntoIterator<Item = (AnswerNotice, Option<Moment>)>) -> Self {
        let mut all = Self::default();
        for (notice, start) in kept.into_iter().take(ANSWERS_KEPT) {
            all.keep(notice, start);
        }
        all
    }

    /// All of them, with where their calls start.
    pub fn all(&self) -> impl Iterator<Item = (AnswerNotice, Option<Moment>)> + '_ {
        self.0.iter().map(|w| (w.notice, w.start))
    }

    /// What has not gone out over this connection, oldest first; it counts as
    /// gone then.
    pub fn take_unsent(&mut self) -> impl Iterator<Item = AnswerNotice> + '_ {
        let unsent = self.0.iter_mut().filter(|w| !w.sent);
        unsent.map(|waiting| {
            waiting.sent = true;
            waiting.notice
        })
    }

    /// The connection is gone, and perhaps what went out over it.
    pub fn send_again(&mut self) {
        self.0.iter_mut().for_each(|w| w.sent = false);
    }

    /// Those to that call, oldest first.
    pub fn of(&self, call: CallId, start: Moment) -> impl Iterator<Item = &AnswerNotice> {
        let of_it = move |w: &&Waiting| w.notice.call == call && w.start.is_none_or(|s| s == start);
        self.0.iter().filter(of_it).map(|w| &w.notice)
    }

    /// The host has spoken of this answer; with where its call starts.
    pub fn take(&mut self, call: CallId, serial: u32) -> Option<(AnswerNotice, Option<Moment>)> {
        let it = |w: &Waiting| w.notice.call == call && w.notice.serial == serial;
        let at = self.0.iter().position(it)?;
        self.0.remove(at).map(|w| (w.notice, w.start))
    }

    /// Takes out the answers to calls that a host whose last call is `last` does
    /// not have: it was killed before it had written them down.
    pub fn take_lost(&mut self, last: Option<LastCall>) -> Vec<AnswerNotice> {
        let lost = |w: &Waiting| {
            last.is_none_or(|last| {
                let same = w.start.is_none_or(|start| start == last.start);
                w.notice.call > last.call || w.notice.call == last.call && !same
            })
        };
        let (lost, kept) = self.0.iter().partition(|w| lost(w));
        self.0 = kept;
        let lost: VecDeque<Waiting> = lost;
        lost.into_iter().map(|w| w.notice).collect()
    }

    /// Takes out everything.
    pub fn take_all(&mut self) -> Vec<AnswerNotice> {
        core::mem::take(&mut self.0)
            .into_iter()
            .map(|w| w.notice)
            .collect()
    }

    /// Whether answers to this call wait.
    pub fn has_of(&self, call: CallId) -> bool {
        self.0.iter().any(|w| w.notice.call == call)
    }

    /// All of them, for showing.
    pub fn shown(&self) -> Vec<(CallId, Answer)> {
        let of = |w: &Waiting| (w.notice.call, w.notice.answer);
        self.0.iter().map(of).collect()
    }
}
