//! Who is in the lesson.

use std::collections::VecDeque;

use crate::Moment;
use crate::call::Part;
use crate::message::{Refusal, SeatKey, StudentId};
use crate::names::{self, Looks};
use crate::past::Past;
use crate::tally::Tally;
use crate::times::Times;

/// Those taken out that a lesson remembers. No host takes out as many.
pub const MAX_TAKEN_OUT: usize = 1000;

/// One student of the roster.
#[derive(Debug, Clone)]
pub(crate) struct Student {
    pub id: StudentId,
    pub name: String,
    pub key: SeatKey,
    pub presence: Presence,
    pub tally: Tally,
    /// Answers to all calls so far.
    pub answers_ever: u32,
    /// Response times of found calls, for the tally's median.
    pub times: Times,
    /// The student's part in the last call, if there for it.
    pub part: Option<Part>,
    /// What came of answers to calls before the last.
    pub past: Past,
}

/// One whom the host took out: what keeps them out, and what they did.
#[derive(Debug, Clone)]
pub(crate) struct TakenOut {
    pub id: StudentId,
    pub name: String,
    pub tally: Tally,
    key: SeatKey,
}

/// Whether a student is here.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Presence {
    Here,
    /// Connection lost, expected back.
    Away {
        since: Moment,
    },
    /// Left on purpose.
    Gone {
        since: Moment,
    },
}

impl Student {
    pub fn here(&self) -> bool {
        self.presence == Presence::Here
    }
}

/// The students in order of joining.
#[derive(Debug, Clone)]
pub(crate) struct Roster {
    students: Vec<Student>,
    last_id: u32,
    max: u32,
    /// Those whom the host took out, oldest first; at most [`MAX_TAKEN_OUT`].
    taken_out: VecDeque<TakenOut>,
    /// Of the names on the roster.
    looks: Looks,
}

impl Roster {
    pub fn new(max: u32) -> Self {
        Self {
            students: Vec::new(),
            last_id: 0,
            max: max.max(1),
            taken_out: VecDeque::new(),
            looks: Looks::default(),
        }
    }

    pub fn iter(&self) -> core::slice::Iter<'_, Student> {
        self.students.iter()
    }

    pub fn iter_mut(&mut self) -> core::slice::IterMut<'_, Student> {
        self.students.iter_mut()
    }

    pub fn get(&self, id: StudentId) -> Option<&Student> {
        let index = self.index(id)?;
        self.students.get(index)
    }

    pub fn get_mut(&mut self, id: StudentId) -> Option<&mut Student> {
        let index = self.index(id)?;
        self.students.get_mut(index)
    }

    /// Numbers grow in order of joining.
    fn index(&self, id: StudentId) -> Option<usize> {
        self.students.binary_search_by_key(&id, |s| s.id).ok()
    }

    /// The student with this key; the newest, should a driver have used one
    /// key twice.
    pub fn by_key(&self, key: SeatKey) -> Option<StudentId> {
        self.students
            .iter()
            .rev()
            .find(|s| s.key == key)
            .map(|s| s.id)
    }

    /// Adds a student under a name of their own. A full roster makes room if
    /// it can, and says whose seat was given up.
    pub fn add(
        &mut self,
        name: &str,
        key: SeatKey,
    ) -> Result<(StudentId, Option<StudentId>), Refusal> {
        let name = names::tidy(name)?;
        if self
            .taken_out
            .iter()
            .any(|out| names::are_alike(&out.name, &name))
        {
            return Err(Refusal::TakenOut);
        }
        let id = StudentId(self.last_id.checked_add(1).ok_or(Refusal::Full(self.max))?);
        let mut given_up = None;
        if self.students.len() >= self.max as usize {
            let longest_gone = self.spare().ok_or(Refusal::Full(self.max))?;
            self.remove(longest_gone);
            given_up = Some(longest_gone);
        }
        let name = self.looks.unlike(&name);
        self.looks.add(&name);
        self.last_id = id.0;
        self.students.push(Student {
            id,
            name,
            key,
            presence: Presence::Here,
            tally: Tally::default(),
            answers_ever: 0,
            times: Times::default(),
            part: None,
            past: Past::default(),
        });
        Ok((id, given_up))
    }

    /// Takes a student off the roster for good.
    pub fn take_out(&mut self, id: StudentId) {
        if let Some(student) = self.remove(id) {
            if self.taken_out.len() == MAX_TAKEN_OUT {
                self.taken_out.pop_front();
            }
            self.taken_out.push_back(TakenOut {
                id,
                name: student.name,
                tally: student.tally,
                key: student.key,
            });
        }
    }

    pub fn is_taken_out(&self, key: SeatKey) -> bool {
        self.taken_out.iter().any(|out| out.key == key)
    }

    /// Those whom the host took out, as far as is remembered.
    pub fn taken_out(&self) -> impl Iterator<Item = &TakenOut> {
        self.taken_out.iter()
    }

    pub fn remove(&mut self, id: StudentId) -> Option<Student> {
        let index = self.index(id)?;
        let student = self.students.remove(index);
        self.looks.remove(&student.name);
        Some(student)
    }

    /// Makes the seat `before` part of this student's, who has the name from
    /// now on, or one that differs where somebody else looks like it; gives
    /// back the name and the sums. `unclosed` says whether a call is.
    pub fn join(
        &mut self,
        id: StudentId,
        before: Option<StudentId>,
        name: &str,
        unclosed: bool,
    ) -> Option<(String, Tally)> {
        self.index(id)?;
        let before = before.and_then(|before| self.remove(before));
        let index = self.index(id)?;
        let student = self.students.get_mut(index)?;
        self.looks.remove(&student.name);
        student.name = self.looks.unlike(name);
        self.looks.add(&student.name);
        if let Some(before) = before {
            student.tally.join(before.tally);
            // A call that is not closed yet counts when it is, for who is on the roster.
            let missed = unclosed && before.part.is_some_and(|part| !part.found);
            student.tally.calls += u32::from(missed);
            student.answers_ever = student.answers_ever.saturating_add(before.answers_ever);
            student.times.join(before.times);
            student.tally.median = student.times.median();
        }
        Some((student.name.clone(), student.tally))
    }

    /// Whose seat a full roster gives up for a newcomer: the longest gone of
    /// those who left; else the longest away of those who never answered.
    fn spare(&self) -> Option<StudentId> {
        let left = self.students.iter().filter_map(|s| match s.presence {
            Presence::Gone { since } => Some((since, s.id)),
            _ => None,
        });
        let idle = self.students.iter().filter_map(|s| match s.presence {
            Presence::Away { since } if s.answers_ever == 0 => Some((since, s.id)),
            _ => None,
        });
        left.min().or_else(|| idle.min()).map(|(_, id)| id)
    }

    /// The next student in order of joining who is here, beginning behind
    /// `after` and coming round to it last.
    pub fn next_here(&self, after: Option<StudentId>) -> Option<StudentId> {
        // Numbers grow in order of joining, so this holds even if the student
        // named is no longer on the roster.
        let behind = |s: &&Student| after.is_none_or(|a| s.id > a);
        let here = || self.students.iter().filter(|s| s.here());
        here().find(behind).or_else(|| here().next()).map(|s| s.id)
    }
}
