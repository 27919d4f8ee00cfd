//! Which queue leads to which student's connection.

use std::collections::HashMap;
use std::sync::Arc;

use fifthpeg_link::channel::Bytes;
use tokio::sync::Notify;

use crate::engine::{ConnectionId, NotTaken};
use crate::writing::WayOut;

/// The way to one connection.
#[derive(Debug)]
pub(crate) struct Outlet {
    /// To the student. When the outlet is given up, the connection writes what
    /// waits and closes.
    pub(crate) way: WayOut,
    /// Cuts the connection at once, even while it is writing.
    pub(crate) cut: Arc<Notify>,
}

/// Where no more than so many are in the lesson, it writes to them itself:
/// waking a task for each takes as long as writing. With more, the tasks write
/// side by side.
const AT_ONCE: usize = 64;

/// All connections over which students are in the lesson.
#[derive(Debug, Default)]
pub(crate) struct Connections(HashMap<ConnectionId, Outlet>);

impl Connections {
    pub(crate) fn add(&mut self, connection: ConnectionId, outlet: Outlet) {
        self.0.insert(connection, outlet);
    }

    /// Sends a message without waiting. A connection whose queue is full is
    /// cut.
    pub(crate) fn send(
        &mut self,
        connection: ConnectionId,
        message: Bytes,
    ) -> Result<(), NotTaken> {
        let at_once = self.0.len() <= AT_ONCE;
        let outlet = self.0.get(&connection).ok_or(NotTaken::Closed)?;
        let sent = outlet.way.send(message, at_once);
        match sent {
            Ok(()) => {}
            Err(NotTaken::Closed) => self.leave(connection),
            Err(NotTaken::Slow) => self.cut(connection),
        }
        sent
    }

    /// Gives up an outlet; the connection still writes what is queued.
    pub(crate) fn leave(&mut self, connection: ConnectionId) {
        self.0.remove(&connection);
    }

    /// Gives up an outlet and cuts the connection.
    pub(crate) fn cut(&mut self, connection: ConnectionId) {
        if let Some(outlet) = self.0.remove(&connection) {
            outlet.cut.notify_one();
        }
    }

    /// Gives up every outlet.
    pub(crate) fn leave_all(&mut self) {
        self.0.clear();
    }
}

#[cfg(test)]
mod tests {
    use core::time::Duration;

    use fifthpeg_lesson::message::{Refusal, ToStudent};
    use fifthpeg_link::channel::StudentChannel;
    use fifthpeg_link::handshake;
    use fifthpeg_link::secure::Stream;
    use fifthpeg_wire::HostFrame;
    use tokio::io::duplex;
    use tokio::sync::Mutex;

    use super::*;
    use crate::writing::End;
    use crate::writing::{Encoder, Queue, SharedSender, Writing, way};

    const WITHIN: Duration = Duration::from_secs(5);

    struct Peer {
        channel: StudentChannel<Stream>,
        sender: SharedSender,
        queue: Queue,
        cut: Arc<Notify>,
    }

    /// A student's outlet over a stream that holds 4 KiB, with such a queue.
    async fn outlet(room: usize) -> (Outlet, Peer) {
        let (here, there) = duplex(4096);
        let (here, there): (Stream, Stream) = (Box::new(here), Box::new(there));
        let (accepted, channel) = tokio::join!(
            handshake::accept(here, WITHIN),
            handshake::connect(there, "host:1", WITHIN)
        );
        let (sender, _) = accepted.unwrap().split();
        let sender = Arc::new(Mutex::new(sender));
        let (way, queue) = way(sender.clone(), room);
        let cut = Arc::new(Notify::new());
        let peer = Peer {
            channel: channel.unwrap(),
            sender,
            queue,
            cut: cut.clone(),
        };
        (Outlet { way, cut }, peer)
    }

    /// A message that says its number.
    fn message(number: u32) -> Bytes {
        let message = ToStudent::Refused(Refusal::TooManyAnswers(number));
        Encoder::default().encode(message).unwrap()
    }

    async fn next(channel: &mut StudentChannel<Stream>) -> Option<u32> {
        let frame = channel.recv().await.unwrap()?;
        match frame {
            HostFrame::Lesson(ToStudent::Refused(Refusal::TooManyAnswers(number))) => Some(number),
            other => panic!("{other:?}"),
        }
    }

    #[tokio::test]
    async fn what_is_written_at_once_and_what_waits_comes_in_order() {
        const MANY: u32 = 2000;
        let (mut connections, a) = (Connections::default(), ConnectionId(1));
        let (outlet, mut peer) = outlet(MANY as usize).await;
        connections.add(a, outlet);
        for number in 0..MANY / 2 {
            assert_eq!(connections.send(a, message(number)), Ok(()));
        }
        // Nobody writes what waits yet: this came at once.
        assert_eq!(next(&mut peer.channel).await, Some(0));
        let writing = Writing::start(peer.sender, peer.queue, WITHIN);
        for number in 1..MANY {
            if number >= MANY / 2 {
                assert_eq!(connections.send(a, message(number)), Ok(()));
            }
            assert_eq!(next(&mut peer.channel).await, Some(number));
        }
        drop(writing);
    }

    #[tokio::test]
    async fn a_full_queue_cuts_that_connection_only() {
        let (mut connections, a, b) = (Connections::default(), ConnectionId(1), ConnectionId(2));
        let (slow, unread) = outlet(1).await;
        let (quick, mut read) = outlet(8).await;
        connections.add(a, slow);
        connections.add(b, quick);
        let refused = (0..4096).find_map(|number| connections.send(a, message(number)).err());
        assert_eq!(refused, Some(NotTaken::Slow));
        unread.cut.notified().await;
        assert_eq!(connections.send(a, message(0)), Err(NotTaken::Closed));
        // A task that has written so much at once is to rest first.
        tokio::task::yield_now().await;
        assert_eq!(connections.send(b, message(7)), Ok(()));
        assert_eq!(next(&mut read.channel).await, Some(7));
    }

    #[tokio::test]
    async fn a_place_given_up_is_still_written_out() {
        let (mut connections, a) = (Connections::default(), ConnectionId(1));
        let (outlet, mut peer) = outlet(64).await;
        connections.add(a, outlet);
        let busy = peer.sender.clone().lock_owned().await;
        for number in 0..10 {
            assert_eq!(connections.send(a, message(number)), Ok(()));
        }
        connections.leave(a);
        drop(busy);
        let mut writing = Writing::start(peer.sender, peer.queue, WITHIN);
        for number in 0..10 {
            assert_eq!(next(&mut peer.channel).await, Some(number));
        }
        assert!(matches!(writing.end().await, End::Goodbye));
    }
}
