//! Who sits where: the way from the lesson to each student's connection.

use std::collections::HashMap;
use std::sync::Arc;

use fifthpeg_lesson::message::{StudentId, ToStudent};
use tokio::sync::{Notify, mpsc};

/// One connection's number in this process.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct ConnectionId(pub(crate) u64);

/// The way to one student.
#[derive(Debug)]
pub(crate) struct Seat {
    /// Which connection it belongs to.
    pub(crate) connection: ConnectionId,
    /// What waits for the student. When the seat is given up, the connection
    /// writes what is in it and closes.
    pub(crate) queue: mpsc::Sender<ToStudent>,
    /// Cuts the connection at once, even while it is writing.
    pub(crate) cut: Arc<Notify>,
}

/// All students with a connection.
#[derive(Debug, Default)]
pub(crate) struct Seats(HashMap<StudentId, Seat>);

/// Why something could not be put in a student's queue.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum NotQueued {
    /// The student has no connection; it gets what it missed when it is back.
    Away,
    /// The connection has ended; its seat has been given up.
    Closed,
    /// The queue was full and the connection has been cut.
    Slow,
}

impl Seats {
    /// Seats a student. A former connection of the same student is cut: the
    /// terminal has come back before the old connection was noticed to be dead.
    pub(crate) fn seat(&mut self, student: StudentId, seat: Seat) {
        if let Some(old) = self.0.insert(student, seat) {
            old.cut.notify_one();
        }
    }

    /// Whether this connection is the one the student has now.
    pub(crate) fn is_current(&self, student: StudentId, connection: ConnectionId) -> bool {
        self.0
            .get(&student)
            .is_some_and(|s| s.connection == connection)
    }

    /// Puts a message in a student's queue without waiting.
    pub(crate) fn send(&mut self, student: StudentId, message: ToStudent) -> Result<(), NotQueued> {
        use mpsc::error::TrySendError;
        let seat = self.0.get(&student).ok_or(NotQueued::Away)?;
        match seat.queue.try_send(message) {
            Ok(()) => Ok(()),
            Err(TrySendError::Closed(_)) => {
                self.leave(student);
                Err(NotQueued::Closed)
            }
            Err(TrySendError::Full(_)) => {
                self.cut(student);
                Err(NotQueued::Slow)
            }
        }
    }

    /// Gives up a seat; the connection still writes what is queued.
    pub(crate) fn leave(&mut self, student: StudentId) {
        self.0.remove(&student);
    }

    /// Gives up a seat and cuts the connection.
    pub(crate) fn cut(&mut self, student: StudentId) {
        if let Some(seat) = self.0.remove(&student) {
            seat.cut.notify_one();
        }
    }

    /// Gives up every seat.
    pub(crate) fn leave_all(&mut self) {
        self.0.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use fifthpeg_lesson::message::Refusal;

    fn seat(n: u64, room: usize) -> (Seat, mpsc::Receiver<ToStudent>, Arc<Notify>) {
        let (queue, messages) = mpsc::channel(room);
        let cut = Arc::new(Notify::new());
        let seat = Seat {
            connection: ConnectionId(n),
            queue,
            cut: cut.clone(),
        };
        (seat, messages, cut)
    }

    fn message() -> ToStudent {
        ToStudent::Refused(Refusal::NoCall)
    }

    #[tokio::test]
    async fn a_full_queue_cuts_that_student_only() {
        let (mut seats, a, b) = (Seats::default(), StudentId(1), StudentId(2));
        let (slow, _unread, cut) = seat(1, 1);
        let (quick, mut read, _) = seat(2, 8);
        seats.seat(a, slow);
        seats.seat(b, quick);
        assert_eq!(seats.send(a, message()), Ok(()));
        assert_eq!(seats.send(a, message()), Err(NotQueued::Slow));
        cut.notified().await;
        assert_eq!(seats.send(a, message()), Err(NotQueued::Away));
        assert_eq!(seats.send(b, message()), Ok(()));
        assert_eq!(read.recv().await, Some(message()));
    }

    #[tokio::test]
    async fn coming_back_cuts_the_old_connection() {
        let (mut seats, a) = (Seats::default(), StudentId(1));
        let (old, _old_messages, cut) = seat(1, 4);
        let (new, mut messages, _) = seat(2, 4);
        seats.seat(a, old);
        seats.seat(a, new);
        cut.notified().await;
        assert!(!seats.is_current(a, ConnectionId(1)));
        assert!(seats.is_current(a, ConnectionId(2)));
        assert_eq!(seats.send(a, message()), Ok(()));
        seats.leave(a);
        // What was queued is still there, then the queue ends.
        assert_eq!(messages.recv().await, Some(message()));
        assert_eq!(messages.recv().await, None);
    }
}
