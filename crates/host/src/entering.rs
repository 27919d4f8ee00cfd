//! How a connection becomes a student's: encryption, the handshake, the lock,
//! the join, the seat.

use std::net::{IpAddr, SocketAddr};
use std::sync::Arc;
use std::time::Instant;

use fifthpeg_book::KeyHolder;
use fifthpeg_core::text::tamed;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{Refusal, SeatKey, StudentId, ToStudent};
use fifthpeg_lesson::roles::{May, Role, Said, may};
use fifthpeg_link::channel::{ByteStream, HostChannel, Receiver, Sender};
use fifthpeg_link::origin::OriginGate;
use fifthpeg_link::request::{self, PageRequest};
use fifthpeg_link::secure::{self, Greeted, Stream, begins_tls};
use fifthpeg_link::{LinkError, handshake, tunnel};
use fifthpeg_wire::{ClientFrame, HostFrame, WITHIN_PATH};
use tokio::net::TcpStream;
use tokio::sync::{Mutex, Notify, oneshot};

use crate::connections::Outlet;
use crate::engine::{ConnectionId, JoinRequest};
use crate::lock::{By, DoorLock, Locked, expected_a_lock, is_worth_telling};
use crate::shared::{Allowance, Shared};
use crate::throttled_stream::ThrottledStream;
use crate::to_task::Inbound;
use crate::writing::{End, Queue, SharedSender, encoded, goodbye, way, write};
use crate::{Notice, diary, pages};

/// What a connection came in by.
pub(crate) enum Arrival {
    /// A socket.
    Network(TcpStream),
    /// A terminal of this same program: there is nobody to guard it from.
    Inside(Stream),
}

/// A connection over which someone asks to be let in.
pub(crate) struct Asked<S> {
    pub(crate) sender: Sender<S, HostFrame>,
    pub(crate) receiver: Receiver<S, ClientFrame>,
    pub(crate) name: String,
    pub(crate) by_class_key: bool,
    pub(crate) with: By,
    pub(crate) key: Option<SeatKey>,
    pub(crate) new_key: SeatKey,
}

/// What a connection turned out to be, on its way to the join.
struct Came {
    channel: HostChannel<Stream>,
    holder: Option<KeyHolder>,
    with: By,
}

/// A connection whose student is in.
pub(crate) struct Entered<S> {
    pub(crate) sender: SharedSender,
    pub(crate) receiver: Receiver<S, ClientFrame>,
    pub(crate) student: StudentId,
    pub(crate) queue: Queue,
}

/// What to tell of a connection that came to nothing.
pub(crate) type NoticeOf = Box<dyn FnOnce(SocketAddr) -> Notice + Send>;

fn not_joined(what: impl ToString) -> Option<NoticeOf> {
    let what = tamed(&what.to_string());
    Some(Box::new(move |address| Notice::NotJoined { address, what }))
}

fn telling(e: LinkError) -> Option<NoticeOf> {
    match e {
        LinkError::Outdated { .. } => {
            let what = tamed(&e.to_string());
            Some(Box::new(move |address| Notice::WrongVersion {
                address,
                what,
            }))
        }
        e if is_worth_telling(&e) => not_joined(e.to_host()),
        _ => None,
    }
}

/// From the first byte to the channel over which the join may come: through
/// encryption and the lock, where the lesson has one.
async fn secure(
    shared: &Shared,
    stream: TcpStream,
    (ip, allowance): (IpAddr, &Allowance),
) -> Result<Came, Option<NoticeOf>> {
    // Small frames must not wait for one another.
    stream.set_nodelay(true).map_err(not_joined)?;
    let mut first = [0];
    match stream.peek(&mut first).await {
        // A terminal that only looked whether a host answers here.
        Ok(0) => return Err(None),
        Ok(_) => {}
        Err(e) => return Err(not_joined(e)),
    }
    let at = stream.local_addr().map_err(not_joined)?;
    let stream = ThrottledStream::new(stream, &shared.limits);
    let names = shared.names.clone();
    if !begins_tls(first[0]) {
        let gate = OriginGate::at(at, false, names);
        return requested(shared, stream, gate, (ip, allowance)).await;
    }
    let gate = OriginGate::at(at, true, names);
    let failed = |e| {
        diary::not_through(&e, ip);
        telling(e)
    };
    // Browsers open connections to spare, and close them without a word.
    let greeted = secure::greeted(stream).await;
    let greeted = greeted.map_err(|e| failed(e).filter(|_| !shared.browsers.knows(ip)))?;
    if let Some(web) = shared.web.as_ref().filter(|_| greeted.is_browser()) {
        let answered = shared.in_turn(|| greeted.answer_browser(web)).await;
        // Many a browser hangs up at a certificate that it does not know, and asks.
        let (stream, _) = answered.finish().await.map_err(|_| None)?;
        return requested(shared, stream, gate, (ip, allowance)).await;
    }
    match &shared.lock {
        DoorLock::Open => Err(not_joined(expected_a_lock())),
        DoorLock::Locked(locked) => {
            let who = (ip, allowance, By::Terminal);
            through(shared, locked, greeted, Some(&gate), who).await
        }
    }
}

/// From a request on: a terminal of an open lesson, or a browser.
async fn requested<S: ByteStream + 'static>(
    shared: &Shared,
    stream: S,
    gate: OriginGate,
    (ip, allowance): (IpAddr, &Allowance),
) -> Result<Came, Option<NoticeOf>> {
    let (wanted, stream) = request::look(stream).await;
    if let Some(PageRequest {
        upgrades: false, ..
    }) = wanted
    {
        pages::serve(shared, stream, &gate, (ip, allowance)).await;
        return Err(None);
    }
    let of_page = wanted.as_ref().is_some_and(|wanted| wanted.of_page);
    let within = wanted.is_some_and(|wanted| wanted.path == WITHIN_PATH);
    let patience = shared.limits.join_within;
    match &shared.lock {
        DoorLock::Locked(locked) if within => {
            let tunnel = tunnel::accept(stream, &gate).await.map_err(telling)?;
            let greeted = secure::greeted(tunnel).await.map_err(telling)?;
            let who = (ip, allowance, By::Page);
            through(shared, locked, greeted, None, who).await
        }
        DoorLock::Locked(_) => Err(telling(handshake::turn_away(stream, patience, &gate).await)),
        DoorLock::Open if within => Err(not_joined(expected_a_lock())),
        DoorLock::Open => {
            let stream: Stream = Box::new(stream);
            let channel = handshake::accept_at(stream, patience, &gate).await;
            Ok(Came {
                channel: channel.map_err(telling)?,
                holder: None,
                with: if of_page { By::Page } else { By::Terminal },
            })
        }
    }
}

/// Through encryption and the lock. A terminal opens its WebSocket within the
/// encryption, at this gate; a page has come in by one already.
async fn through<S: ByteStream + 'static>(
    shared: &Shared,
    locked: &Locked,
    greeted: Greeted<S>,
    gate: Option<&OriginGate>,
    (ip, allowance, with): (IpAddr, &Allowance, By),
) -> Result<Came, Option<NoticeOf>> {
    let within = shared.limits.join_within;
    let through = async {
        let answered = shared.in_turn(|| greeted.answer(&locked.key)).await;
        let (stream, binding) = answered.finish().await?;
        let stream: Stream = Box::new(stream);
        let channel = match gate {
            Some(gate) => handshake::accept_at(stream, within, gate).await?,
            None => handshake::accept_within(stream, within).await?,
        };
        let who = (ip, allowance, with);
        locked.let_through(shared, channel, binding, who).await
    };
    let (channel, holder) = through.await.map_err(|e| {
        diary::not_through(&e, ip);
        telling(e)
    })?;
    Ok(Came {
        channel,
        holder,
        with,
    })
}

/// What somebody who came through the lock wants.
pub(crate) enum Wish {
    /// A seat in the lesson.
    Join(Asked<Stream>),
    /// To show it to everybody in the room.
    Hall(Sender<Stream, HostFrame>, Receiver<Stream, ClientFrame>),
}

/// From the first byte to the join.
pub(crate) async fn hear_out(
    shared: &Shared,
    arrival: Arrival,
    (ip, allowance): (IpAddr, &Allowance),
) -> Result<Wish, Option<NoticeOf>> {
    let Came {
        channel,
        holder,
        with,
    } = match arrival {
        Arrival::Network(stream) => secure(shared, stream, (ip, allowance)).await?,
        Arrival::Inside(stream) => {
            let accepted = handshake::accept(stream, shared.limits.join_within).await;
            Came {
                channel: accepted.map_err(telling)?,
                holder: None,
                with: By::Terminal,
            }
        }
    };
    let (mut sender, mut receiver) = channel.split();
    loop {
        let frame = receiver.recv().await;
        let now = shared.clock.now();
        match frame {
            Ok(Some(said)) if may(Role::AtDoor, kind(&said)) == May::HungUp => {
                return Err(not_joined("it spoke before joining"));
            }
            Ok(Some(ClientFrame::Join { name, key, new_key })) => {
                // Whoever has a class key comes in under its name and no other.
                let by_class_key = holder.is_some();
                return Ok(Wish::Join(Asked {
                    sender,
                    receiver,
                    name: holder.map_or(name, |holder| holder.name),
                    by_class_key,
                    with,
                    key,
                    new_key,
                }));
            }
            Ok(Some(ClientFrame::Watch)) => return Ok(Wish::Hall(sender, receiver)),
            Ok(Some(ClientFrame::ClockAsk { t1 })) => {
                answer_clock(&mut sender, shared, t1, now)
                    .await
                    .map_err(|_| None)?;
            }
            Ok(Some(ClientFrame::Lesson(_) | ClientFrame::KeyAnswer { .. })) => {
                return Err(not_joined("it spoke before joining"));
            }
            // A terminal that only looked whether a host answers here.
            Ok(None) => return Err(None),
            Err(e) => return Err(not_joined(e.to_host())),
        }
    }
}

/// Asks the lesson for a seat; `None` if there is none.
pub(crate) async fn take_seat(
    (connection, began): (ConnectionId, Instant),
    shared: &Shared,
    asked: Asked<Stream>,
    cut: Arc<Notify>,
) -> Option<Entered<Stream>> {
    let Asked {
        sender,
        receiver,
        name,
        by_class_key,
        with,
        key,
        new_key,
    } = asked;
    let by_page = (with == By::Page && key.is_none()).then(|| tamed(&name));
    let sender = Arc::new(Mutex::new(sender));
    let (way, queue) = way(sender.clone(), shared.limits.queue);
    let (reply, joined) = oneshot::channel();
    let outlet = Outlet { way, cut };
    let join = Inbound::Join {
        asking: JoinRequest {
            name,
            by_class_key,
            key,
            new_key,
        },
        connection,
        outlet,
        reply,
    };
    let _ = shared.inbound.send(join).await;
    // A lesson that no longer answers is over.
    let joined = joined.await.unwrap_or(Err(Refusal::Ended));
    diary::asked(connection, &joined, began);
    match joined {
        Ok(student) => {
            if let Some(name) = by_page {
                shared.tell(Notice::CameByPage { name });
            }
            Some(Entered {
                sender,
                receiver,
                student,
                queue,
            })
        }
        Err(refusal) => {
            let mut sender = sender.lock().await;
            let frame = HostFrame::Lesson(ToStudent::Refused(refusal));
            if let Ok(frame) = encoded(&frame)
                && write(&mut sender, &shared.limits, frame).await.is_ok()
            {
                goodbye(&mut sender, receiver).await;
            }
            None
        }
    }
}

/// Answers what a terminal asks of the host's clock.
pub(crate) async fn answer_clock<S: ByteStream>(
    sender: &mut Sender<S, HostFrame>,
    shared: &Shared,
    t1: Moment,
    t2: Moment,
) -> Result<(), End> {
    let frame = HostFrame::ClockAnswer {
        t1,
        t2,
        t3: shared.clock.now(),
    };
    let bytes = encoded(&frame).map_err(End::Told)?;
    write(sender, &shared.limits, bytes).await
}

/// What is said, as the table of roles has it.
pub(crate) fn kind(said: &ClientFrame) -> Said {
    match said {
        ClientFrame::Join { .. } => Said::Join,
        ClientFrame::ClockAsk { .. } => Said::ClockAsk,
        ClientFrame::KeyAnswer { .. } => Said::KeyAnswer,
        ClientFrame::Watch => Said::Watch,
        ClientFrame::Lesson(message) => Said::from(message),
    }
}
