//! A lesson in memory: a host, students, and a clock that moves when told.
#![allow(dead_code, reason = "each test file uses part of it")]

pub mod script;

use std::collections::BTreeMap;
use std::time::Duration;

use fifthpeg_core::{Neck, Pitch, Position};
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::marking::Mark;
use fifthpeg_lesson::message::{
    Answer, AnswerNotice, CallId, FromStudent, Mode, PlaceKey, Refusal, Source, StudentId,
    ToStudent,
};
use fifthpeg_lesson::setup::{HostOrder, LessonSetup};
use fifthpeg_lesson::view::{CallView, LessonView, StudentView};
use fifthpeg_lesson::{Lesson, Moment};

/// The five-string banjo in open G.
pub fn banjo() -> Neck {
    Neck::ready("banjo-open-g").expect("a ready neck")
}

pub fn pitch(midi: u8) -> Pitch {
    Pitch::new(midi).expect("a MIDI number")
}

/// A place on the neck, from "string/fret".
pub fn place(text: &str) -> Position {
    text.parse().expect("a place")
}

pub fn at(text: &str) -> Answer {
    Answer::Place(place(text))
}

/// A class on the banjo, whole neck.
pub fn setup() -> LessonSetup {
    let mut setup = LessonSetup::new("Village hall, Tuesday", &banjo());
    setup.rules.reach = "whole".parse().expect("a reach");
    setup.seed = 7;
    setup
}

pub fn friends() -> LessonSetup {
    let mut setup = setup();
    setup.rules.mode = Mode::Friends;
    setup
}

/// The lesson, what came out of it, and the time.
pub struct Room {
    pub lesson: Lesson,
    pub now: Moment,
    pub inboxes: BTreeMap<StudentId, Vec<ToStudent>>,
    pub events: Vec<LessonEvent>,
    keys: u128,
}

impl Room {
    pub fn new(setup: LessonSetup) -> Self {
        let now = Moment::from_micros(1_000_000);
        let mut room = Self {
            lesson: Lesson::new(setup, now).expect("a lesson"),
            now,
            inboxes: BTreeMap::new(),
            events: Vec::new(),
            keys: 0,
        };
        room.collect();
        room
    }

    /// A room with students of these names, their inboxes emptied.
    pub fn with(setup: LessonSetup, names: &[&str]) -> (Self, Vec<StudentId>) {
        let mut room = Self::new(setup);
        let ids = names.iter().map(|n| room.join(n)).collect();
        room.inboxes.clear();
        room.events.clear();
        (room, ids)
    }

    pub fn wait(&mut self, time: Duration) {
        self.now = self.now + time;
    }

    pub fn wait_ms(&mut self, ms: u64) {
        self.wait(Duration::from_millis(ms));
    }

    pub fn time_out(&mut self) {
        self.lesson.handle_timeout(self.now);
        self.collect();
    }

    pub fn try_join(&mut self, name: &str, key: Option<PlaceKey>) -> Result<StudentId, Refusal> {
        self.keys += 1;
        let joined = self
            .lesson
            .handle_join(name, key, PlaceKey(self.keys), self.now);
        self.collect();
        joined
    }

    pub fn join(&mut self, name: &str) -> StudentId {
        self.try_join(name, None).expect("room in the lesson")
    }

    pub fn lose(&mut self, id: StudentId) {
        self.lesson.handle_disconnect(id, self.now);
        self.collect();
    }

    /// The key from the last welcome.
    pub fn key(&self, id: StudentId) -> PlaceKey {
        self.inboxes[&id]
            .iter()
            .rev()
            .find_map(|m| match m {
                ToStudent::Welcome(w) => Some(w.key),
                _ => None,
            })
            .expect("a welcome")
    }

    pub fn host(&mut self, order: HostOrder) -> Result<(), Refusal> {
        let done = self.lesson.handle_host(order, self.now);
        self.collect();
        done
    }

    pub fn order(&mut self, order: HostOrder) {
        self.host(order.clone())
            .unwrap_or_else(|r| panic!("{order:?} refused: {r}"));
    }

    pub fn say(&mut self, id: StudentId, message: FromStudent) -> Result<(), Refusal> {
        let done = self.lesson.handle_message(id, message, self.now);
        self.collect();
        done
    }

    /// Answers under the next serial, with a response time of 1.5 s.
    pub fn answer(&mut self, id: StudentId, answer: Answer) -> Result<Mark, Refusal> {
        let serial = self.student(id).answers.len() as u32 + 1;
        self.answer_as(id, serial, answer)
    }

    pub fn answer_as(
        &mut self,
        id: StudentId,
        serial: u32,
        answer: Answer,
    ) -> Result<Mark, Refusal> {
        let call = self.call().id;
        self.say(id, notice(call, serial, answer))?;
        match self.last(id) {
            Some(ToStudent::Marked {
                mark, serial: s, ..
            }) if *s == serial => Ok(*mark),
            _ => Ok(self.inboxes[&id]
                .iter()
                .rev()
                .find_map(|m| match m {
                    ToStudent::Marked {
                        mark, serial: s, ..
                    } if *s == serial => Some(*mark),
                    _ => None,
                })
                .expect("a mark")),
        }
    }

    pub fn view(&self) -> LessonView {
        self.lesson.view()
    }

    pub fn call(&self) -> CallView {
        self.view().call.expect("a call")
    }

    pub fn student(&self, id: StudentId) -> StudentView {
        let students = self.view().students;
        let found = students.into_iter().find(|s| s.id == id);
        found.expect("on the roster")
    }

    pub fn last(&self, id: StudentId) -> Option<&ToStudent> {
        self.inboxes.get(&id).and_then(|i| i.last())
    }

    pub fn inbox(&self, id: StudentId) -> &[ToStudent] {
        self.inboxes.get(&id).map_or(&[], Vec::as_slice)
    }

    pub fn collect(&mut self) {
        while let Some((id, message)) = self.lesson.poll_message() {
            self.inboxes.entry(id).or_default().push(message);
        }
        while let Some(event) = self.lesson.poll_event() {
            self.events.push(event);
        }
    }
}

/// An answer that took 1.5 s, give or take 20 ms.
pub fn notice(call: CallId, serial: u32, answer: Answer) -> FromStudent {
    FromStudent::Answer(AnswerNotice {
        call,
        serial,
        answer,
        source: Source::Screen,
        response: Some(Duration::from_millis(1500)),
        uncertainty: Duration::from_millis(20),
    })
}
