//! A class of five, as its host's program sees it, in virtual time: the engine, the
//! lesson book, and the host's screen with nothing but a pedal.

use std::path::Path;
use std::sync::Arc;
use std::time::Duration;

use fifthpeg_book::{Book, Outlives, Transactions, WriterEvent};
use fifthpeg_core::{Neck, Position, Reach};
use fifthpeg_host::BookState;
use fifthpeg_host::engine::{ConnectionId, Engine, JoinRequest, StudentConnection, Todo};
use fifthpeg_lesson::message::{Answer, AnswerNotice, FromStudent, SeatKey, Source, StudentId};
use fifthpeg_lesson::view::CallView;
use fifthpeg_lesson::{HostOrder, Lesson, LessonSetup, Moment};
use fifthpeg_screen::host::deeds::HostDeed;
use fifthpeg_screen::host::layers::HostAction;
use fifthpeg_screen::host::state::HostState;
use fifthpeg_screen::keys::Key;
use fifthpeg_screen::options::ScreenOptions;

/// Thursday, 15 October 2026, 18:00 UTC.
const BEGAN_MS: i64 = 1_792_087_200_000;
const BEGAN: Moment = Moment::from_micros(1_000_000);
/// So often it is looked who does what.
pub const STEP: Duration = Duration::from_millis(250);

/// One student's seat.
pub struct Seat {
    pub student: StudentId,
    key: SeatKey,
    connection: Option<ConnectionId>,
    /// Answers given to the open call.
    pub serial: u32,
}

pub struct Class {
    pub engine: Engine,
    transactions: Transactions,
    pub screen: HostState,
    pub now: Moment,
    pub places: Vec<Position>,
    pub seats: Vec<Seat>,
    next_connection: u64,
    /// All that the pedal ordered.
    pub ordered: Vec<HostOrder>,
    /// Answers that were sent.
    pub answers: usize,
}

impl Class {
    /// A class in the octave, its book at this path.
    pub fn begin(book: &Path, names: &[&str]) -> Self {
        let neck = Neck::ready("banjo-open-g").expect("a ready neck");
        let mut setup = LessonSetup::new("Thursday class", &neck);
        setup.rules.reach = "octave".parse().expect("a reach");
        setup.seed = 20_261_015;
        let reach = Reach::resolve(&neck, &setup.rules.reach).expect("places");
        let mut book = Book::open(book).expect("a book");
        let running = book.begin("Thursday class", &setup, BEGAN, BEGAN_MS);
        let running = running.expect("begun");
        let lesson = Lesson::new(setup, BEGAN).expect("a lesson");
        let options = ScreenOptions {
            silence: Some("no sound here"),
            ..ScreenOptions::default()
        };
        let view = Arc::new(lesson.view());
        let mut class = Self {
            engine: Engine::new(lesson, BookState::Writing),
            transactions: Transactions::new(book, running, Outlives::Kill),
            screen: HostState::new(view, String::new(), options).expect("a screen"),
            now: BEGAN,
            places: reach.positions().to_vec(),
            seats: Vec::new(),
            next_connection: 0,
            ordered: Vec::new(),
            answers: 0,
        };
        class.engine.begin(BEGAN);
        for name in names {
            class.join(name);
        }
        class
    }

    fn enter(&mut self, name: &str, key: Option<SeatKey>, new_key: SeatKey) -> Seat {
        self.next_connection += 1;
        let connection = ConnectionId(self.next_connection);
        let asking = JoinRequest {
            name: name.to_owned(),
            by_class_key: false,
            key,
            new_key,
        };
        let joined = self.engine.handle_join(asking, connection, self.now);
        let student = joined.expect("let in");
        self.act();
        Seat {
            student,
            key: key.unwrap_or(new_key),
            connection: Some(connection),
            serial: 0,
        }
    }

    fn join(&mut self, name: &str) {
        let seat = self.enter(name, None, SeatKey(self.seats.len() as u128 + 1));
        self.seats.push(seat);
    }

    /// A phone that sleeps loses its connection.
    pub fn lose(&mut self, seat: usize) {
        let student = self.seats[seat].student;
        if let Some(connection) = self.seats[seat].connection.take() {
            let gone = StudentConnection {
                student,
                connection,
            };
            self.engine.handle_gone(gone, None, self.now);
            self.act();
        }
    }

    /// It comes back under its own key.
    pub fn come_back(&mut self, seat: usize, name: &str) {
        let key = self.seats[seat].key;
        let back = self.enter(name, Some(key), SeatKey(99));
        assert_eq!(back.student, self.seats[seat].student, "another seat");
        let serial = self.seats[seat].serial;
        self.seats[seat] = Seat { serial, ..back };
    }

    pub fn say(&mut self, seat: usize, message: FromStudent) {
        let student = self.seats[seat].student;
        if let Some(connection) = self.seats[seat].connection {
            let from = StudentConnection {
                student,
                connection,
            };
            self.engine.handle_message(from, message, self.now);
            self.act();
        }
    }

    /// An answer to this call, timed from its tone.
    pub fn answer(&mut self, seat: usize, call: &CallView, place: Position) {
        if self.seats[seat].connection.is_none() {
            return;
        }
        self.seats[seat].serial += 1;
        self.answers += 1;
        let message = FromStudent::Answer(AnswerNotice {
            call: call.id,
            serial: self.seats[seat].serial,
            answer: Answer::Place(place),
            source: Source::Screen,
            response: Some(self.now.since(call.start)),
            uncertainty: Duration::from_millis(80),
        });
        self.say(seat, message);
    }

    /// Does what the engine says, as the lesson's task does; the book is quick.
    fn act(&mut self) {
        while let Some(todo) = self.engine.poll() {
            if let Todo::Store(ticket, batch) = todo {
                self.transactions.write([&batch]).expect("written");
                let stored = WriterEvent::Stored { up_to: ticket };
                self.engine.handle_report(Some(stored), self.now);
            }
        }
    }

    /// Time goes on, and the screen shows it.
    pub fn step(&mut self) {
        self.now = self.now + STEP;
        if self.engine.next_deadline().is_some_and(|at| at <= self.now) {
            self.engine.handle_timeout(self.now);
            self.act();
        }
        self.look();
    }

    fn look(&mut self) {
        self.screen.now = self.now;
        self.screen.set_view(Arc::new(self.engine.lesson().view()));
        self.screen.mind_stuck();
    }

    /// Presses the pedal; whether the screen ordered anything.
    pub fn press(&mut self, pedal: Key) -> bool {
        let action = self.screen.handle_key(&pedal.event());
        let Some(action) = action else { return false };
        let HostAction::Host(HostDeed::Order(order)) = action else {
            panic!("the pedal asks for {action:?}");
        };
        let done = self.engine.handle_order(order.clone(), self.now);
        assert_eq!(done, Ok(()), "{order:?}");
        self.ordered.push(order);
        self.act();
        self.look();
        true
    }

    /// Whoever holds the lesson ends it.
    pub fn end(mut self) {
        let ended = self.engine.handle_order(HostOrder::End, self.now);
        assert_eq!(ended, Ok(()));
        self.act();
        self.transactions.close().expect("closed");
    }
}
