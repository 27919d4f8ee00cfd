//! The one task that owns the lesson.

use std::sync::Arc;

use fifthpeg_lesson::event::Leaving;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::message::{FromStudent, PlaceKey, Refusal, StudentId, Tone};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_lesson::{Lesson, Moment};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::tame;
use tokio::sync::{broadcast, mpsc, oneshot, watch};

use crate::Notice;
use crate::seats::{ConnectionId, NotQueued, Seat, Seats};
use crate::speakers::Speakers;

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

/// An order with the way to its answer.
pub(crate) type Order = (HostOrder, oneshot::Sender<Result<(), Refusal>>);

/// Where the task tells what happens.
pub(crate) struct Outlets {
    pub(crate) view: watch::Sender<Arc<LessonView>>,
    pub(crate) events: broadcast::Sender<LessonEvent>,
    pub(crate) notices: broadcast::Sender<Notice>,
}

pub(crate) struct LessonTask {
    pub(crate) lesson: Lesson,
    pub(crate) clock: LocalClock,
    pub(crate) speakers: Option<Speakers>,
    pub(crate) outlets: Outlets,
    pub(crate) seats: Seats,
    pub(crate) ended: bool,
}

impl LessonTask {
    /// Runs until the lesson ends or nobody can give orders any more; gives
    /// back the speakers to be closed.
    pub(crate) async fn run(
        mut self,
        mut orders: mpsc::Receiver<Order>,
        mut inbound: mpsc::Receiver<Inbound>,
    ) -> Option<Speakers> {
        while !self.ended {
            let deadline = self.lesson.next_deadline().map(|m| self.clock.instant(m));
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
                () = until(deadline) => self.lesson.handle_timeout(self.clock.now()),
            }
            self.pass_on();
            self.show();
        }
        self.seats.leave_all();
        self.speakers
    }

    fn show(&self) {
        let view = Arc::new(self.lesson.view());
        self.outlets.view.send_replace(view);
    }

    fn end(&mut self) {
        // An ended lesson refuses to end again, and is as ended as can be.
        let _ = self.lesson.handle_host(HostOrder::End, self.clock.now());
        self.ended = true;
    }

    fn take_order(&mut self, (order, reply): Order) {
        let done = self.lesson.handle_host(order, self.clock.now());
        // Students before screens: what the order caused goes out first.
        self.pass_on();
        // And screens before the answer: who gave an order sees what it did.
        self.show();
        // The one who asked may have stopped waiting.
        let _ = reply.send(done);
    }

    fn take(&mut self, inbound: Inbound) {
        let now = self.clock.now();
        match inbound {
            Inbound::Join {
                name,
                key,
                seat,
                reply,
            } => {
                let joined =
                    new_key().and_then(|new_key| self.lesson.handle_join(&name, key, new_key, now));
                match &joined {
                    Ok(student) => self.seats.seat(*student, seat),
                    Err(why) => self.tell(Notice::TurnedAway {
                        name: tame(&name),
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
                let _ = self.lesson.handle_message(student, message, now);
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
                    self.lesson.handle_disconnect(student, now);
                }
            }
        }
        // Each on its own, so that a queue is only ever as full as its student
        // is slow, not as busy as the batch was.
        self.pass_on();
    }

    /// Hands out everything the lesson has queued.
    fn pass_on(&mut self) {
        while let Some((student, message)) = self.lesson.poll_message() {
            match self.seats.send(student, message) {
                Ok(()) | Err(NotQueued::Away) => continue,
                Err(NotQueued::Closed) => {}
                Err(NotQueued::Slow) => {
                    let name = self.name_of(student);
                    self.tell(Notice::Slow { name });
                }
            }
            self.lesson.handle_disconnect(student, self.clock.now());
        }
        while let Some(event) = self.lesson.poll_event() {
            match &event {
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
                        self.seats.cut(*student);
                    }
                    Leaving::Left | Leaving::Removed | Leaving::MadeRoom => {
                        self.seats.leave(*student);
                    }
                },
                LessonEvent::Ended { .. } => self.ended = true,
                _ => {}
            }
            // Without anybody listening there is nobody to tell.
            let _ = self.outlets.events.send(event);
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

    fn tell(&self, notice: Notice) {
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
