//! Who is who across lessons, as the host says it, and class keys: offered to a
//! student, taken, kept in the lesson book, and taken back.

use fifthpeg_lesson::event::{Leaving, LessonEvent};
use fifthpeg_lesson::message::{Refusal, StudentId};
use fifthpeg_lock::PublicKey;
use fifthpeg_wire::{HostFrame, KeyOffer};
use tokio::sync::oneshot;

use crate::engine::{ConnectionId, StudentConnection};
use crate::known::KnownPerson;
use crate::lesson_task::LessonTask;
use crate::recalling::ToBook;
use crate::to_task::TaskOrder;
use crate::writing::encoded;
use crate::{Host, Notice, OrderError};

impl LessonTask {
    pub(crate) fn offer_key(&mut self, student: StudentId) -> Result<(), OrderError> {
        let host = self.keys.own.ok_or(OrderError::KeysNeedLock)?;
        let book = self.recalling.as_ref().ok_or(OrderError::KeysNeedBook)?;
        let name = self.engine.lesson().name_of(student);
        let seat = self.seat_of(student);
        let (Some(name), Some(seat)) = (name, seat) else {
            return Err(Refusal::NoStudent.into());
        };
        let offer = KeyOffer {
            class: book.class.clone(),
            name: name.to_owned(),
            host: host.0,
        };
        self.keys.offered.insert(student);
        self.say_to(seat, &HostFrame::KeyOffered(offer));
        Ok(())
    }

    /// Only who was asked is listened to, and once.
    pub(crate) fn key_answered(
        &mut self,
        student: StudentId,
        connection: ConnectionId,
        public: Option<PublicKey>,
    ) {
        let seat = StudentConnection {
            student,
            connection,
        };
        if !self.engine.is_current(seat) || !self.keys.offered.remove(&student) {
            return;
        }
        match (public, &self.recalling) {
            (Some(public), Some(book)) => book.ask(ToBook::KeepKey(student, public)),
            _ => self.tell(Notice::KeyNotTaken {
                name: self.name(student),
            }),
        }
    }

    pub(crate) fn key_kept(&mut self, student: StudentId, kept: Result<(), String>) {
        let name = self.name(student);
        match kept {
            Ok(()) => {
                if let Some(seat) = self.seat_of(student) {
                    self.say_to(seat, &HostFrame::KeyKept);
                }
                self.tell(Notice::KeyKept { name });
            }
            Err(sentence) => self.tell(Notice::KeyNotKept { name, sentence }),
        }
    }

    /// Whoever is taken out does not come back by a class key.
    pub(crate) fn mind_keys(&mut self, event: &LessonEvent) {
        if let LessonEvent::Left {
            student, leaving, ..
        } = event
        {
            self.keys.offered.remove(student);
            if let (Leaving::Removed, Some(book)) = (leaving, &self.recalling) {
                book.ask(ToBook::TakeBack(*student));
            }
        }
    }

    fn seat_of(&self, student: StudentId) -> Option<StudentConnection> {
        let connection = self.engine.connection_of(student)?;
        Some(StudentConnection {
            student,
            connection,
        })
    }

    fn name(&self, student: StudentId) -> String {
        let name = self.engine.lesson().name_of(student);
        name.map_or_else(|| format!("student {}", student.0), str::to_owned)
    }

    /// Says what is not of the lesson.
    fn say_to(&mut self, seat: StudentConnection, frame: &HostFrame) {
        let Ok(bytes) = encoded(frame) else {
            // A class whose name fits no frame: nobody gets a key of it.
            return;
        };
        self.keys.unsaid.push((seat, bytes));
        self.say_unsaid();
    }

    /// Says what waited for the lesson's own messages to the same student.
    pub(crate) fn say_unsaid(&mut self) {
        for (seat, bytes) in std::mem::take(&mut self.keys.unsaid) {
            if !self.engine.is_current(seat) {
                continue;
            }
            if self.engine.waits_for_book(seat.student) {
                self.keys.unsaid.push((seat, bytes));
            } else if let Err(why) = self.connections.send(seat.connection, bytes) {
                let now = self.now();
                self.engine.handle_not_taken(seat, why, now);
            }
        }
    }
}

impl Host {
    /// Says that a student of this lesson is who has that name: one who was here
    /// before and is away, or somebody whom the lesson book knows in this class.
    /// Between calls only.
    ///
    /// # Errors
    /// If the lesson refuses it or is over, or the book cannot be read.
    pub async fn known_as(&self, student: StudentId, name: &str) -> Result<(), OrderError> {
        let name = name.to_owned();
        let asked = name.clone();
        let named = self
            .ask(|reply| TaskOrder::Named(student, asked, reply))
            .await?;
        let known = named.map_err(OrderError::Book)?;
        let (name, recalled) = match known {
            Some((name, recalled)) => (name, Some(recalled)),
            None => (name, None),
        };
        let done = self.ask(|reply| TaskOrder::KnownAs {
            student,
            name,
            recalled,
            reply,
        });
        Ok(done.await??)
    }

    /// Everyone whom the lesson book knows in this class; nobody without a book.
    ///
    /// # Errors
    /// If the lesson is over, or the book cannot be read.
    pub async fn everyone_known(&self) -> Result<Vec<KnownPerson>, OrderError> {
        self.ask(TaskOrder::Everyone)
            .await?
            .map_err(OrderError::Book)
    }

    /// Offers a student a class key: if the student says that the machine is
    /// theirs alone, it comes in without the passphrase from the next lesson on.
    ///
    /// # Errors
    /// [`OrderError::KeysNeedLock`], [`OrderError::KeysNeedBook`], a refusal for
    /// one who is not here; [`OrderError::Over`].
    pub async fn offer_key(&self, student: StudentId) -> Result<(), OrderError> {
        self.ask(|reply| TaskOrder::OfferKey(student, reply))
            .await?
    }

    pub(crate) async fn ask<T>(
        &self,
        order: impl FnOnce(oneshot::Sender<T>) -> TaskOrder,
    ) -> Result<T, OrderError> {
        let (reply, done) = oneshot::channel();
        let order = order(reply);
        self.orders
            .send(order)
            .await
            .map_err(|_| OrderError::Over)?;
        done.await.map_err(|_| OrderError::Over)
    }
}
