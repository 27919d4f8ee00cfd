//! What is known of one person's ear, and under which rules it was last heard:
//! what practice is made from.

use std::collections::BTreeMap;

use fifthpeg_lesson::LessonEvent;
use fifthpeg_lesson::learning::gather::Gatherer;
use fifthpeg_lesson::learning::{Evidence, StudentKey, When};
use fifthpeg_lesson::message::{Rules, StudentId};

use super::Reader;
use super::lists::list;
use crate::error::OrBookError;
use crate::{BookError, LessonId, PersonId};

/// Where one person stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The person's records over all lessons, for
    /// [`Model::from_evidence`](fifthpeg_lesson::learning::Model::from_evidence).
    pub records: Vec<Evidence>,
    /// Lessons with such records.
    pub lessons: u32,
    /// The rules in force at the last call the person had a part in; `None`
    /// without any.
    pub last: Option<Rules>,
}

impl Reader {
    /// The records of everybody in one lesson. Whoever was removed from the
    /// book has none.
    ///
    /// # Errors
    /// [`BookError::NoLesson`], or what reading meets with.
    pub fn evidence(&self, lesson: LessonId) -> Result<Vec<Evidence>, BookError> {
        let records = self.ruled(lesson, |_, _| true)?;
        Ok(records.into_iter().map(|(record, _)| record).collect())
    }

    /// Where one person stands after all lessons.
    ///
    /// # Errors
    /// What reading meets with.
    pub fn standing(&self, person: PersonId) -> Result<Standing, BookError> {
        let sql = "SELECT DISTINCT lesson.id FROM seat
             JOIN lesson ON lesson.key = seat.lesson JOIN person ON person.key = seat.person
             WHERE person.id = ?1 ORDER BY lesson.started_ms, lesson.id";
        let lessons: Vec<LessonId> =
            list(&self.connection, sql, [person], |row| row.get(0)).at(&self.path)?;
        let mut standing = Standing {
            records: Vec::new(),
            lessons: 0,
            last: None,
        };
        for lesson in lessons {
            let (records, mut rules): (Vec<Evidence>, Vec<Rules>) = self
                .ruled(lesson, |_, id| id == person)?
                .into_iter()
                .unzip();
            standing.lessons += u32::from(!records.is_empty());
            standing.records.extend(records);
            standing.last = rules.pop().or(standing.last);
        }
        Ok(standing)
    }

    /// Records of a lesson, of those whose number and person are asked for, each
    /// with the rules its call was made under.
    pub(super) fn ruled(
        &self,
        lesson: LessonId,
        of: impl Fn(StudentId, PersonId) -> bool,
    ) -> Result<Vec<(Evidence, Rules)>, BookError> {
        let events = self.events(lesson)?;
        let Some(LessonEvent::Began { at, rules, .. }) = events.first() else {
            return Ok(Vec::new());
        };
        let began = When(self.unix_ms(lesson, *at)?.div_euclid(1000));
        let keys: BTreeMap<StudentId, StudentKey> = self
            .seats(lesson)?
            .into_iter()
            .filter(|(student, person)| of(*student, person.id))
            .map(|(student, person)| (student, StudentKey(person.id.0)))
            .collect();
        let mut gatherer = Gatherer::new(began, *at, rules);
        let mut records = Vec::new();
        let (mut rules, mut called_under) = (rules, rules);
        for event in &events {
            match event {
                LessonEvent::RulesChanged { rules: changed, .. } => rules = changed,
                LessonEvent::CallMade { .. } => called_under = rules,
                _ => {}
            }
            let taken = gatherer.take(event, |student| keys.get(&student).copied());
            records.extend(
                taken
                    .into_iter()
                    .map(|e| (e, called_under.as_ref().clone())),
            );
        }
        Ok(records)
    }
}
