//! Who a student is across lessons, and what earlier ones say.
//!
//! The book is asked once a student is in, by others than this; a call or a
//! mark never waits for the answer. What it says becomes an input of the lesson
//! and is written down, so that a lesson taken up again knows the same.

use fifthpeg_book::Recalled;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::input::LessonInput;
use fifthpeg_lesson::learning::{StudentKey, When};
use fifthpeg_lesson::message::{Refusal, StudentId};
use fifthpeg_lesson::setup::HostOrder;

use super::{Engine, Todo};
use crate::Notice;

impl Engine {
    /// From now on [`Todo::Recall`] asks for each student who comes in. `began`
    /// is the lesson's first moment in the book's time; `None` for a lesson
    /// taken up again, which was told.
    pub fn recall(&mut self, began: Option<When>, now: Moment) {
        if let Some(began) = began {
            let evidence = Vec::new();
            // Nothing to refuse: a lesson about to begin has not ended.
            let _ = self.give(LessonInput::Learning { evidence, began }, now);
        }
        // What a lesson has learned without a date cannot be dated any more.
        self.recalls = self.lesson.began_when().is_some();
    }

    /// Unless it is known already.
    pub(super) fn ask_who_that_is(&mut self, student: StudentId) {
        if self.recalls && self.lesson.student_key(student).is_none() {
            let name = self.name_of(student);
            self.todo.push_back(Todo::Recall(student, name));
        }
    }

    /// What the book says to [`Todo::Recall`]: the person with what is known,
    /// nobody, or why it cannot say.
    pub fn handle_recalled(
        &mut self,
        student: StudentId,
        said: Result<Option<Recalled>, String>,
        now: Moment,
    ) {
        match said {
            Ok(Some(recalled)) => self.know(student, recalled, now),
            Ok(None) => {}
            Err(sentence) => {
                if self.not_recalled.as_ref() != Some(&sentence) {
                    self.not_recalled = Some(sentence.clone());
                    self.tell(Notice::NotRecalled { sentence });
                }
            }
        }
        self.pass_on(now);
    }

    /// The host says that a student is who has this name: somebody of the book,
    /// with what is known, or one who had another seat.
    ///
    /// # Errors
    /// The lesson's refusal.
    pub fn handle_known_as(
        &mut self,
        student: StudentId,
        name: String,
        recalled: Option<Recalled>,
        now: Moment,
    ) -> Result<(), Refusal> {
        let person = recalled.as_ref().map(|r| StudentKey(r.person.0));
        let records = recalled.map(|r| r.records).filter(|r| !r.is_empty());
        if let Some((began, evidence)) = self.lesson.began_when().zip(records) {
            // Only an ended lesson refuses.
            let _ = self.give(LessonInput::Learning { evidence, began }, now);
        }
        self.handle_order(
            HostOrder::KnownAs {
                student,
                name,
                person,
            },
            now,
        )
    }

    fn know(&mut self, student: StudentId, recalled: Recalled, now: Moment) {
        let Some(began) = self.lesson.began_when() else {
            return;
        };
        if self.lesson.student_key(student).is_some() {
            return;
        }
        let key = StudentKey(recalled.person.0);
        let evidence = recalled.records;
        if !evidence.is_empty() {
            // Only an ended lesson refuses.
            let _ = self.give(LessonInput::Learning { evidence, began }, now);
        }
        // Refused for one who is off the roster by now.
        let _ = self.give(LessonInput::StudentKey { student, key }, now);
    }
}
