//! From an input to all that comes of it.

use fifthpeg_book::BatchNumber;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::event::{Leaving, LessonEvent};
use fifthpeg_lesson::input::LessonInput;
use fifthpeg_lesson::message::{Refusal, StudentId};

use super::commit_gate::Out;
use super::journal::Journal;
use super::{Engine, StudentConnection, Todo};
use crate::Notice;

impl Engine {
    /// Gives the lesson one input: the only way into it, so that the book holds
    /// all that the lesson took in.
    pub(super) fn give(
        &mut self,
        input: LessonInput,
        now: Moment,
    ) -> Result<Option<StudentId>, Refusal> {
        let kept = self.journal.as_ref().map(|_| input.clone());
        self.given += 1;
        let done = self.lesson.apply(input, now);
        if let (Some(journal), Some(input)) = (&mut self.journal, kept)
            // A refused join has changed nothing.
            && (done.is_ok() || !matches!(input, LessonInput::Join { .. }))
        {
            journal.note_input(now, input);
        }
        self.drain();
        done
    }

    /// Takes what the lesson says, before it is given anything else.
    pub(super) fn drain(&mut self) {
        while let Some(said) = self.lesson.poll_message() {
            self.said.push(said);
        }
        while let Some(event) = self.lesson.poll_event() {
            if let Some(journal) = &mut self.journal {
                journal.note_event(event.clone());
            }
            self.happened.push(event);
        }
    }

    /// Has what was taken in written down, and hands out everything the lesson
    /// said.
    pub(super) fn pass_on(&mut self, now: Moment) {
        while !(self.said.is_empty() && self.happened.is_empty()) {
            let ticket = self.store();
            let mut free = Vec::new();
            for (student, message) in std::mem::take(&mut self.said) {
                self.finds.note(student, &message, ticket);
                let out = Out::Message(message);
                let out = self.commit_gate.put(student, out, ticket, now);
                free.extend(out.map(|out| (student, out)));
                if self.commit_gate.is_too_much(student) {
                    self.drop_slow(student, now);
                }
            }
            self.hand_out(free);
            for event in std::mem::take(&mut self.happened) {
                self.heed(&event, ticket, now);
                self.todo.push_back(Todo::Event(event));
            }
        }
        // Time that passed and changed nothing is written down as well.
        self.store();
    }

    /// The ticket that stands for all that was noted so far.
    fn store(&mut self) -> Option<BatchNumber> {
        let journal = self.journal.as_mut()?;
        if let Some((ticket, batch)) = journal.batch() {
            self.todo.push_back(Todo::Store(ticket, batch));
        }
        journal.last()
    }

    /// Gives what may go to the connections. A student without one gets what it
    /// missed when it is back.
    pub(super) fn hand_out(&mut self, free: Vec<(StudentId, Out)>) {
        for (student, out) in free {
            let Some(&connection) = self.connections.get(&student) else {
                continue;
            };
            let seat = StudentConnection {
                student,
                connection,
            };
            match out {
                Out::Message(message) => self.todo.push_back(Todo::Send(seat, message)),
                Out::Leave => {
                    self.connections.remove(&student);
                    self.todo.push_back(Todo::Leave(seat));
                }
            }
        }
    }

    /// Gives up the connection of a student for whom too much waits.
    fn drop_slow(&mut self, student: StudentId, now: Moment) {
        let name = self.name_of(student);
        self.tell(Notice::Slow { name });
        self.cut(student);
        self.lose(student, now);
    }

    fn cut(&mut self, student: StudentId) {
        self.commit_gate.forget(student);
        if let Some(connection) = self.connections.remove(&student) {
            self.todo.push_back(Todo::Cut(StudentConnection {
                student,
                connection,
            }));
        }
    }

    /// The student's connection is gone.
    pub(super) fn lose(&mut self, student: StudentId, now: Moment) {
        self.connections.remove(&student);
        self.commit_gate.forget(student);
        self.disconnect(student, now);
    }

    pub(super) fn disconnect(&mut self, student: StudentId, now: Moment) {
        // Nothing to refuse.
        let _ = self.give(LessonInput::Disconnect { student }, now);
    }

    fn heed(&mut self, event: &LessonEvent, ticket: Option<BatchNumber>, now: Moment) {
        match event {
            LessonEvent::HostSound { tone, start, .. } => {
                self.todo.push_back(Todo::Sound(*tone, *start));
            }
            LessonEvent::Left {
                student, leaving, ..
            } => match leaving {
                // Its connection went first, and may be back already.
                Leaving::Lost => {}
                Leaving::FellBehind => {
                    self.tell(Notice::Slow {
                        name: self.name_of(*student),
                    });
                    self.cut(*student);
                }
                Leaving::Left | Leaving::Removed | Leaving::MadeRoom => {
                    self.quota.forget(*student);
                    let out = self.commit_gate.put(*student, Out::Leave, ticket, now);
                    self.hand_out(out.map(|out| (*student, out)).into_iter().collect());
                }
            },
            LessonEvent::KnownAs {
                before: Some(before),
                ..
            } => {
                self.quota.forget(*before);
                let out = self.commit_gate.put(*before, Out::Leave, ticket, now);
                self.hand_out(out.map(|out| (*before, out)).into_iter().collect());
            }
            LessonEvent::CallMade { .. } => self.quota.begin_again(),
            LessonEvent::Ended { .. } => self.ended = true,
            _ => {}
        }
    }

    /// Whether everything noted is told of as stored.
    pub fn is_all_stored(&self) -> bool {
        self.journal.as_ref().is_none_or(Journal::is_all_stored)
    }
    /// The most messages that wait for the book for any one student.
    pub fn most_held(&self) -> usize {
        self.commit_gate.most()
    }
}
