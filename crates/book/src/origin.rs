//! Writing a lesson that was begun in another book into this one, from its
//! beginning.

use fifthpeg_core::Cause;
use fifthpeg_lesson::input::GivenInput;
use fifthpeg_lesson::{Lesson, LessonSetup, Moment};

use crate::error::OrBookError;
use crate::lessons::insert_lesson;
use crate::record::{Batch, Calendar, WrittenSoFar, note_progress, write};
use crate::{Book, BookError, LessonId};

/// What a lesson is begun from again in another book.
#[derive(Debug, Clone)]
pub(crate) struct Origin {
    pub class: String,
    pub setup: LessonSetup,
    pub began: Moment,
    pub started_ms: i64,
    pub calendar: Calendar,
    /// All that it was given, as far as it is stored.
    pub inputs: Vec<GivenInput>,
}

impl Book {
    /// Begins a lesson that was begun in another book, with all that it was
    /// given, under the same number: what was stored of it there and here is
    /// one lesson to whoever takes one book into the other.
    ///
    /// # Errors
    /// [`BookError::CannotResume`] where not `events` events come of it, or
    /// when the book cannot be written.
    pub(crate) fn begin_again(
        &mut self,
        id: LessonId,
        origin: &Origin,
        events: i64,
    ) -> Result<WrittenSoFar, BookError> {
        let path = self.path.clone();
        let cannot = |why: Cause| BookError::CannotResume { why };
        let inputs = origin.inputs.iter().cloned();
        let mut lesson = Lesson::replay(origin.setup.clone(), origin.began, inputs)
            .map_err(|e| cannot(e.into()))?;
        let mut batch = Batch {
            inputs: origin.inputs.clone(),
            ..Batch::default()
        };
        if events > 0 {
            batch
                .events
                .extend(std::iter::from_fn(|| lesson.poll_event()));
        }
        if batch.events.len() as i64 != events {
            return Err(cannot("what is stored of it is not what was done".into()));
        }
        (|| {
            let step = self.connection.transaction()?;
            let (setup, began) = (&origin.setup, origin.began);
            let ms = origin.started_ms;
            let mut progress = insert_lesson(&step, id, &origin.class, setup, began, ms)?;
            origin.calendar.write(&step, progress.key)?;
            write(&step, &mut progress, &batch)?;
            note_progress(&step, &mut progress)?;
            step.commit()?;
            Ok(progress)
        })()
        .at(&path)
    }
}
