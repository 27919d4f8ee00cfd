//! Who a student is, where the host says so: one who had another seat in this
//! lesson, or somebody of the book.

use crate::Moment;
use crate::event::LessonEvent;
use crate::learning::StudentKey;
use crate::lesson::Lesson;
use crate::message::{Refusal, StudentId, ToStudent};
use crate::names;

impl Lesson {
    /// Who of the roster has this name or one that looks like it.
    pub fn student_named(&self, name: &str) -> Option<StudentId> {
        let mut all = self.roster.iter();
        all.find(|s| names::are_alike(&s.name, name)).map(|s| s.id)
    }

    /// Makes a student and who is known under that name one. Between calls
    /// only: nobody has two parts in one call.
    pub(crate) fn known_as(
        &mut self,
        student: StudentId,
        name: &str,
        person: Option<StudentKey>,
        now: Moment,
    ) -> Result<(), Refusal> {
        self.between_calls()?;
        self.roster.get(student).ok_or(Refusal::NoStudent)?;
        let name = names::tidy(name)?;
        let before = self.student_named(&name).filter(|other| *other != student);
        let before_here = before.and_then(|b| self.roster.get(b));
        if before_here.is_some_and(|b| b.here()) {
            return Err(Refusal::BothHere(name));
        }
        let is_own = self.student_named(&name) == Some(student);
        if before.is_none() && person.is_none() && !is_own {
            return Err(Refusal::NobodyKnown(name));
        }
        let unclosed = self.unclosed().is_some();
        let Some((name, tally)) = self.roster.join(student, before, &name, unclosed) else {
            return Err(Refusal::NoStudent);
        };
        if before.is_some() && self.turn == before {
            self.turn = Some(student);
        }
        self.happened(LessonEvent::KnownAs {
            at: now,
            student,
            name: name.clone(),
            person,
            before,
        });
        self.send(student, ToStudent::KnownAs { name, tally }, now);
        let everyone: Vec<StudentId> = self.roster.iter().map(|s| s.id).collect();
        for id in everyone {
            self.tell_turn_to(id, now);
        }
        Ok(())
    }
}
