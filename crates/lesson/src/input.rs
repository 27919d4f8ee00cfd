//! The lesson made again from what went into it.

pub use fifthpeg_vocab::input::{GivenInput, LessonInput};

use crate::Moment;
use crate::lesson::Lesson;
use crate::message::{Refusal, SeatKey, StudentId};
use crate::setup::LessonSetup;

impl Lesson {
    /// Gives the lesson one input; the same as calling its `handle_*`. The
    /// number comes back for a student who is let in.
    ///
    /// # Errors
    ///
    /// As the `handle_*`. A refused [`LessonInput::Join`] has changed nothing
    /// and need not be kept; any other refused input may have (time has passed)
    /// and must be, for the lesson to be made again.
    pub fn apply(&mut self, input: LessonInput, now: Moment) -> Result<Option<StudentId>, Refusal> {
        match input {
            LessonInput::Join { name, key, new_key } => {
                self.handle_join(&name, key, new_key, now).map(Some)
            }
            LessonInput::Message { student, message } => {
                self.handle_message(student, message, now).map(|()| None)
            }
            LessonInput::Order(order) => self.handle_host(order, now).map(|()| None),
            LessonInput::Disconnect { student } => {
                self.handle_disconnect(student, now);
                Ok(None)
            }
            LessonInput::Timeout => {
                self.handle_timeout(now);
                Ok(None)
            }
            LessonInput::Learning { evidence, began } => {
                self.handle_learning(evidence, began, now).map(|()| None)
            }
            LessonInput::StudentKey { student, key } => {
                self.handle_student_key(student, key, now).map(|()| None)
            }
        }
    }

    /// Makes a lesson again from its setup, the moment it began and the inputs
    /// it was given, oldest first. Its messages are thrown away, since they
    /// were sent or will be asked for again; its events wait to be taken with
    /// [`Lesson::poll_event`], the same as the first time.
    ///
    /// The first lesson's messages must have been taken after every input, as
    /// they are here: what waits in its outbox can make it part from a student.
    ///
    /// # Errors
    ///
    /// As [`Lesson::new`]. Inputs that were refused the first time are refused
    /// again, which is no error.
    pub fn replay(
        setup: LessonSetup,
        began: Moment,
        inputs: impl IntoIterator<Item = GivenInput>,
    ) -> Result<Lesson, Refusal> {
        let mut lesson = Lesson::new(setup, began)?;
        for GivenInput { at, input } in inputs {
            // Refused then, refused now.
            let _ = lesson.apply(input, at);
            while lesson.poll_message().is_some() {}
        }
        Ok(lesson)
    }

    /// Everyone's name and the key of their seat, for a program that takes up
    /// again both the lesson and a terminal in it.
    pub fn seats(&self) -> Vec<(String, SeatKey)> {
        let seats = self.roster.iter().map(|s| (s.name.clone(), s.key));
        seats.collect()
    }

    /// The students whose connection the lesson takes to be up. After
    /// [`Lesson::replay`] nobody's is: give each a
    /// [`LessonInput::Disconnect`], and keep that as well.
    pub fn connected(&self) -> Vec<StudentId> {
        let here = self.roster.iter().filter(|s| s.here());
        here.map(|s| s.id).collect()
    }
}
