//! The ways from the lesson to the connections.

use std::collections::HashMap;
use std::sync::Arc;

use fifthpeg_link::channel::Bytes;
use tokio::sync::{Notify, mpsc};

use crate::heart::{ConnectionId, NotTaken};

/// The way to one connection.
#[derive(Debug)]
pub(crate) struct Place {
    /// What waits for the student. When the place is given up, the connection
    /// writes what is in it and closes.
    pub(crate) queue: mpsc::Sender<Bytes>,
    /// Cuts the connection at once, even while it is writing.
    pub(crate) cut: Arc<Notify>,
}

/// All connections over which students are in the lesson.
#[derive(Debug, Default)]
pub(crate) struct Seats(HashMap<ConnectionId, Place>);

impl Seats {
    pub(crate) fn seat(&mut self, connection: ConnectionId, place: Place) {
        self.0.insert(connection, place);
    }

    /// Puts a message in a connection's queue without waiting. A connection
    /// whose queue is full is cut.
    pub(crate) fn send(
        &mut self,
        connection: ConnectionId,
        message: Bytes,
    ) -> Result<(), NotTaken> {
        use mpsc::error::TrySendError;
        let place = self.0.get(&connection).ok_or(NotTaken::Closed)?;
        match place.queue.try_send(message) {
            Ok(()) => Ok(()),
            Err(TrySendError::Closed(_)) => {
                self.leave(connection);
                Err(NotTaken::Closed)
            }
            Err(TrySendError::Full(_)) => {
                self.cut(connection);
                Err(NotTaken::Slow)
            }
        }
    }

    /// Gives up a place; the connection still writes what is queued.
    pub(crate) fn leave(&mut self, connection: ConnectionId) {
        self.0.remove(&connection);
    }

    /// Gives up a place and cuts the connection.
    pub(crate) fn cut(&mut self, connection: ConnectionId) {
        if let Some(place) = self.0.remove(&connection) {
            place.cut.notify_one();
        }
    }

    /// Gives up every place.
    pub(crate) fn leave_all(&mut self) {
        self.0.clear();
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn place(room: usize) -> (Place, mpsc::Receiver<Bytes>, Arc<Notify>) {
        let (queue, messages) = mpsc::channel(room);
        let cut = Arc::new(Notify::new());
        let place = Place {
            queue,
            cut: cut.clone(),
        };
        (place, messages, cut)
    }

    fn message() -> Bytes {
        Bytes::from_static(b"a frame")
    }

    #[tokio::test]
    async fn a_full_queue_cuts_that_connection_only() {
        let (mut seats, a, b) = (Seats::default(), ConnectionId(1), ConnectionId(2));
        let (slow, _unread, cut) = place(1);
        let (quick, mut read, _) = place(8);
        seats.seat(a, slow);
        seats.seat(b, quick);
        assert_eq!(seats.send(a, message()), Ok(()));
        assert_eq!(seats.send(a, message()), Err(NotTaken::Slow));
        cut.notified().await;
        assert_eq!(seats.send(a, message()), Err(NotTaken::Closed));
        assert_eq!(seats.send(b, message()), Ok(()));
        assert_eq!(read.recv().await, Some(message()));
    }

    #[tokio::test]
    async fn a_place_given_up_is_still_written_out() {
        let (mut seats, a) = (Seats::default(), ConnectionId(1));
        let (place, mut messages, _) = place(4);
        seats.seat(a, place);
        assert_eq!(seats.send(a, message()), Ok(()));
        seats.leave(a);
        // What was queued is still there, then the queue ends.
        assert_eq!(messages.recv().await, Some(message()));
        assert_eq!(messages.recv().await, None);
    }
}
