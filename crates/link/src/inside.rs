//! A way in for a terminal that runs in the host's own program: the same
//! frames, over bytes in memory. No socket is opened.

use core::time::Duration;

use tokio::io::duplex;
use tokio::sync::mpsc;

use crate::LinkError;
use crate::channel::StudentChannel;
use crate::handshake;
use crate::secure::Stream;

/// Bytes that may wait in each direction, about what a socket would hold.
const WAITING_BYTES: usize = 32 * 1024;
/// Terminals that may stand before the door at once.
const ARRIVALS: usize = 4;
/// What the opening request names as its host.
const AUTHORITY: &str = "inside";

/// The way in, for terminals.
#[derive(Debug, Clone)]
pub struct InsideDoor(mpsc::Sender<Stream>);

/// Who comes in, for the host.
#[derive(Debug)]
pub struct Arrivals(mpsc::Receiver<Stream>);

/// A way in, from both sides.
pub fn inside_door() -> (InsideDoor, Arrivals) {
    let (sender, receiver) = mpsc::channel(ARRIVALS);
    (InsideDoor(sender), Arrivals(receiver))
}

impl InsideDoor {
    /// Connects, handshake included, ready for a join.
    ///
    /// # Errors
    /// [`LinkError::HungUp`] if the host is gone, [`LinkError::TimedOut`] if it
    /// does not answer.
    pub async fn connect(&self, timeout: Duration) -> Result<StudentChannel<Stream>, LinkError> {
        let (here, there) = duplex(WAITING_BYTES);
        let here: Stream = Box::new(here);
        let sent = self.0.send(Box::new(there)).await;
        sent.map_err(|_| LinkError::HungUp)?;
        handshake::connect(here, AUTHORITY, timeout).await
    }
}

impl Arrivals {
    /// The next to come in; `None` once nobody can any more.
    pub async fn next(&mut self) -> Option<Stream> {
        self.0.recv().await
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const SOON: Duration = Duration::from_secs(5);

    #[tokio::test]
    async fn both_ends_meet_without_a_socket() {
        let (door, mut arrivals) = inside_door();
        let host = async {
            let stream = arrivals.next().await.expect("it comes");
            handshake::accept(stream, SOON).await
        };
        let (host, student) = tokio::join!(host, door.connect(SOON));
        assert!(host.is_ok());
        assert!(student.is_ok());
        drop(arrivals);
        assert!(matches!(door.connect(SOON).await, Err(LinkError::HungUp)));
    }
}
