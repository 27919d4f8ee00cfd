//! How a connection becomes a student's: the handshake, the join, the seat.

use std::net::SocketAddr;
use std::sync::Arc;

use fifthpeg_lesson::message::{PlaceKey, Refusal, StudentId, ToStudent};
use fifthpeg_link::channel::{Receiver, Sender};
use fifthpeg_link::convert::{self, FromClient};
use fifthpeg_link::{LinkError, handshake, tame};
use fifthpeg_wire::{ClientFrame, HostFrame};
use tokio::net::TcpStream;
use tokio::sync::{Notify, mpsc, oneshot};

use crate::connection::{Shared, answer_clock, goodbye, write};
use crate::heart::ConnectionId;
use crate::lesson_task::Inbound;
use crate::paced::Paced;
use crate::seats::Place;
use crate::{Limits, Notice};

/// A connection over which someone asks to be let in.
pub(crate) struct Asked<S> {
    pub(crate) sender: Sender<S, HostFrame>,
    pub(crate) receiver: Receiver<S, ClientFrame>,
    pub(crate) name: String,
    pub(crate) key: Option<PlaceKey>,
}

/// A connection whose student is in.
pub(crate) struct Entered<S> {
    pub(crate) sender: Sender<S, HostFrame>,
    pub(crate) receiver: Receiver<S, ClientFrame>,
    pub(crate) student: StudentId,
    pub(crate) messages: mpsc::Receiver<ToStudent>,
}

/// The seam for encryption: what comes out of here is what the lesson's
/// frames travel over.
async fn secure(stream: TcpStream, limits: &Limits) -> std::io::Result<Paced<TcpStream>> {
    // Small frames must not wait for one another.
    stream.set_nodelay(true)?;
    Ok(Paced::new(stream, limits))
}

/// What to tell of a connection that came to nothing.
pub(crate) type Telling = Box<dyn FnOnce(SocketAddr) -> Notice + Send>;

fn not_joined(what: impl ToString) -> Option<Telling> {
    let what = tame(&what.to_string());
    Some(Box::new(move |address| Notice::NotJoined { address, what }))
}

/// From the first byte to the join.
pub(crate) async fn hear_out(
    shared: &Shared,
    stream: TcpStream,
) -> Result<Asked<Paced<TcpStream>>, Option<Telling>> {
    let stream = secure(stream, &shared.limits).await.map_err(not_joined)?;
    let channel = handshake::accept(stream, shared.limits.join_within)
        .await
        .map_err(|e| match e {
            LinkError::Outdated { .. } => {
                let what = tame(&e.to_string());
                let tell: Telling = Box::new(move |address| Notice::WrongVersion { address, what });
                Some(tell)
            }
            other => not_joined(other),
        })?;
    let (mut sender, mut receiver) = channel.split();
    loop {
        let frame = receiver.recv().await;
        let now = shared.clock.now();
        match frame.and_then(|f| f.map(convert::client_from_wire).transpose()) {
            Ok(Some(FromClient::Join { name, key })) => {
                return Ok(Asked {
                    sender,
                    receiver,
                    name,
                    key,
                });
            }
            Ok(Some(FromClient::ClockAsk { t1 })) => {
                answer_clock(&mut sender, shared, t1, now)
                    .await
                    .map_err(|_| None)?;
            }
            Ok(Some(FromClient::Lesson(_))) => return Err(not_joined("it spoke before joining")),
            // A terminal that only looked whether a host answers here.
            Ok(None) => return Err(None),
            Err(e) => return Err(not_joined(e)),
        }
    }
}

/// Asks the lesson for a seat; `None` if there is none.
pub(crate) async fn take_seat(
    connection: ConnectionId,
    shared: &Shared,
    asked: Asked<Paced<TcpStream>>,
    cut: Arc<Notify>,
) -> Option<Entered<Paced<TcpStream>>> {
    let Asked {
        mut sender,
        receiver,
        name,
        key,
    } = asked;
    let (queue, messages) = mpsc::channel(shared.limits.queue.max(1));
    let (reply, joined) = oneshot::channel();
    let place = Place { queue, cut };
    let join = Inbound::Join {
        name,
        key,
        connection,
        place,
        reply,
    };
    let _ = shared.inbound.send(join).await;
    // A lesson that no longer answers is over.
    match joined.await.unwrap_or(Err(Refusal::Ended)) {
        Ok(student) => Some(Entered {
            sender,
            receiver,
            student,
            messages,
        }),
        Err(refusal) => {
            let frame = convert::host_to_wire(&ToStudent::Refused(refusal));
            if write(&mut sender, shared, &frame).await.is_ok() {
                goodbye(sender, receiver).await;
            }
            None
        }
    }
}
