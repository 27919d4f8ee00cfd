//! Notes that were found and are not in the book yet.

use std::collections::BTreeMap;

use fifthpeg_book::BatchNumber;
use fifthpeg_lesson::message::{StudentId, ToStudent};

/// Who has found a note by a batch that is not stored, whether or not they are here to be
/// told.
#[derive(Debug, Default)]
pub(super) struct Finds(BTreeMap<StudentId, BatchNumber>);

impl Finds {
    /// Something is to be told to a student, by the batch of `ticket` (`None` without a book).
    pub(super) fn note(
        &mut self,
        student: StudentId,
        said: &ToStudent,
        ticket: Option<BatchNumber>,
    ) {
        if let (ToStudent::Marked { mark, .. }, Some(ticket)) = (said, ticket)
            && mark.is_right()
        {
            self.0.insert(student, ticket);
        }
    }

    /// Batches are stored.
    pub(super) fn stored(&mut self, up_to: BatchNumber) {
        self.0.retain(|_, ticket| *ticket > up_to);
    }

    /// Nothing is written down any more.
    pub(super) fn let_go(&mut self) {
        self.0.clear();
    }

    /// Who they are.
    pub(super) fn untold(&self) -> Vec<StudentId> {
        self.0.keys().copied().collect()
    }
}
