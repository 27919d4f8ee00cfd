//! What came of a student's answers to calls that are over.
//!
//! A terminal that was away while its call ended, and another was made, sends its
//! answers again all the same: what the lesson holds is told again, by call and
//! serial, and what never arrived is refused as too late.

use std::collections::VecDeque;

use crate::call::{Call, Part};
use crate::marking::Mark;
use crate::message::CallId;

/// Answers to calls that are over whose marks are kept for each student. A
/// terminal keeps fewer that it was told nothing of
/// ([`ANSWERS_KEPT`](crate::terminal::ANSWERS_KEPT)) and sends them in order, so
/// that it never asks for one that is kept no more.
pub const PAST_ANSWERS: usize = 256;

/// One answer to a call that is over.
#[derive(Debug, Clone, Copy)]
struct PastAnswer {
    call: CallId,
    serial: u32,
    /// In full if the note was shown, else as it was told.
    mark: Mark,
}

/// The marks of a student's latest answers to calls that are over.
#[derive(Debug, Clone, Default)]
pub(crate) struct Past {
    answers: VecDeque<PastAnswer>,
    /// Up to this call some may be kept no more.
    forgotten: Option<CallId>,
}

impl Past {
    /// The student's part in a call that another takes the place of.
    pub fn take(&mut self, call: &Call, part: &Part) {
        for (serial, mark) in part.marks_told(call.revealed) {
            if self.answers.len() == PAST_ANSWERS {
                self.forgotten = self.answers.pop_front().map(|a| a.call);
            }
            self.answers.push_back(PastAnswer {
                call: call.id,
                serial,
                mark,
            });
        }
    }

    /// The mark of an answer that is held.
    pub fn mark(&self, call: CallId, serial: u32) -> Option<Mark> {
        let it = |a: &&PastAnswer| a.call == call && a.serial == serial;
        self.answers.iter().rev().find(it).map(|a| a.mark)
    }

    /// Whether an answer to this call may have been held once.
    pub fn is_forgotten(&self, call: CallId) -> bool {
        self.forgotten.is_some_and(|up_to| call <= up_to)
    }
}
