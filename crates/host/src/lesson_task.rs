//! The one task that owns the lesson: drives the host's engine between the
//! connections, the orders, the book and the clock.

use std::sync::Arc;
use std::sync::mpsc::TrySendError;
use std::time::Instant;

use fifthpeg_book::WriterEvent;
use fifthpeg_core::Cause;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::message::{StudentId, ToStudent, Tone};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_lesson::{Lesson, Moment};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_sound::{Speaker, ToneSpec};
use tokio::sync::{broadcast, mpsc, watch};
use tokio::task::JoinHandle;

use crate::bounds::Teller;
use crate::class_keys::ClassKeys;
use crate::connections::Connections;
use crate::engine::{Engine, StudentConnection, Todo};
use crate::recalling::{FromBook, Recalling, ToBook};
use crate::to_task::{Inbound, TaskOrder};
use crate::writing::Encoder;
use crate::written::{Left, Written};
use crate::{BookState, Notice, diary};

/// What is taken in before the view is drawn again.
const BATCH: usize = 64;

/// Where the task tells what happens.
pub(crate) struct Outlets {
    pub(crate) view: watch::Sender<Arc<LessonView>>,
    /// Who has found a note and may not be told so yet.
    pub(crate) untold: watch::Sender<Vec<StudentId>>,
    pub(crate) events: broadcast::Sender<LessonEvent>,
    pub(crate) notices: Teller,
    pub(crate) book: watch::Sender<BookState>,
}

/// What is left to be closed when the lesson is over.
pub(crate) struct Over {
    pub(crate) speakers: Option<Speaker<()>>,
    /// What went wrong with the book's last lines.
    pub(crate) book_trouble: Option<Cause>,
}

pub(crate) struct LessonTask {
    pub(crate) engine: Engine,
    clock: LocalClock,
    speakers: Option<Speaker<()>>,
    pub(crate) outlets: Outlets,
    pub(crate) connections: Connections,
    pub(crate) keys: ClassKeys,
    encoder: Encoder,
    pub(crate) written: Option<Written>,
    pub(crate) recalling: Option<Recalling>,
    /// A book that was left in mid-lesson, once its writer is done.
    pub(crate) left: Option<JoinHandle<Left>>,
    view_pacing: crate::view_pacing::ViewPacing,
}

impl LessonTask {
    pub(crate) fn new(
        lesson: Lesson,
        clock: LocalClock,
        speakers: Option<Speaker<()>>,
        outlets: Outlets,
        written: Option<Written>,
        keys: ClassKeys,
    ) -> Self {
        let book = outlets.book.borrow().clone();
        Self {
            engine: Engine::new(lesson, book),
            clock,
            speakers,
            outlets,
            connections: Connections::default(),
            keys,
            encoder: Encoder::default(),
            written,
            recalling: None,
            left: None,
            view_pacing: crate::view_pacing::ViewPacing::new(Instant::now()),
        }
    }

    /// Runs until the lesson ends or nobody can give orders any more; gives
    /// back what is to be closed.
    pub(crate) async fn run(
        mut self,
        mut orders: mpsc::Receiver<TaskOrder>,
        mut inbound: mpsc::Receiver<Inbound>,
    ) -> Over {
        let recalling = self.written.as_mut().and_then(|w| w.recalling.take());
        if let Some(recalling) = &recalling {
            self.engine.recall(recalling.began, self.clock.now());
        }
        self.recalling = recalling;
        self.engine.begin(self.clock.now());
        self.act();
        self.show();
        while !self.engine.is_ended() {
            let deadline = self.engine.next_deadline().map(|m| self.clock.instant(m));
            let draw_at = self.view_pacing.due();
            tokio::select! {
                order = orders.recv() => match order {
                    Some(order) => self.take_order(order).await,
                    // Whoever held the lesson is gone: end it for everyone.
                    None => {
                        self.find_lost_book().await;
                        self.engine.end(self.clock.now());
                    }
                },
                Some(first) = inbound.recv() => {
                    // Whoever woke this runs next to it: where many speak at
                    // once, the others get to speak first, and cost one
                    // round here together.
                    tokio::task::yield_now().await;
                    let began = Instant::now();
                    self.take(first);
                    let mut taken = 1;
                    while taken < BATCH && let Ok(next) = inbound.try_recv() {
                        self.take(next);
                        taken += 1;
                    }
                    diary::round(diary::micros(began), taken);
                }
                report = book_report(&mut self.written) => self.heed_report(report),
                said = recalled(&mut self.recalling) => match said {
                    FromBook::Who(student, said) => {
                        self.engine.handle_recalled(student, said, self.clock.now());
                    }
                    FromBook::KeyKept(student, kept) => self.key_kept(student, kept),
                },
                () = until(deadline) => self.engine.handle_timeout(self.clock.now()),
                () = until(draw_at) => self.show(),
            }
            self.act();
            self.view_pacing.heed(self.engine.inputs_given());
            if self
                .view_pacing
                .due()
                .is_some_and(|at| at <= Instant::now())
            {
                self.show();
            }
        }
        self.show();
        let book_trouble = self.close_book().await;
        self.connections.leave_all();
        Over {
            speakers: self.speakers,
            book_trouble,
        }
    }

    /// Does what the engine says.
    pub(crate) fn act(&mut self) {
        while let Some(todo) = self.engine.poll() {
            match todo {
                Todo::Store(ticket, batch) => {
                    if let Some(written) = &mut self.written {
                        let stored = written.store(batch);
                        debug_assert_eq!(stored, ticket);
                    }
                }
                Todo::Send(seat, message) => self.send(seat, message),
                Todo::Leave(seat) => self.connections.leave(seat.connection),
                Todo::Cut(seat) => self.connections.cut(seat.connection),
                Todo::Sound(tone, start) => self.sound(&tone, start),
                // Without anybody listening there is nobody to tell.
                Todo::Event(event) => {
                    diary::event(&event);
                    self.mind_keys(&event);
                    drop(self.outlets.events.send(event));
                }
                Todo::Notice(notice) => self.tell(notice),
                Todo::Recall(student, name) => {
                    if let Some(recalling) = &self.recalling {
                        recalling.ask(ToBook::Who(student, name));
                    }
                }
                Todo::Book(state) => drop(self.outlets.book.send_replace(state)),
            }
        }
        self.say_unsaid();
        let untold = self.engine.untold_finds();
        self.outlets.untold.send_if_modified(|before| {
            let news = *before != untold;
            *before = untold;
            news
        });
    }

    fn send(&mut self, seat: StudentConnection, message: ToStudent) {
        match self.encoder.encode(message) {
            Ok(bytes) => {
                if let Err(why) = self.connections.send(seat.connection, bytes) {
                    self.engine.handle_not_taken(seat, why, self.clock.now());
                }
            }
            Err(why) => {
                self.connections.cut(seat.connection);
                self.engine.handle_gone(seat, Some(why), self.clock.now());
            }
        }
    }

    pub(crate) fn show(&mut self) {
        let began = Instant::now();
        let view = Arc::new(self.engine.lesson().view());
        self.outlets.view.send_replace(view);
        let drawn = self.engine.inputs_given();
        self.view_pacing.done(drawn, began, Instant::now());
    }

    async fn take_order(&mut self, order: TaskOrder) {
        match order {
            TaskOrder::Look(reply) => {
                self.show();
                let _ = reply.send(());
            }
            TaskOrder::Lesson(order, reply) => {
                if order == HostOrder::End {
                    self.find_lost_book().await;
                }
                let done = self.engine.handle_order(order, self.clock.now());
                // Students before screens: what the order caused goes out first,
                // and the connections get to write it.
                self.act();
                tokio::task::yield_now().await;
                // And screens before the answer: who gave an order sees what it did.
                self.show();
                // The one who asked may have stopped waiting.
                let _ = reply.send(done);
            }
            TaskOrder::Named(student, name, reply) => {
                let its = self.engine.lesson().student_named(&name);
                match &self.recalling {
                    Some(recalling) => {
                        recalling.ask(ToBook::Named(its.unwrap_or(student), name, reply));
                    }
                    None => drop(reply.send(Ok(None))),
                }
            }
            TaskOrder::KnownAs {
                student,
                name,
                recalled,
                reply,
            } => {
                let done = self
                    .engine
                    .handle_known_as(student, name, recalled, self.clock.now());
                self.act();
                self.show();
                let _ = reply.send(done);
            }
            TaskOrder::Everyone(reply) => match &self.recalling {
                Some(recalling) => recalling.ask(ToBook::Everyone(reply)),
                None => drop(reply.send(Ok(Vec::new()))),
            },
            TaskOrder::OfferKey(student, reply) => {
                let _ = reply.send(self.offer_key(student));
            }
            TaskOrder::WithoutBook(reply) => {
                let is_lost = self.engine.book().is_lost();
                let had_one = self.engine.go_without_book(self.clock.now());
                self.act();
                self.show();
                self.leave_book(is_lost);
                let _ = reply.send(had_one);
            }
            TaskOrder::NewBook(reply) => {
                let is_lost = self.engine.book().is_lost();
                if is_lost {
                    self.go_on_in_new_book();
                }
                let _ = reply.send(is_lost);
            }
        }
    }

    fn take(&mut self, inbound: Inbound) {
        let now = self.clock.now();
        match inbound {
            Inbound::Join {
                asking,
                connection,
                outlet,
                reply,
            } => {
                let joined = self.engine.handle_join(asking, connection, now);
                if joined.is_ok() {
                    self.connections.add(connection, outlet);
                }
                let _ = reply.send(joined);
            }
            Inbound::Message {
                student,
                connection,
                message,
            } => {
                let from = StudentConnection {
                    student,
                    connection,
                };
                self.engine.handle_message(from, message, now);
            }
            Inbound::ClassKey { public, reply } => {
                // Without a book nobody has one: the reply is dropped.
                if let Some(recalling) = &self.recalling {
                    recalling.ask(ToBook::Key(public, reply));
                }
            }
            Inbound::KeyUsed(public) => {
                if let Some(recalling) = &self.recalling {
                    recalling.ask(ToBook::KeyUsed(public));
                }
            }
            Inbound::KeyAnswer {
                student,
                connection,
                public,
            } => self.key_answered(student, connection, public),
            Inbound::SeatKey { student, reply } => {
                // Whoever asked may be gone.
                let _ = reply.send(self.engine.lesson().seat_key(student));
            }
            Inbound::TooFast { student } => self.engine.handle_too_fast(student),
            Inbound::Gone {
                student,
                connection,
                why,
            } => {
                self.connections.leave(connection);
                let seat = StudentConnection {
                    student,
                    connection,
                };
                self.engine.handle_gone(seat, why, now);
            }
        }
        // Each on its own, so that a queue is only ever as full as its student
        // is slow, not as busy as the batch was.
        self.act();
    }

    fn sound(&self, tone: &Tone, start: Moment) {
        let Some(speakers) = &self.speakers else {
            return;
        };
        let spec = ToneSpec {
            frequency_hz: tone.frequency_hz,
            voice: tone.voice,
            pluck_seed: tone.pluck_seed,
            level: speakers.level(),
        };
        // What cannot be queued is left out, and said so.
        if let Err(e) = speakers.sound((), spec, self.clock.instant(start)) {
            self.tell(Notice::Speakers(match e {
                TrySendError::Full(_) => "too many tones at once".into(),
                TrySendError::Disconnected(_) => "the output has stopped".into(),
            }));
        }
    }

    pub(crate) fn tell(&self, notice: Notice) {
        self.outlets.notices.tell(notice);
    }

    pub(crate) fn now(&self) -> Moment {
        self.clock.now()
    }
}

async fn recalled(recalling: &mut Option<Recalling>) -> FromBook {
    let said = match recalling {
        Some(recalling) => recalling.answers.recv().await,
        None => None,
    };
    match said {
        Some(said) => said,
        None => std::future::pending().await,
    }
}

async fn book_report(written: &mut Option<Written>) -> Option<WriterEvent> {
    match written {
        Some(written) if !written.is_silent => {
            let report = written.reports.recv().await;
            written.is_silent = report.is_none();
            report
        }
        _ => std::future::pending().await,
    }
}

async fn until(deadline: Option<Instant>) {
    match deadline {
        Some(at) => tokio::time::sleep_until(at.into()).await,
        None => std::future::pending().await,
    }
}
