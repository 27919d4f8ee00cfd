//! Evidence from a lesson as it goes: [`LessonEvent`]s in, one record for each
//! student out when a call is over.

use core::time::Duration;
use std::collections::BTreeMap;

use fifthpeg_core::{Neck, Pitch, Reach};

use super::evidence::{Confusion, Evidence, Outcome, StudentKey, When};
use crate::Moment;
use crate::event::LessonEvent;
use crate::marking::{Mark, MissKind};
use crate::message::{CallId, Rules, StudentId};

/// Gathers the evidence of one lesson.
#[derive(Debug, Clone)]
pub struct Gatherer {
    began: When,
    began_at: Moment,
    /// Notes in the reach now in force.
    reach_size: u16,
    open: Option<Open>,
}

/// The call that still takes answers.
#[derive(Debug, Clone)]
struct Open {
    call: CallId,
    pitch: Pitch,
    reach_size: u16,
    at: Moment,
    parts: BTreeMap<StudentId, Part>,
}

/// What one student has done in it.
#[derive(Debug, Clone, Copy, Default)]
struct Part {
    hearings: u32,
    tries: u32,
    answered: bool,
    found_first: bool,
    found: bool,
    response: Option<Duration>,
    miss: Option<Confusion>,
}

impl Gatherer {
    /// For a lesson whose first moment is `began_at` on the host's clock and
    /// `began` in the book's time.
    pub fn new(began: When, began_at: Moment, rules: &Rules) -> Self {
        Self {
            began,
            began_at,
            reach_size: reach_size(rules),
            open: None,
        }
    }

    /// Puts right when the lesson began in the book's time.
    pub fn set_began(&mut self, began: When) {
        self.began = began;
    }

    /// Takes in what happened next. When that reveals a call, or closes it
    /// unrevealed, comes back with a record for each student who had a part in
    /// it and whose key `key_of` knows; otherwise with none. What comes after
    /// the reveal is no search any more.
    ///
    /// Hearings and tries count up to the first answer. A right pitch at
    /// another place than the one asked for was heard rightly, and counts as
    /// found.
    pub fn take(
        &mut self,
        event: &LessonEvent,
        key_of: impl Fn(StudentId) -> Option<StudentKey>,
    ) -> Vec<Evidence> {
        match event {
            LessonEvent::Began { rules, .. } | LessonEvent::RulesChanged { rules, .. } => {
                self.reach_size = reach_size(rules);
            }
            LessonEvent::CallMade {
                at,
                call,
                pitch,
                present,
                ..
            } => {
                self.open = Some(Open {
                    call: *call,
                    pitch: *pitch,
                    reach_size: self.reach_size,
                    at: *at,
                    parts: present.iter().map(|s| (*s, Part::default())).collect(),
                });
            }
            LessonEvent::Heard {
                student,
                call,
                free: false,
                ..
            } => self.part(*call, *student, |part| {
                part.hearings = part.hearings.saturating_add(1);
            }),
            LessonEvent::Tried { student, call, .. } => self.part(*call, *student, |part| {
                part.tries = part.tries.saturating_add(1);
            }),
            LessonEvent::Answered {
                student,
                call,
                mark,
                response,
                ..
            } => self.answered(*call, *student, *mark, *response),
            LessonEvent::Revealed { call, .. } | LessonEvent::Closed { call, .. } => {
                if let Some(open) = self.open.take_if(|open| open.call == *call) {
                    return self.close(&open, key_of);
                }
            }
            _ => {}
        }
        Vec::new()
    }

    /// A student's part in this call, up to the first answer. Who joined after
    /// the call was made has one as well.
    fn part(&mut self, call: CallId, student: StudentId, change: impl FnOnce(&mut Part)) {
        let Some(open) = self.open.as_mut().filter(|open| open.call == call) else {
            return;
        };
        let part = open.parts.entry(student).or_default();
        if !part.answered {
            change(part);
        }
    }

    fn answered(
        &mut self,
        call: CallId,
        student: StudentId,
        mark: Mark,
        response: Option<Duration>,
    ) {
        let kind = match mark {
            Mark::Right => None,
            Mark::Missed(miss) => miss.kind,
        };
        let right = mark.is_right() || kind == Some(MissKind::OtherPlace);
        self.part(call, student, |part| {
            part.answered = true;
            part.found_first = right;
            part.response = response;
            part.miss = kind.and_then(Confusion::of);
        });
        let open = self.open.as_mut().filter(|open| open.call == call);
        if let Some(part) = open.and_then(|open| open.parts.get_mut(&student)) {
            part.found |= right;
        }
    }

    fn close(
        &self,
        open: &Open,
        key_of: impl Fn(StudentId) -> Option<StudentKey>,
    ) -> Vec<Evidence> {
        let record = |(student, part): (&StudentId, &Part)| {
            let searched = part.answered || part.tries > 0 || part.hearings > 0;
            Some(Evidence {
                student: key_of(*student)?,
                pitch: open.pitch,
                reach_size: open.reach_size,
                outcome: match (part.found_first, part.found) {
                    (true, _) => Outcome::FoundFirst,
                    (false, true) => Outcome::FoundLater,
                    (false, false) if searched => Outcome::NotFound,
                    (false, false) => Outcome::Silent,
                },
                hearings: part.hearings,
                tries: part.tries,
                response: part.response,
                miss: part.miss,
                when: self.began.after(open.at.since(self.began_at)),
            })
        };
        open.parts.iter().filter_map(record).collect()
    }
}

/// How many notes the reach of these rules holds; two, the fewest there can
/// be, if they make no reach, which a lesson refuses.
fn reach_size(rules: &Rules) -> u16 {
    let size = Neck::build(rules.neck.clone())
        .ok()
        .and_then(|neck| Reach::resolve(&neck, &rules.reach).ok())
        .map_or(2, |reach| reach.pitches().len());
    u16::try_from(size).unwrap_or(u16::MAX)
}
