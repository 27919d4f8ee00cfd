//! Makes the view of a lesson that its host's screen shows.

use core::cmp::Reverse;

use crate::Moment;
use crate::learning::help::{Glance, Need, Search, State};
use crate::lesson::Lesson;
use crate::message::Progress;
use crate::view::{CallStage, CallView, LessonView, StudentView, TakenOutView};

impl Lesson {
    /// The lesson as it is now. Copies a few lines for each student and
    /// computes next to nothing, so it may be called after every input.
    pub fn view(&self) -> LessonView {
        LessonView {
            rules: self.rules.clone(),
            call: self.call.as_ref().map(|call| CallView {
                id: call.id,
                pitch: call.pitch,
                place: call.place,
                places: call.places.clone(),
                stage: call.stage,
                revealed: call.revealed,
                start: call.start,
                over: self.going.over,
                sounded_again: call.sounded_again,
                caller: call.caller,
            }),
            students: self.roster.iter().map(|s| self.student_view(s)).collect(),
            taken_out: self
                .roster
                .taken_out()
                .map(|out| TakenOutView {
                    id: out.id,
                    name: out.name.clone(),
                    tally: out.tally,
                })
                .collect(),
            turn: self.turn,
            calls_closed: self.calls_closed,
            ended: self.ended,
            untold: self.untold,
            pace_stopped: self.pace_stopped(),
            suggestion: self.suggestion(),
        }
    }

    fn student_view(&self, student: &crate::roster::Student) -> StudentView {
        let part = student.part.as_ref();
        StudentView {
            id: student.id,
            name: student.name.clone(),
            connected: student.here(),
            progress: part.map(|p| p.progress(student.here())),
            searching_since: part.map(|p| p.since),
            hearings: part.map_or(0, |p| p.hearings),
            tries: part.map_or(0, |p| p.tries),
            tries_played: part.map_or(0, |p| p.tries_played),
            sung: part.and_then(|p| p.sung),
            answers: part.map_or_else(Vec::new, |p| {
                p.answers.iter().map(|a| a.view.clone()).collect()
            }),
            last_try: part.and_then(|p| p.last_try),
            no_sound: part.is_some_and(|p| p.no_sound),
            microphone: student.tally.played > 0 || part.is_some_and(|p| p.tries_played > 0),
            tally: student.tally,
            glance: self.glance(student),
        }
    }
}

impl LessonView {
    /// Everyone at a glance at `now`, with the call looked at as well, until the
    /// next one: those who are here and need help first, most urgent on top, then
    /// the others in order of joining.
    pub fn glances(&self, now: Moment) -> Vec<(&StudentView, Glance)> {
        let call = self.call.as_ref();
        let mut all: Vec<_> = self
            .students
            .iter()
            .map(|student| (student, student.glance_at(student.glance, call, now)))
            .collect();
        all.sort_by_key(|(student, glance)| {
            let helped = student.connected && glance.needs_help();
            // Who has found this one can wait.
            let found = student.progress == Some(Progress::Found);
            Reverse(helped.then(|| (!found, glance.urgency())))
        });
        all
    }

    /// The call, unless it is over.
    pub fn current_call(&self) -> Option<&CallView> {
        let call = self.call.as_ref();
        call.filter(|call| call.stage != CallStage::Closed)
    }

    /// The call, while it is open.
    pub fn open_call(&self) -> Option<&CallView> {
        let call = self.call.as_ref();
        call.filter(|call| call.stage == CallStage::Open)
    }

    /// Whether all who are here and answer the open call are stuck or worse, and
    /// they are several.
    pub fn all_stuck(&self, now: Moment) -> bool {
        let mut several = 0_usize;
        let answering = |s: &&StudentView| s.connected && s.progress.is_some();
        let all = self.students.iter().filter(answering).all(|student| {
            several += 1;
            // By this call alone, however the last ones went.
            let before = Glance {
                state: State::Steady,
                ..student.glance
            };
            let glance = student.glance_at(before, self.call.as_ref(), now);
            student.progress != Some(Progress::Found) && glance.need() >= Need::Stuck
        });
        self.open_call().is_some() && all && several > 1
    }

    /// Whether everyone who is here and was there for the open call has found
    /// it, and somebody has. The call stays open until it is revealed or
    /// closed.
    pub fn all_found(&self) -> bool {
        let mut found = 0_usize;
        let all = self
            .students
            .iter()
            .filter_map(|s| s.progress)
            .filter(|p| *p != Progress::Away)
            .all(|p| {
                found += usize::from(p == Progress::Found);
                p == Progress::Found
            });
        self.open_call().is_some() && all && found > 0
    }
}

impl StudentView {
    /// Wrong answers to this call.
    pub fn wrong(&self) -> u32 {
        let wrong = self.answers.iter().filter(|a| !a.mark.is_right());
        u32::try_from(wrong.count()).unwrap_or(u32::MAX)
    }

    /// The student at a glance at `now`: what is known from before, with this call.
    fn glance_at(&self, before: Glance, call: Option<&CallView>, now: Moment) -> Glance {
        let searching = match self.progress {
            Some(Progress::Silent | Progress::NoSound | Progress::Searching | Progress::Missed) => {
                call
            }
            _ => None,
        };
        let far = self.answers.last().is_some_and(|last| last.mark.is_far());
        searching.map_or(before, |call| {
            before.searching(Search {
                tries: self.tries,
                hearings: self.hearings,
                wrong: self.wrong(),
                far,
                silent: matches!(self.progress, Some(Progress::Silent | Progress::NoSound)),
                lasted: {
                    let over = call.over.unwrap_or(now);
                    over.since(self.searching_since.unwrap_or(call.start))
                },
            })
        })
    }
}
