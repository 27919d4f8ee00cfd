//! Lessons of friends: whose turn it is to call, and what happens when
//! somebody is not there.
//!
//! The friends who are here call in order of joining. The turn passes when a
//! call is revealed, or closed unrevealed; the next friend may then pick, which
//! closes a revealed call. A call is revealed by itself once everyone who is to
//! answer it has found it. A friend who leaves passes the turn at once; one
//! whose connection is lost is waited for [`AWAY_GRACE`], both as caller and
//! as one who has not found the note yet.

use core::time::Duration;

use crate::Moment;
use crate::event::LessonEvent;
use crate::lesson::Lesson;
use crate::message::{Mode, Progress, StudentId, ToStudent};
use crate::roster::{Presence, Student};
use crate::view::CallStage;

/// How long a lost connection is waited for before the friends go on.
pub const AWAY_GRACE: Duration = Duration::from_secs(15);

impl Lesson {
    /// When [`Lesson::handle_timeout`] has something to do next, if nothing
    /// else happens.
    pub fn next_deadline(&self) -> Option<Moment> {
        if self.ended {
            return None;
        }
        let friends = self.rules.mode == Mode::Friends;
        let open = self.stage() == Some(CallStage::Open) && (friends || self.shows_found());
        let lost = self
            .roster
            .iter()
            .filter(|s| (friends && self.turn == Some(s.id)) || (open && searching(s)))
            .filter_map(|s| match s.presence {
                Presence::Away { since } => Some(since + AWAY_GRACE),
                _ => None,
            })
            .filter(|deadline| *deadline > self.settled);
        lost.chain(self.pace_due()).min()
    }

    /// Does what has become due: among friends, reveals a call that waits for
    /// nobody and passes a turn that nobody takes.
    pub(crate) fn settle(&mut self, now: Moment) {
        self.settled = self.settled.max(now);
        self.settle_turns(now);
        if self.shows_found()
            && self.rules.mode == Mode::Class
            && self.stage() == Some(CallStage::Open)
            && self.all_found(now)
        {
            self.reveal(now);
        }
        self.settle_pace(now);
        self.look_at_reach(now);
    }

    fn settle_turns(&mut self, now: Moment) {
        if self.rules.mode != Mode::Friends || self.ended {
            return;
        }
        // Before the reveal, so that the caller sees who found it.
        self.tell_progress(now);
        if self.stage() == Some(CallStage::Open)
            && (!self.expected(self.turn, now) || self.all_found(now))
        {
            self.reveal(now);
        }
        if self.stage() != Some(CallStage::Open) && !self.expected(self.turn, now) {
            self.pass_turn(now);
        }
        self.tell_progress(now);
    }

    /// The next friend calls.
    pub(crate) fn pass_turn(&mut self, now: Moment) {
        if self.rules.mode != Mode::Friends || self.ended {
            return;
        }
        let next = self.roster.next_here(self.turn);
        if next == self.turn {
            return;
        }
        self.turn = next;
        self.happened(LessonEvent::Turn {
            at: now,
            student: next,
        });
        let ids: Vec<StudentId> = self.roster.iter().map(|s| s.id).collect();
        for id in ids {
            self.tell_turn_to(id, now);
        }
    }

    /// Tells one friend whose turn it is.
    pub(crate) fn tell_turn_to(&mut self, id: StudentId, now: Moment) {
        let Some(caller) = self.turn.and_then(|t| self.roster.get(t)) else {
            return;
        };
        let turn = ToStudent::Turn {
            caller: caller.name.clone(),
            yours: caller.id == id,
        };
        self.send(id, turn, now);
    }

    /// Tells friends that one of them has gone for good. Nobody in a class needs
    /// to know.
    pub(crate) fn tell_friend_left(&mut self, name: String, now: Moment) {
        if self.rules.mode == Mode::Friends {
            self.send_all(now, |_| ToStudent::FriendLeft { name: name.clone() });
        }
    }

    /// Tells the caller how far the others are, if that has changed.
    fn tell_progress(&mut self, now: Moment) {
        let Some(call) = self.call.as_ref().filter(|c| c.stage == CallStage::Open) else {
            return;
        };
        let (id, caller) = (call.id, call.caller);
        let students: Vec<(String, Progress)> = self
            .roster
            .iter()
            .filter_map(|s| {
                let part = s.part.as_ref()?;
                Some((s.name.clone(), part.progress(s.here())))
            })
            .collect();
        let Some(caller) = caller.filter(|_| students != self.told_progress) else {
            return;
        };
        self.told_progress.clone_from(&students);
        self.send(caller, ToStudent::Progress { call: id, students }, now);
    }

    /// Whether this student is here, or may come back any moment.
    fn expected(&self, id: Option<StudentId>, now: Moment) -> bool {
        id.and_then(|id| self.roster.get(id))
            .is_some_and(|s| waited_for(s, now))
    }

    /// Whether somebody found the note and nobody is left to wait for.
    fn all_found(&self, now: Moment) -> bool {
        let anybody = self
            .roster
            .iter()
            .any(|s| s.part.as_ref().is_some_and(|p| p.found));
        anybody
            && !self
                .roster
                .iter()
                .any(|s| searching(s) && waited_for(s, now))
    }
}

fn searching(student: &Student) -> bool {
    student.part.as_ref().is_some_and(|p| !p.found)
}

fn waited_for(student: &Student, now: Moment) -> bool {
    match student.presence {
        Presence::Here => true,
        Presence::Away { since } => now < since + AWAY_GRACE,
        Presence::Gone { .. } => false,
    }
}
