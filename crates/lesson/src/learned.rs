//! What a lesson learns of its students as it goes, and what it makes of that:
//! picks that teach, each student at a glance, and whether the reach fits.
//!
//! All of it is for the host: no message to a student depends on it, but for
//! the note that is picked.

use std::collections::BTreeMap;

use crate::Moment;
use crate::event::{Leaving, LessonEvent};
use crate::learning::gather::Gatherer;
use crate::learning::help::{self, Glance};
use crate::learning::{Evidence, Model, StudentKey, Suggestion, Weighing, When, suggest, teaching};
use crate::lesson::Lesson;
use crate::message::{Refusal, Rules, StudentId};
use crate::setup::Picking;
use crate::view::CallStage;

/// The model of a lesson's students, kept up with its events.
#[derive(Debug, Clone)]
pub(crate) struct Learned {
    model: Model,
    gatherer: Gatherer,
    began: When,
    /// When the lesson began in the book's time has been given.
    is_dated: bool,
    began_at: Moment,
    /// Keys across lessons, of students on the roster.
    keys: BTreeMap<StudentId, StudentKey>,
    suggestion: Option<Suggestion>,
    /// Something has changed since the last suggestion.
    stale: bool,
}

impl Learned {
    pub fn new(began_at: Moment, rules: &Rules) -> Self {
        let began = When::default();
        Self {
            model: Model::new(),
            gatherer: Gatherer::new(began, began_at, rules),
            began,
            is_dated: false,
            began_at,
            keys: BTreeMap::new(),
            suggestion: None,
            stale: true,
        }
    }

    /// Who this is across lessons; without a book, a key for this lesson alone.
    fn key(&self, student: StudentId) -> StudentKey {
        key_among(&self.keys, student)
    }

    fn when(&self, now: Moment) -> When {
        self.began.after(now.since(self.began_at))
    }

    /// Takes in what happened.
    fn take(&mut self, event: &LessonEvent) {
        let keys = &self.keys;
        let records = self.gatherer.take(event, |id| Some(key_among(keys, id)));
        for record in &records {
            self.model.learn(record);
        }
        match event {
            LessonEvent::RulesChanged { .. } | LessonEvent::Joined { .. } => self.stale = true,
            LessonEvent::Left {
                student, leaving, ..
            } => {
                self.stale = true;
                if matches!(leaving, Leaving::Removed | Leaving::MadeRoom) {
                    self.part_with(*student);
                }
            }
            LessonEvent::KnownAs {
                student,
                person,
                before,
                ..
            } => self.join(*student, *person, *before),
            _ => self.stale |= !records.is_empty(),
        }
    }

    /// A student is somebody known: of the book, or one who had another seat
    /// before. What is known of both is known of one.
    fn join(&mut self, student: StudentId, person: Option<StudentKey>, before: Option<StudentId>) {
        let known = person.or(before.and_then(|b| self.keys.get(&b).copied()));
        // Without a book the one key is as good as the other.
        let key = known.unwrap_or(self.key(student));
        if let Some(before) = before {
            self.know_as(before, key);
            self.keys.remove(&before);
        }
        if known.is_some() {
            self.know_as(student, key);
        }
        self.stale = true;
    }

    /// The seat is gone. What is known under a key of the book is kept, since
    /// the same person may come back in a new seat.
    fn part_with(&mut self, student: StudentId) {
        if self.keys.remove(&student).is_none() {
            self.model.forget(key_among(&self.keys, student));
        }
    }

    /// From now on the student is known under a key of the book, and the last
    /// calls of this lesson with it.
    fn know_as(&mut self, student: StudentId, key: StudentKey) {
        let own = self.keys.insert(student, key).unwrap_or(own_key(student));
        if own == key {
            return;
        }
        let mut so_far = self.recent(own);
        self.model.forget(own);
        let known = self.recent(key);
        let begins = so_far.first().map(|record| record.when);
        if known.last().map(|record| record.when) > begins && begins.is_some() {
            // The two go on beside each other: taken in anew, by time.
            self.model.forget(key);
            so_far.splice(0..0, known);
            so_far.sort_by_key(|record| record.when);
        }
        for mut record in so_far {
            record.student = key;
            self.model.learn(&record);
        }
        self.stale = true;
    }

    fn recent(&self, key: StudentKey) -> Vec<Evidence> {
        let listener = self.model.listener(key);
        listener
            .into_iter()
            .flat_map(|l| l.recent().copied())
            .collect()
    }
}

fn key_among(keys: &BTreeMap<StudentId, StudentKey>, student: StudentId) -> StudentKey {
    keys.get(&student).copied().unwrap_or(own_key(student))
}

fn own_key(student: StudentId) -> StudentKey {
    StudentKey(u128::from(student.0))
}

impl Lesson {
    /// What a lesson book knows from earlier lessons, of any students; `began`
    /// is the first moment of this lesson in the book's time, the same each
    /// time this is called. Whoever has records in the model already, of this
    /// lesson or of earlier ones, keeps those alone: so records given again
    /// are not counted twice.
    ///
    /// Give it for a whole class at the beginning, or for each student as they
    /// come, before [`Lesson::handle_student_key`]. Without it the lesson knows
    /// what it learns itself.
    ///
    /// `began` must be given before the first call is over, if need be with no
    /// evidence: what is learned before is dated by it, and fades by dates.
    ///
    /// # Errors
    ///
    /// [`Refusal::Ended`].
    pub fn handle_learning(
        &mut self,
        evidence: Vec<Evidence>,
        began: When,
        now: Moment,
    ) -> Result<(), Refusal> {
        if self.ended {
            return Err(Refusal::Ended);
        }
        let learned = &mut self.learned;
        learned.began = began;
        learned.is_dated = true;
        learned.gatherer.set_began(began);
        let mut new = evidence;
        new.retain(|record| learned.model.listener(record.student).is_none());
        new.sort_by_key(|record| record.when);
        for record in &new {
            learned.model.learn(record);
        }
        learned.stale = true;
        self.settle(now);
        Ok(())
    }

    /// Who a student is across lessons: given after the join, and after what
    /// the book knows under this key ([`Lesson::handle_learning`]). What this
    /// lesson has learned of the student's last calls so far
    /// ([`RECENT`](crate::learning::figures::RECENT)) goes with it. Without a
    /// key what is learned of the student belongs to this lesson alone.
    ///
    /// # Errors
    ///
    /// [`Refusal::Ended`]; [`Refusal::NoStudent`] for one not on the roster.
    pub fn handle_student_key(
        &mut self,
        student: StudentId,
        key: StudentKey,
        now: Moment,
    ) -> Result<(), Refusal> {
        if self.ended {
            return Err(Refusal::Ended);
        }
        self.roster.get(student).ok_or(Refusal::NoStudent)?;
        self.learned.know_as(student, key);
        self.settle(now);
        Ok(())
    }

    /// Who a student is across lessons, if that was given.
    pub fn student_key(&self, student: StudentId) -> Option<StudentKey> {
        self.learned.keys.get(&student).copied()
    }

    /// The lesson's first moment in the book's time, if that was given.
    pub fn began_when(&self) -> Option<When> {
        self.learned.is_dated.then_some(self.learned.began)
    }

    /// Keeps what happened, and learns from it.
    pub(crate) fn happened(&mut self, event: LessonEvent) {
        self.learned.take(&event);
        self.pace_takes(&event);
        self.events.push_back(event);
    }

    /// A note of the reach, as the host has it picked: for those who are here,
    /// but for the one who calls.
    pub(crate) fn pick(
        &mut self,
        caller: Option<StudentId>,
        now: Moment,
    ) -> Result<fifthpeg_core::Pitch, Refusal> {
        let pitches = self.reach.pitches();
        let pitch = match self.untold.picking {
            Picking::Random => self.picker.pick_pitch(pitches),
            Picking::Teaching => {
                let for_whom = keys_here(&self.roster, &self.learned, caller);
                let (model, when) = (&self.learned.model, self.learned.when(now));
                let weighing = Weighing::of(for_whom.len());
                teaching::pick(model, &mut self.picker, &for_whom, pitches, when, &weighing)
                    .map(|pick| pick.pitch)
            }
        };
        pitch.ok_or(Refusal::OutsideReach)
    }

    /// Looks at the reach again if something has changed; between calls only,
    /// where there is time for it and where it can be followed.
    pub(crate) fn look_at_reach(&mut self, now: Moment) {
        if !self.learned.stale || self.ended || self.stage() == Some(CallStage::Open) {
            return;
        }
        let here = keys_here(&self.roster, &self.learned, None);
        let (model, when) = (&self.learned.model, self.learned.when(now));
        let suggestion = suggest(model, &here, &self.neck, &self.rules.reach, when);
        self.learned.suggestion = Some(suggestion);
        self.learned.stale = false;
    }

    /// What is suggested for the reach; `None` while a call is open and after
    /// the end.
    pub(crate) fn suggestion(&self) -> Option<Suggestion> {
        let open = self.stage() == Some(CallStage::Open);
        self.learned.suggestion.filter(|_| !open && !self.ended)
    }

    /// A student at a glance.
    pub(crate) fn glance(&self, student: &crate::roster::Student) -> Glance {
        let open = self.stage() == Some(CallStage::Open);
        let part = student.part.as_ref().filter(|_| open);
        let active = part.is_some_and(|p| p.active || !p.answers.is_empty());
        help::glance_now(
            &self.learned.model,
            self.learned.key(student.id),
            active,
            self.learned.began,
        )
    }
}

fn keys_here(
    roster: &crate::roster::Roster,
    learned: &Learned,
    but: Option<StudentId>,
) -> Vec<StudentKey> {
    let here = roster.iter().filter(|s| s.here() && Some(s.id) != but);
    here.map(|s| learned.key(s.id)).collect()
}
