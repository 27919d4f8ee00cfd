//! The picture of a lesson that its host's screen shows.

use crate::lesson::Lesson;
use crate::message::Progress;
use crate::view::{CallStage, CallView, LessonView, StudentView};

impl Lesson {
    /// The lesson as it is now. Copies a few lines for each student and
    /// computes nothing, so it may be called after every input.
    pub fn view(&self) -> LessonView {
        LessonView {
            rules: self.rules.clone(),
            call: self.call.as_ref().map(|call| CallView {
                id: call.id,
                pitch: call.pitch,
                place: call.place,
                places: call.places.clone(),
                stage: call.stage,
                start: call.start,
                sounded_again: call.sounded_again,
                caller: call.caller,
            }),
            students: self.roster.iter().map(student_view).collect(),
            turn: self.turn,
            calls_closed: self.calls_closed,
            ended: self.ended,
        }
    }
}

fn student_view(student: &crate::roster::Student) -> StudentView {
    let part = student.part.as_ref();
    StudentView {
        id: student.id,
        name: student.name.clone(),
        connected: student.here(),
        progress: part.map(|p| p.progress(student.here())),
        hearings: part.map_or(0, |p| p.hearings),
        tries: part.map_or(0, |p| p.tries),
        tries_played: part.map_or(0, |p| p.tries_played),
        sung: part.and_then(|p| p.sung),
        answers: part.map_or_else(Vec::new, |p| {
            p.answers.iter().map(|a| a.view.clone()).collect()
        }),
        last_try: part.and_then(|p| p.last_try),
        tally: student.tally,
    }
}

impl LessonView {
    /// Whether everyone who is here and was there for the open call has found
    /// it, and somebody has. The call stays open until it is revealed or
    /// closed.
    pub fn all_found(&self) -> bool {
        let open = matches!(&self.call, Some(c) if c.stage == CallStage::Open);
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
        open && all && found > 0
    }
}
