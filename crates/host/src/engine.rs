//! The host's engine: what becomes of everything that reaches a lesson.
//!
//! It gives the lesson its inputs, has them written down, holds back what
//! promises something until that is done, hands out what may go, and heeds what
//! happened. It has no thread, no socket and no clock: moments come in with what
//! happens, and what is to be done comes out of [`Engine::poll`]. The lesson's
//! task (`lesson_task`) drives it between sockets and the book; a simulation
//! drives the same in virtual time.
//!
//! # Driving it
//! - Once at first: [`Engine::begin`].
//! - After every `handle_*`: do what each [`Engine::poll`] says, in order, and
//!   tell [`Engine::handle_not_taken`] of what a connection does not take.
//! - At [`Engine::next_deadline`]: [`Engine::handle_timeout`].
//! - What the book says of the batches goes to [`Engine::handle_report`].
//! - Where earlier lessons can be asked for: [`Engine::recall`] before
//!   [`Engine::begin`].

mod book;
mod commit_gate;
mod dispatch;
mod finds;
mod journal;
mod quota;
mod recall;
#[cfg(test)]
mod tests;

use core::time::Duration;
use std::collections::{BTreeMap, VecDeque};

use fifthpeg_book::{Batch, BatchNumber};
use fifthpeg_core::text::tamed;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::input::LessonInput;
use fifthpeg_lesson::message::{
    AnswerNotice, FromStudent, Refusal, SeatKey, StudentId, ToStudent, Tone,
};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::{Lesson, Moment};

use crate::{BookState, Notice};
use commit_gate::CommitGate;
use finds::Finds;
use journal::Journal;
use quota::Quota;

pub use commit_gate::MOST_HELD;
pub use quota::{ANSWERS_BEYOND, BURST, MESSAGES_PER_CALL};

/// How long the book may take before what promises nothing goes ahead: well
/// within the lead that a call's start is named with.
pub const SLOW_BOOK: Duration = Duration::from_millis(100);

/// One connection's number in this process.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ConnectionId(pub u64);

/// A student with the connection over which it is in the lesson.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct StudentConnection {
    /// Who.
    pub student: StudentId,
    /// Over which connection.
    pub connection: ConnectionId,
}

/// Who wants in, or back.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JoinRequest {
    /// The name asked for, or the one that goes with a class key.
    pub name: String,
    /// A class key has proved that it is who has that name.
    pub by_class_key: bool,
    /// The key of an old seat.
    pub key: Option<SeatKey>,
    /// A key nobody can guess, for a new seat; the asker's own, and the same if
    /// it has to ask again.
    pub new_key: SeatKey,
}

/// Why a connection ended, where it is worth telling.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum GoneWhy {
    /// Nothing was heard from it.
    Silent {
        /// For how long, in seconds.
        seconds: u64,
    },
    /// It sent what no terminal sends.
    Confused {
        /// What was wrong.
        what: String,
    },
    /// It did not take what was written to it.
    Slow,
    /// What the lesson has to say goes beyond what a frame may hold.
    Unsendable {
        /// Which limit.
        what: String,
    },
}

/// Why a connection took no message.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotTaken {
    /// It has ended.
    Closed,
    /// Too much waits for it already; it has been cut.
    Slow,
}

/// What is to be done, in the order in which it is polled.
#[derive(Debug, Clone)]
pub enum Todo {
    /// Have this stored; batches come with their tickets in order, from 1.
    Store(BatchNumber, Batch),
    /// Send this.
    Send(StudentConnection, ToStudent),
    /// Close the connection once everything sent to it is written.
    Leave(StudentConnection),
    /// Close the connection at once.
    Cut(StudentConnection),
    /// Sound this on the host's speakers.
    Sound(Tone, Moment),
    /// Tell whoever looks on what happened in the lesson.
    Event(LessonEvent),
    /// Tell whoever holds the lesson.
    Notice(Notice),
    /// Show that it stands so with the book now.
    Book(BookState),
    /// Ask the book who this is and what is known of earlier lessons, and give
    /// what it says to [`Engine::handle_recalled`].
    Recall(StudentId, String),
}

/// The engine; see the module.
#[derive(Debug)]
pub struct Engine {
    lesson: Lesson,
    connections: BTreeMap<StudentId, ConnectionId>,
    commit_gate: CommitGate,
    finds: Finds,
    quota: Quota,
    journal: Option<Journal>,
    book: BookState,
    /// From the lesson, not handed out yet.
    said: Vec<(StudentId, ToStudent)>,
    happened: Vec<LessonEvent>,
    todo: VecDeque<Todo>,
    /// Earlier lessons are asked for.
    recalls: bool,
    /// Why they could not be read, as told last.
    not_recalled: Option<String>,
    given: u64,
    ended: bool,
}

impl Engine {
    /// Around a lesson that has been given nothing yet, or has been taken up
    /// again. Batches are made if the book is [`BookState::Writing`].
    pub fn new(lesson: Lesson, book: BookState) -> Self {
        let journal = (book == BookState::Writing).then(Journal::default);
        Self {
            lesson,
            connections: BTreeMap::new(),
            commit_gate: CommitGate::default(),
            finds: Finds::default(),
            quota: Quota::default(),
            journal,
            book,
            said: Vec::new(),
            happened: Vec::new(),
            todo: VecDeque::new(),
            recalls: false,
            not_recalled: None,
            given: 0,
            ended: false,
        }
    }

    /// The lesson.
    pub fn lesson(&self) -> &Lesson {
        &self.lesson
    }

    /// How it stands with the lesson book.
    pub fn book(&self) -> &BookState {
        &self.book
    }

    /// Whether it is over.
    pub fn is_ended(&self) -> bool {
        self.ended
    }

    /// How many inputs the lesson was given: where this stands still, what it
    /// shows is the same.
    pub fn inputs_given(&self) -> u64 {
        self.given
    }

    /// The connection of a student who has one.
    pub fn connection_of(&self, student: StudentId) -> Option<ConnectionId> {
        self.connections.get(&student).copied()
    }

    /// Whether something for a student waits to be written down, such as the welcome.
    pub fn waits_for_book(&self, student: StudentId) -> bool {
        self.commit_gate.waits_for(student)
    }

    /// Who has found a note and may not be told so yet, since the book does not have it.
    pub fn untold_finds(&self) -> Vec<StudentId> {
        self.finds.untold()
    }

    /// The next thing to be done.
    pub fn poll(&mut self) -> Option<Todo> {
        self.todo.pop_front()
    }

    /// When [`Engine::handle_timeout`] is due.
    pub fn next_deadline(&self) -> Option<Moment> {
        let slow = self.slow_at();
        [self.lesson.next_deadline(), slow]
            .into_iter()
            .flatten()
            .min()
    }

    fn slow_at(&self) -> Option<Moment> {
        self.commit_gate
            .waits_since()
            .map(|since| since + SLOW_BOOK)
    }

    /// In a lesson taken up again nobody is connected yet.
    pub fn begin(&mut self, now: Moment) {
        if self.lesson.is_perhaps_unsounded() {
            self.tell(Notice::PerhapsUnsounded);
        }
        self.drain();
        for student in self.lesson.view().students {
            self.commit_gate.note_sums(student.id, student.tally);
        }
        for student in self.lesson.connected() {
            self.disconnect(student, now);
        }
        self.pass_on(now);
    }

    /// Someone asks over `connection` to be let in, and is, or is not.
    ///
    /// # Errors
    /// The lesson's refusal, for the connection to be told.
    pub fn handle_join(
        &mut self,
        asking: JoinRequest,
        connection: ConnectionId,
        now: Moment,
    ) -> Result<StudentId, Refusal> {
        let JoinRequest {
            name,
            by_class_key,
            mut key,
            new_key,
        } = asking;
        let shown = tamed(&name);
        if by_class_key && key.is_none() {
            key = self.seat_of(&name);
        }
        let joined = self
            .give(LessonInput::Join { name, key, new_key }, now)
            .and_then(|student| student.ok_or(Refusal::UnknownSeat));
        match &joined {
            Ok(student) => {
                // What was for the connection before went with it.
                self.commit_gate.forget(*student);
                self.seat(*student, connection);
                self.ask_who_that_is(*student);
            }
            Err(why) => self.tell(Notice::TurnedAway {
                name: shown,
                why: why.to_string(),
            }),
        }
        self.pass_on(now);
        joined
    }

    /// The key of the seat that somebody of this name has left, for who has
    /// proved to be that.
    fn seat_of(&mut self, name: &str) -> Option<SeatKey> {
        let student = self.lesson.student_named(name)?;
        if self.lesson.connected().contains(&student) {
            let name = self.name_of(student);
            self.tell(Notice::HereTwice { name });
            return None;
        }
        self.lesson.seat_key(student)
    }

    /// A former connection of the same student is cut: the terminal has come
    /// back before the old connection was noticed to be dead.
    fn seat(&mut self, student: StudentId, connection: ConnectionId) {
        if let Some(connection) = self.connections.insert(student, connection) {
            self.todo.push_back(Todo::Cut(StudentConnection {
                student,
                connection,
            }));
        }
    }

    /// A student says something. What comes over a connection that is not the
    /// student's any more is left out.
    pub fn handle_message(&mut self, from: StudentConnection, message: FromStudent, now: Moment) {
        if self.is_current(from) {
            let student = from.student;
            if !self.quota.takes(student, &message) {
                let name = self.name_of(student);
                self.tell(Notice::TooMuch { name });
                if let FromStudent::Answer(AnswerNotice { call, serial, .. }) = message {
                    let why = Refusal::SaidTooMuch;
                    self.said
                        .push((student, ToStudent::AnswerRefused { call, serial, why }));
                    self.pass_on(now);
                }
                return;
            }
            // A refusal has been queued for the student by the lesson.
            let _ = self.give(LessonInput::Message { student, message }, now);
            self.pass_on(now);
        }
    }

    /// A student sends more than the limit.
    pub fn handle_too_fast(&mut self, student: StudentId) {
        let name = self.name_of(student);
        self.tell(Notice::TooFast { name });
    }

    /// A connection has ended by itself.
    pub fn handle_gone(&mut self, seat: StudentConnection, why: Option<GoneWhy>, now: Moment) {
        if let Some(why) = why {
            let name = self.name_of(seat.student);
            self.tell(match why {
                GoneWhy::Silent { seconds } => Notice::Silent { name, seconds },
                GoneWhy::Confused { what } => Notice::Confused { name, what },
                GoneWhy::Slow => Notice::Slow { name },
                GoneWhy::Unsendable { what } => Notice::Unsendable { name, what },
            });
        }
        if self.is_current(seat) {
            self.lose(seat.student, now);
        }
        self.pass_on(now);
    }

    /// A connection did not take what [`Todo::Send`] gave it, and is no more.
    pub fn handle_not_taken(&mut self, seat: StudentConnection, why: NotTaken, now: Moment) {
        if !self.is_current(seat) {
            return;
        }
        if why == NotTaken::Slow {
            let name = self.name_of(seat.student);
            self.tell(Notice::Slow { name });
        }
        self.lose(seat.student, now);
        self.pass_on(now);
    }

    /// The host orders something.
    ///
    /// # Errors
    /// The lesson's refusal.
    pub fn handle_order(&mut self, order: HostOrder, now: Moment) -> Result<(), Refusal> {
        let done = self.give(LessonInput::Order(order), now).map(drop);
        self.pass_on(now);
        done
    }

    /// Time has come to [`Engine::next_deadline`].
    pub fn handle_timeout(&mut self, now: Moment) {
        if self.slow_at().is_some_and(|at| at <= now) {
            let free = self.commit_gate.go_ahead();
            self.hand_out(free);
        }
        if self.lesson.next_deadline().is_some_and(|at| at <= now) {
            // Nothing to refuse.
            let _ = self.give(LessonInput::Timeout, now);
        }
        self.pass_on(now);
    }

    /// Ends the lesson for everyone.
    pub fn end(&mut self, now: Moment) {
        // An ended lesson refuses to end again, and is as ended as can be.
        let _ = self.handle_order(HostOrder::End, now);
        self.ended = true;
    }

    /// Whether this is the connection that the student has now.
    pub fn is_current(&self, seat: StudentConnection) -> bool {
        self.connections.get(&seat.student) == Some(&seat.connection)
    }

    pub(crate) fn tell(&mut self, notice: Notice) {
        self.todo.push_back(Todo::Notice(notice));
    }

    fn name_of(&self, student: StudentId) -> String {
        let name = self.lesson.name_of(student);
        name.map_or_else(|| format!("student {}", student.0), str::to_owned)
    }
}
