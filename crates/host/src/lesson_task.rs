//! The one task that owns the lesson.

use core::time::Duration;
use std::sync::Arc;
use std::time::Instant;

use fifthpeg_book::Report;
use fifthpeg_lesson::event::Leaving;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::input::LessonInput;
use fifthpeg_lesson::message::{FromStudent, PlaceKey, Refusal, StudentId, ToStudent, Tone};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_lesson::{Lesson, Moment};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::tame;
use tokio::sync::{broadcast, mpsc, oneshot, watch};

use crate::Notice;
use crate::hold::{Hold, Out};
use crate::seats::{ConnectionId, NotQueued, Seat, Seats};
use crate::speakers::Speakers;
use crate::written::{BookState, Written};

/// What is taken in before the view is drawn again.
const BATCH: usize = 64;

/// From the connections.
#[derive(Debug)]
pub(crate) enum Inbound {
    /// Someone wants in, or back.
    Join {
        name: String,
        key: Option<PlaceKey>,
        seat: Seat,
        reply: oneshot::Sender<Result<StudentId, Refusal>>,
    },
    /// A student says something.
    Message {
        student: StudentId,
        connection: ConnectionId,
        message: FromStudent,
    },
    /// A student sends more than the limit, and is told of once.
    TooFast { student: StudentId },
    /// A connection has ended.
    Gone {
        student: StudentId,
        connection: ConnectionId,
        why: Option<GoneWhy>,
    },
}

/// Why a connection ended, where it is worth telling.
#[derive(Debug)]
pub(crate) enum GoneWhy {
    Silent {
        seconds: u64,
    },
    Confused {
        what: String,
    },
    /// It did not take what was written to it.
    Slow,
    /// What the lesson has to say goes beyond what a frame may hold.
    Unsendable {
        what: String,
    },
}

/// How long the book may take before what promises nothing goes ahead: well
/// within the lead that a call's start is named with.
pub(crate) const SLOW_BOOK: Duration = Duration::from_millis(100);

/// An order with the way to its answer.
#[derive(Debug)]
pub(crate) enum Order {
    /// For the lesson.
    Lesson(HostOrder, oneshot::Sender<Result<(), Refusal>>),
    /// Go on without the lesson book; the answer is whether there was one.
    WithoutBook(oneshot::Sender<bool>),
}

/// Where the task tells what happens.
pub(crate) struct Outlets {
    pub(crate) view: watch::Sender<Arc<LessonView>>,
    pub(crate) events: broadcast::Sender<LessonEvent>,
    pub(crate) notices: broadcast::Sender<Notice>,
    pub(crate) book: watch::Sender<BookState>,
}

/// What is left to be closed when the lesson is over.
pub(crate) struct Over {
    pub(crate) speakers: Option<Speakers>,
    /// What went wrong with the book's last lines, in a sentence.
    pub(crate) book_trouble: Option<String>,
}

pub(crate) struct LessonTask {
    pub(crate) lesson: Lesson,
    pub(crate) clock: LocalClock,
    pub(crate) speakers: Option<Speakers>,
    pub(crate) outlets: Outlets,
    pub(crate) seats: Seats,
    pub(crate) written: Option<Written>,
    pub(crate) hold: Hold,
    /// From the lesson, not handed out yet.
    pub(crate) said: Vec<(StudentId, ToStudent)>,
    pub(crate) happened: Vec<LessonEvent>,
    /// Inputs given to the lesson.
    pub(crate) given: u64,
    pub(crate) ended: bool,
}

impl LessonTask {
    /// Runs until the lesson ends or nobody can give orders any more; gives
    /// back what is to be closed.
    pub(crate) async fn run(
        mut self,
        mut orders: mpsc::Receiver<Order>,
        mut inbound: mpsc::Receiver<Inbound>,
    ) -> Over {
        self.begin();
        while !self.ended {
            let deadline = self.lesson.next_deadline().map(|m| self.clock.instant(m));
            let slow_at = self.hold.waits_since().map(|since| since + SLOW_BOOK);
            tokio::select! {
                order = orders.recv() => match order {
                    Some(order) => self.take_order(order),
                    // Whoever held the lesson is gone: end it for everyone.
                    None => self.end(),
                },
                Some(first) = inbound.recv() => {
                    self.take(first);
                    for _ in 1..BATCH {
                        let Ok(next) = inbound.try_recv() else { break };
                        self.take(next);
                    }
                }
                report = book_report(&mut self.written) => {
                    let given = self.given;
                    self.take_report(report);
                    if self.given == given {
                        // What the lesson shows is the same.
                        continue;
                    }
                }
                () = until(slow_at) => {
                    let free = self.hold.go_ahead();
                    self.hand_out(free);
                }
                () = until(deadline) => {
                    // Nothing to refuse.
                    let _ = self.give(LessonInput::Timeout);
                }
            }
            self.pass_on();
            self.show();
        }
        let book_trouble = self.close_book().await;
        self.seats.leave_all();
        Over {
            speakers: self.speakers,
            book_trouble,
        }
    }

    /// In a lesson taken up again nobody is connected yet.
    fn begin(&mut self) {
        self.drain();
        for student in self.lesson.connected() {
            let _ = self.give(LessonInput::Disconnect { student });
        }
        self.pass_on();
        self.show();
    }

    /// Gives the lesson one input: the only way into it, so that the book holds
    /// all that the lesson took in.
    fn give(&mut self, input: LessonInput) -> Result<Option<StudentId>, Refusal> {
        let now = self.clock.now();
        let noted = self.written.as_ref().map(|_| input.clone());
        self.given += 1;
        let done = self.lesson.apply(input, now);
        if let (Some(written), Some(input)) = (&mut self.written, noted)
            // A refused join has changed nothing.
            && (done.is_ok() || !matches!(input, LessonInput::Join { .. }))
        {
            written.note_input(now, input);
        }
        self.drain();
        done
    }

    /// Takes what the lesson says, before it is given anything else.
    fn drain(&mut self) {
        while let Some(said) = self.lesson.poll_message() {
            self.said.push(said);
        }
        while let Some(event) = self.lesson.poll_event() {
            if let Some(written) = &mut self.written {
                written.note_event(event.clone());
            }
            self.happened.push(event);
        }
    }

    pub(crate) fn show(&self) {
        let view = Arc::new(self.lesson.view());
        self.outlets.view.send_replace(view);
    }

    fn end(&mut self) {
        // An ended lesson refuses to end again, and is as ended as can be.
        let _ = self.give(LessonInput::Order(HostOrder::End));
        self.ended = true;
    }

    fn take_order(&mut self, order: Order) {
        let (order, reply) = match order {
            Order::Lesson(order, reply) => (order, reply),
            Order::WithoutBook(reply) => {
                let _ = reply.send(self.go_without_book());
                return;
            }
        };
        let done = self.give(LessonInput::Order(order)).map(drop);
        // Students before screens: what the order caused goes out first.
        self.pass_on();
        // And screens before the answer: who gave an order sees what it did.
        self.show();
        // The one who asked may have stopped waiting.
        let _ = reply.send(done);
    }

    fn take(&mut self, inbound: Inbound) {
        match inbound {
            Inbound::Join {
                name,
                key,
                seat,
                reply,
            } => {
                let shown = tame(&name);
                let joined = new_key().and_then(|new_key| {
                    let student = self.give(LessonInput::Join { name, key, new_key })?;
                    student.ok_or(Refusal::UnknownPlace)
                });
                match &joined {
                    Ok(student) => {
                        // What was for the connection before went with it.
                        self.hold.forget(*student);
                        self.seats.seat(*student, seat);
                    }
                    Err(why) => self.tell(Notice::TurnedAway {
                        name: shown,
                        why: why.to_string(),
                    }),
                }
                let _ = reply.send(joined);
            }
            Inbound::Message {
                student,
                connection,
                message,
            } => {
                if !self.seats.is_current(student, connection) {
                    return;
                }
                // A refusal has been queued for the student by the lesson.
                let _ = self.give(LessonInput::Message { student, message });
            }
            Inbound::TooFast { student } => {
                let name = self.name_of(student);
                self.tell(Notice::TooFast { name });
            }
            Inbound::Gone {
                student,
                connection,
                why,
            } => {
                if let Some(why) = why {
                    self.tell_gone(student, why);
                }
                if self.seats.is_current(student, connection) {
                    self.seats.leave(student);
                    self.hold.forget(student);
                    let _ = self.give(LessonInput::Disconnect { student });
                }
            }
        }
        // Each on its own, so that a queue is only ever as full as its student
        // is slow, not as busy as the batch was.
        self.pass_on();
    }

    /// Has what was taken in written down, and hands out everything the lesson
    /// said.
    pub(crate) fn pass_on(&mut self) {
        while !(self.said.is_empty() && self.happened.is_empty()) {
            let ticket = self.written.as_mut().and_then(Written::store);
            let now = Instant::now();
            let mut free = Vec::new();
            for (student, message) in std::mem::take(&mut self.said) {
                let out = Out::Message(message);
                let out = self.hold.put(student, out, ticket, now);
                free.extend(out.map(|out| (student, out)));
                if self.hold.is_too_much(student) {
                    self.drop_slow(student);
                }
            }
            self.hand_out(free);
            for event in std::mem::take(&mut self.happened) {
                self.heed(&event, ticket, now);
                // Without anybody listening there is nobody to tell.
                let _ = self.outlets.events.send(event);
            }
        }
        // Time that passed and changed nothing is written down as well.
        if let Some(written) = &mut self.written {
            written.store();
        }
    }

    /// Gives what may go to the connections.
    pub(crate) fn hand_out(&mut self, free: Vec<(StudentId, Out)>) {
        for (student, out) in free {
            let message = match out {
                Out::Message(message) => message,
                Out::Leave => {
                    self.seats.leave(student);
                    continue;
                }
            };
            match self.seats.send(student, message) {
                Ok(()) | Err(NotQueued::Away) => {}
                Err(NotQueued::Closed) => {
                    self.hold.forget(student);
                    let _ = self.give(LessonInput::Disconnect { student });
                }
                Err(NotQueued::Slow) => self.drop_slow(student),
            }
        }
    }

    /// Gives up the connection of a student for whom too much waits.
    fn drop_slow(&mut self, student: StudentId) {
        let name = self.name_of(student);
        self.tell(Notice::Slow { name });
        self.hold.forget(student);
        self.seats.cut(student);
        let _ = self.give(LessonInput::Disconnect { student });
    }

    fn heed(&mut self, event: &LessonEvent, ticket: Option<fifthpeg_book::Ticket>, now: Instant) {
        match event {
            LessonEvent::HostSound { tone, start, .. } => self.sound(tone, *start),
            LessonEvent::Left {
                student, leaving, ..
            } => match leaving {
                // Its connection went first, and may be back already.
                Leaving::Lost => {}
                Leaving::FellBehind => {
                    self.tell(Notice::Slow {
                        name: self.name_of(*student),
                    });
                    self.hold.forget(*student);
                    self.seats.cut(*student);
                }
                Leaving::Left | Leaving::Removed | Leaving::MadeRoom => {
                    let out = self.hold.put(*student, Out::Leave, ticket, now);
                    self.hand_out(out.map(|out| (*student, out)).into_iter().collect());
                }
            },
            LessonEvent::Ended { .. } => self.ended = true,
            _ => {}
        }
    }

    fn sound(&self, tone: &Tone, start: Moment) {
        if let Some(speakers) = &self.speakers
            && let Err(notice) = speakers.sound(tone, self.clock.instant(start))
        {
            self.tell(notice);
        }
    }

    fn tell_gone(&self, student: StudentId, why: GoneWhy) {
        let name = self.name_of(student);
        self.tell(match why {
            GoneWhy::Silent { seconds } => Notice::Silent { name, seconds },
            GoneWhy::Confused { what } => Notice::Confused { name, what },
            GoneWhy::Slow => Notice::Slow { name },
            GoneWhy::Unsendable { what } => Notice::Unsendable { name, what },
        });
    }

    pub(crate) fn tell(&self, notice: Notice) {
        let _ = self.outlets.notices.send(notice);
    }

    fn name_of(&self, student: StudentId) -> String {
        let view = self.lesson.view();
        view.students
            .into_iter()
            .find(|s| s.id == student)
            .map_or_else(|| format!("student {}", student.0), |s| s.name)
    }
}

async fn book_report(written: &mut Option<Written>) -> Option<Report> {
    match written {
        Some(written) if !written.is_silent => {
            let report = written.reports.recv().await;
            written.is_silent = report.is_none();
            report
        }
        _ => std::future::pending().await,
    }
}

/// A key nobody can guess.
fn new_key() -> Result<PlaceKey, Refusal> {
    let mut bytes = [0; 16];
    getrandom::fill(&mut bytes)
        // The system gave random numbers when the host started; if it stops,
        // nobody new can be let in safely.
        .map_err(|_| Refusal::UnknownPlace)?;
    Ok(PlaceKey(u128::from_le_bytes(bytes)))
}

async fn until(deadline: Option<std::time::Instant>) {
    match deadline {
        Some(at) => tokio::time::sleep_until(at.into()).await,
        None => std::future::pending().await,
    }
}
