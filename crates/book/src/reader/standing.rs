//! What is known of one person's ear, and under which rules it was last heard:
//! what practice is made from.

use std::collections::BTreeMap;

use fifthpeg_lesson::LessonEvent;
use fifthpeg_lesson::learning::gather::Gatherer;
use fifthpeg_lesson::learning::{Evidence, StudentKey, When};
use fifthpeg_lesson::message::{Rules, StudentId};

use super::whole::Whole;
use super::{Reader, Whose};
use crate::{BookError, LessonId, PersonId};

/// Where one person stands.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonStanding {
    /// The person's records over all lessons, for
    /// [`Model::from_evidence`](fifthpeg_lesson::learning::Model::from_evidence).
    pub records: Vec<Evidence>,
    /// Lessons with calls that the person had a part in and that are over.
    pub lessons: u32,
    /// These calls, as reports count them.
    pub calls: u32,
    /// Of these, found with the first answer, as reports count them.
    pub found_first: u32,
    /// The rules in force at the last call the person had a part in, in a lesson
    /// of the class or, without any, alone; `None` without either.
    pub last: Option<Rules>,
    /// Lessons that could not be read and are left out, each in a sentence.
    pub unread: Vec<String>,
}

impl Reader {
    /// The records of everybody in one lesson. Whoever was removed from the
    /// book has none.
    ///
    /// # Errors
    /// [`BookError::NoLesson`], [`BookError::Spoilt`], or what reading meets
    /// with.
    pub fn evidence(&self, lesson: LessonId) -> Result<Vec<Evidence>, BookError> {
        Ok(self.whole(lesson)?.evidence())
    }

    /// The rules that the class's last lesson ended with; of practice alone, where
    /// it had no other that can be read.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn class_rules(&self, class: &str) -> Result<Option<Rules>, BookError> {
        let mut alone = None;
        for lesson in self.lessons_of(Whose::Class(class))?.into_iter().rev() {
            match self.whole(lesson) {
                Ok(whole) if !whole.alone => return Ok(whole.rules()),
                Ok(whole) => alone = alone.or(whole.rules()),
                Err(BookError::Spoilt { .. }) => {}
                Err(other) => return Err(other),
            }
        }
        Ok(alone)
    }

    /// Where one person stands after all lessons that can be read.
    ///
    /// # Errors
    /// When the book cannot be read.
    pub fn standing(&self, person: PersonId) -> Result<PersonStanding, BookError> {
        let mut standing = PersonStanding {
            records: Vec::new(),
            lessons: 0,
            calls: 0,
            found_first: 0,
            last: None,
            unread: Vec::new(),
        };
        let mut alone = None;
        for lesson in self.lessons_of(Whose::Person(person))? {
            let whole = match self.whole(lesson) {
                Ok(whole) => whole,
                Err(spoilt @ BookError::Spoilt { .. }) => {
                    standing.unread.push(spoilt.to_string());
                    continue;
                }
                Err(other) => return Err(other),
            };
            let ruled = whole.ruled(|_, id| id == person);
            let (records, mut rules): (Vec<Evidence>, Vec<Rules>) = ruled.into_iter().unzip();
            let mut calls = whole.calls(Some(person));
            calls.retain(|call| call.over);
            standing.lessons += u32::from(!calls.is_empty());
            for call in calls {
                standing.calls += 1;
                standing.found_first += u32::from(call.found_first());
            }
            standing.records.extend(records);
            let last = match whole.alone {
                true => &mut alone,
                false => &mut standing.last,
            };
            *last = rules.pop().or(last.take());
        }
        standing.last = standing.last.or(alone);
        Ok(standing)
    }
}

impl Whole {
    /// The rules it ended with.
    fn rules(&self) -> Option<Rules> {
        self.events.iter().rev().find_map(|event| match event {
            LessonEvent::Began { rules, .. } | LessonEvent::RulesChanged { rules, .. } => {
                Some(rules.as_ref().clone())
            }
            _ => None,
        })
    }

    /// The records of everybody.
    pub fn evidence(&self) -> Vec<Evidence> {
        let ruled = self.ruled(|_, _| true);
        ruled.into_iter().map(|(record, _)| record).collect()
    }

    /// Records of those whose number and person are asked for, each with the
    /// rules its call was made under.
    pub fn ruled(&self, of: impl Fn(StudentId, PersonId) -> bool) -> Vec<(Evidence, Rules)> {
        let Some(LessonEvent::Began { at, rules, .. }) = self.events.first() else {
            return Vec::new();
        };
        let began = When(self.calendar.unix_ms(*at).div_euclid(1000));
        let keys: BTreeMap<StudentId, StudentKey> = self
            .seats
            .iter()
            .filter(|(student, person)| of(**student, **person))
            .map(|(student, person)| (*student, StudentKey(person.0)))
            .collect();
        let mut gatherer = Gatherer::new(began, *at, rules);
        let mut records = Vec::new();
        let (mut rules, mut called_under) = (rules, rules);
        for event in &self.events {
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
        records
    }
}
