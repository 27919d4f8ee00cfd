//! The writing side of a student's connection.

use core::fmt;
use core::time::Duration;
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use fifthpeg_lesson::message::ToStudent;
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::{AtOnce, ByteStream, Bytes, Frame, Receiver, Sender};
use fifthpeg_link::secure::Stream;
use fifthpeg_wire::{ClientFrame, HostFrame};
use tokio::sync::mpsc::error::TrySendError;
use tokio::sync::{Mutex, mpsc};
use tokio::task::JoinHandle;
use tokio::time::timeout;

use crate::Limits;
use crate::engine::{GoneWhy, NotTaken};

/// How long a peer may take to close its side after being told goodbye.
const LINGER: Duration = Duration::from_secs(1);

/// Why there is nothing more to do for a connection.
#[derive(Debug)]
pub(crate) enum End {
    /// The seat was given up: say goodbye.
    Goodbye,
    /// The peer has gone.
    Gone,
    /// Something worth telling.
    Told(GoneWhy),
    /// The lesson is over.
    Over,
}

/// Encodes what the lesson says. What is said to many alike, as a call is, is
/// encoded once and shared.
#[derive(Debug, Default)]
pub(crate) struct Encoder {
    last: Option<(HostFrame, Bytes)>,
}

impl Encoder {
    /// The bytes of a message; if it goes beyond a limit, which.
    pub(crate) fn encode(&mut self, message: ToStudent) -> Result<Bytes, GoneWhy> {
        let frame = HostFrame::Lesson(message);
        if let Some((last, bytes)) = &self.last
            && *last == frame
        {
            return Ok(bytes.clone());
        }
        let bytes = encoded(&frame)?;
        self.last = Some((frame, bytes.clone()));
        Ok(bytes)
    }
}

/// A frame's bytes.
pub(crate) fn encoded(frame: &HostFrame) -> Result<Bytes, GoneWhy> {
    match frame.encode() {
        Ok(bytes) => Ok(Bytes::from(bytes)),
        Err(e) => Err(GoneWhy::Unsendable {
            what: LinkError::from(e).to_string(),
        }),
    }
}

/// A connection's sending half, which its tasks and the lesson share.
pub(crate) type SharedSender = Arc<Mutex<Sender<Stream, HostFrame>>>;

/// What waits to be written to one student.
#[derive(Debug)]
enum Waiting {
    Frame(Bytes),
    /// The rest of a frame that was begun.
    Rest,
}

/// The way from the lesson to one student.
pub(crate) struct WayOut {
    sender: SharedSender,
    queue: mpsc::Sender<Waiting>,
    /// How much of the queue is not written. Only what comes after all of it
    /// may be written at once.
    unwritten: Arc<AtomicUsize>,
}

/// The other end of a [`WayOut`], for the task that writes what waits.
#[derive(Debug)]
pub(crate) struct Queue {
    waiting: mpsc::Receiver<Waiting>,
    unwritten: Arc<AtomicUsize>,
}

/// Both ends, with room for so many frames.
pub(crate) fn way(sender: SharedSender, room: usize) -> (WayOut, Queue) {
    let (queue, waiting) = mpsc::channel(room.max(1));
    let unwritten = Arc::new(AtomicUsize::new(0));
    let way = WayOut {
        sender,
        queue,
        unwritten: unwritten.clone(),
    };
    (way, Queue { waiting, unwritten })
}

impl fmt::Debug for WayOut {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        out.debug_struct("Way")
            .field("unwritten", &self.unwritten)
            .finish_non_exhaustive()
    }
}

impl WayOut {
    /// Sends a frame without waiting: writes it here and now if `at_once` and
    /// the connection takes it, else leaves it to the connection's task.
    pub(crate) fn send(&self, frame: Bytes, at_once: bool) -> Result<(), NotTaken> {
        // Only this adds to it, and what is taken from it has been written.
        let clear = at_once && self.unwritten.load(Ordering::Acquire) == 0;
        let sender = clear.then(|| self.sender.try_lock().ok()).flatten();
        let waiting = match sender {
            Some(mut sender) => match sender.send_at_once(frame) {
                Ok(AtOnce::Written) => return Ok(()),
                Ok(AtOnce::Unflushed) => Waiting::Rest,
                Ok(AtOnce::Refused(frame)) => Waiting::Frame(frame),
                Err(_) => return Err(NotTaken::Closed),
            },
            None => Waiting::Frame(frame),
        };
        self.unwritten.fetch_add(1, Ordering::AcqRel);
        self.queue.try_send(waiting).map_err(|e| match e {
            TrySendError::Closed(_) => NotTaken::Closed,
            TrySendError::Full(_) => NotTaken::Slow,
        })
    }
}

/// The task that writes what waits for one student. Dropping it stops it.
#[derive(Debug)]
pub(crate) struct Writing(JoinHandle<End>);

impl Writing {
    /// Begins to write; the peer has `within` for each frame.
    pub(crate) fn start(sender: SharedSender, mut queue: Queue, within: Duration) -> Self {
        Self(tokio::spawn(async move {
            while let Some(waiting) = queue.waiting.recv().await {
                let mut sender = sender.lock().await;
                let written = match waiting {
                    Waiting::Frame(frame) => timely(within, sender.send_encoded(frame)).await,
                    Waiting::Rest => timely(within, sender.flush()).await,
                };
                // While the sender is held, so that nothing gets in between.
                queue.unwritten.fetch_sub(1, Ordering::AcqRel);
                if let Err(end) = written {
                    return end;
                }
            }
            End::Goodbye
        }))
    }

    /// Why it stopped, once it has: [`End::Goodbye`] when the seat was given up
    /// and all is written. Dropping the future loses nothing.
    pub(crate) async fn end(&mut self) -> End {
        // It does not panic and is not aborted while it is held.
        (&mut self.0).await.unwrap_or(End::Gone)
    }
}

impl Drop for Writing {
    fn drop(&mut self) {
        self.0.abort();
    }
}

/// Writes one frame, for as long as the peer may take.
pub(crate) async fn write<S: ByteStream>(
    sender: &mut Sender<S, HostFrame>,
    limits: &Limits,
    frame: Bytes,
) -> Result<(), End> {
    timely(limits.write_within, sender.send_encoded(frame)).await
}

async fn timely(
    within: Duration,
    written: impl Future<Output = Result<(), LinkError>>,
) -> Result<(), End> {
    match timeout(within, written).await {
        Ok(Ok(())) => Ok(()),
        Ok(Err(LinkError::Socket(_) | LinkError::BrokeOff(_))) => Err(End::Gone),
        Ok(Err(e)) => Err(End::Told(GoneWhy::Unsendable {
            what: e.to_string(),
        })),
        Err(_) => Err(End::Told(GoneWhy::Slow)),
    }
}

/// Closes so that what was written arrives: a socket dropped with bytes unread
/// takes those on their way down with it.
pub(crate) async fn goodbye<S: ByteStream>(
    sender: &mut Sender<S, HostFrame>,
    mut receiver: Receiver<S, ClientFrame>,
) {
    let peer_closes = async {
        sender.close().await;
        while let Ok(Some(_)) = receiver.recv().await {}
    };
    // A peer that does not close by itself has had its chance.
    let _ = timeout(LINGER, peer_closes).await;
}

#[cfg(test)]
mod tests {
    use fifthpeg_lesson::message::Refusal;

    use super::*;

    #[test]
    fn what_is_said_alike_shares_its_bytes_and_the_rest_does_not() {
        let mut encoder = Encoder::default();
        let mut bytes = |refusal| encoder.encode(ToStudent::Refused(refusal)).unwrap();
        let (first, again) = (bytes(Refusal::NoCall), bytes(Refusal::NoCall));
        assert_eq!(first.as_ptr(), again.as_ptr());
        let other = bytes(Refusal::OldCall);
        assert_ne!(first, other);
        let expected = HostFrame::Lesson(ToStudent::Refused(Refusal::OldCall));
        assert_eq!(HostFrame::decode(&other), Ok(expected));
        // And back: it is the last one that is kept, not the first.
        assert_eq!(bytes(Refusal::NoCall), first);
    }
}
