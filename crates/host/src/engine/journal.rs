//! What the lesson took in and what came of it, until it is stored.

use fifthpeg_book::{Batch, BatchNumber};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::input::{GivenInput, LessonInput};

#[derive(Debug, Default)]
pub(super) struct Journal {
    pending: Batch,
    last: Option<BatchNumber>,
    stored: Option<BatchNumber>,
}

impl Journal {
    pub(super) fn note_input(&mut self, at: Moment, input: LessonInput) {
        self.pending.inputs.push(GivenInput { at, input });
    }

    pub(super) fn note_event(&mut self, event: LessonEvent) {
        self.pending.events.push(event);
    }

    /// Everything noted since the last batch, if anything was.
    pub(super) fn batch(&mut self) -> Option<(BatchNumber, Batch)> {
        if self.pending.inputs.is_empty() && self.pending.events.is_empty() {
            return None;
        }
        let ticket = BatchNumber(self.last.map_or(0, |t| t.0) + 1);
        self.last = Some(ticket);
        Some((ticket, std::mem::take(&mut self.pending)))
    }

    /// Stands for everything noted up to the last batch.
    pub(super) fn last(&self) -> Option<BatchNumber> {
        self.last
    }

    pub(super) fn note_stored(&mut self, up_to: BatchNumber) {
        self.stored = self.stored.max(Some(up_to));
    }

    pub(super) fn is_all_stored(&self) -> bool {
        self.stored >= self.last
    }
}
