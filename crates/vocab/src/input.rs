//! What goes into a lesson, as values: whoever keeps them can make the lesson
//! again after the host was killed.

use serde::{Deserialize, Serialize};

use crate::evidence::{Evidence, StudentKey, When};
use crate::message::{FromStudent, SeatKey, StudentId};
use crate::moment::Moment;
use crate::setup::HostOrder;

/// One thing that goes into a lesson: one variant for each `handle_*`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum LessonInput {
    /// `Lesson::handle_join`.
    Join {
        /// The name asked for.
        name: String,
        /// The key of an old seat.
        key: Option<SeatKey>,
        /// Fresh randomness for a new one.
        new_key: SeatKey,
    },
    /// `Lesson::handle_message`.
    Message {
        /// Who says it.
        student: StudentId,
        /// What is said.
        message: FromStudent,
    },
    /// `Lesson::handle_host`.
    Order(HostOrder),
    /// `Lesson::handle_disconnect`.
    Disconnect {
        /// Whose connection is lost.
        student: StudentId,
    },
    /// `Lesson::handle_timeout`.
    Timeout,
    /// `Lesson::handle_learning`.
    Learning {
        /// The lesson's first moment in the book's time.
        began: When,
        /// What is known from earlier lessons.
        evidence: Vec<Evidence>,
    },
    /// `Lesson::handle_student_key`.
    StudentKey {
        /// The student of this lesson.
        student: StudentId,
        /// Who that is across lessons.
        key: StudentKey,
    },
}

/// An input with the moment it was given.
#[derive(Debug, Clone, PartialEq)]
pub struct GivenInput {
    /// When, on the host's clock.
    pub at: Moment,
    /// What.
    pub input: LessonInput,
}
