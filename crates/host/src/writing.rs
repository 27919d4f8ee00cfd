//! The writing side of a student's connection.

use std::sync::Arc;

use fifthpeg_lesson::message::ToStudent;
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::{Bytes, ByteStream, Frame, Sender};
use fifthpeg_link::convert;
use fifthpeg_link::secure::Stream;
use fifthpeg_wire::HostFrame;
use tokio::sync::{Mutex, mpsc};
use tokio::task::JoinHandle;
use tokio::time::timeout;

use crate::connection::{End, Shared};
use crate::heart::GoneWhy;

/// Encodes what the lesson says. What is said to many alike, as a call is, is
/// encoded once and shared.
#[derive(Debug, Default)]
pub(crate) struct Encoder {
    last: Option<(ToStudent, Bytes)>,
}

impl Encoder {
    /// The bytes of a message; if it goes beyond a limit, which.
    pub(crate) fn encode(&mut self, message: ToStudent) -> Result<Bytes, GoneWhy> {
        if let Some((last, bytes)) = &self.last
            && *last == message
        {
            return Ok(bytes.clone());
        }
        let bytes = encoded(&convert::host_to_wire(&message))?;
        self.last = Some((message, bytes.clone()));
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

/// The task that writes what waits for one student. Dropping it stops it.
#[derive(Debug)]
pub(crate) struct Writing(JoinHandle<End>);

impl Writing {
    /// Begins to write.
    pub(crate) fn start(
        sender: Arc<Mutex<Sender<Stream, HostFrame>>>,
        mut frames: mpsc::Receiver<Bytes>,
        shared: Arc<Shared>,
    ) -> Self {
        Self(tokio::spawn(async move {
            while let Some(frame) = frames.recv().await {
                let mut sender = sender.lock().await;
                if let Err(end) = write(&mut sender, &shared, frame).await {
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
    shared: &Shared,
    frame: Bytes,
) -> Result<(), End> {
    match timeout(shared.limits.write_within, sender.send_encoded(frame)).await {
        Ok(Ok(())) => Ok(()),
        Ok(Err(LinkError::Socket(_))) => Err(End::Gone),
        Ok(Err(e)) => Err(End::Told(GoneWhy::Unsendable {
            what: e.to_string(),
        })),
        Err(_) => Err(End::Told(GoneWhy::Slow)),
    }
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
        let expected = convert::host_to_wire(&ToStudent::Refused(Refusal::OldCall));
        assert_eq!(HostFrame::decode(&other), Ok(expected));
        // And back: it is the last one that is kept, not the first.
        assert_eq!(bytes(Refusal::NoCall), first);
    }
}
