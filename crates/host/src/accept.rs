//! The door: takes connections and looks after their tasks.

use core::time::Duration;
use std::collections::VecDeque;
use std::net::{Ipv4Addr, SocketAddr};
use std::sync::Arc;

use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::inside::Arrivals;
use fifthpeg_link::origin::HostName;
use fifthpeg_link::secure::WebKey;
use tokio::net::TcpListener;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc, oneshot, watch};
use tokio::task::{AbortHandle, JoinHandle, JoinSet};
use tokio::time::Instant;

use crate::admission::{Admission, Newcomer};
use crate::bounds::Teller;
use crate::browsers::Browsers;
use crate::connection::Connection;
use crate::engine::ConnectionId;
use crate::entering::Arrival;
use crate::handshake_queue::HandshakeQueue;
use crate::lock::DoorLock;
use crate::shared::Shared;
use crate::to_task::Inbound;
use crate::{Limits, Notice};

/// How long to wait when the system has no room for another connection.
const NO_ROOM: Duration = Duration::from_millis(200);

/// Everything that accepts and holds connections.
#[derive(Debug)]
pub(crate) struct Door {
    listening: Vec<AbortHandle>,
    close: Option<oneshot::Sender<()>>,
    connections: JoinHandle<JoinSet<()>>,
}

impl Door {
    /// Starts to accept.
    pub(crate) fn open(
        (listeners, inside): (Vec<TcpListener>, Arrivals),
        (limits, lock): (Limits, DoorLock),
        (web, trusted, names): (Option<WebKey>, Option<Arc<str>>, Arc<[HostName]>),
        (view, untold): (
            watch::Receiver<Arc<LessonView>>,
            watch::Receiver<Vec<StudentId>>,
        ),
        clock: LocalClock,
        inbound: mpsc::Sender<Inbound>,
        teller: Teller,
    ) -> Self {
        // One at a time: what is not taken yet waits in the system's backlog.
        let (arrived, arrivals) = mpsc::channel(1);
        let mut listening: Vec<_> = listeners
            .into_iter()
            .map(|l| tokio::spawn(listen(l, arrived.clone(), teller.clone())).abort_handle())
            .collect();
        listening.push(tokio::spawn(teller.clone().sum_up()).abort_handle());
        listening.push(tokio::spawn(let_inside(inside, arrived)).abort_handle());
        let shared = Arc::new(Shared {
            lock,
            web,
            trusted,
            names,
            limits,
            clock,
            inbound,
            teller,
            handshake_queue: HandshakeQueue::new(),
            pages: Semaphore::new(limits.pages.max(1)),
            halls: Semaphore::new(limits.halls),
            view,
            untold,
            browsers: Browsers::default(),
        });
        let (close, closed) = oneshot::channel();
        Self {
            listening,
            close: Some(close),
            connections: tokio::spawn(hold(arrivals, closed, shared)),
        }
    }

    /// Takes no more connections, and waits up to `patience` for those there
    /// are to finish what they have to write; the rest are cut off.
    pub(crate) async fn close(mut self, patience: Duration) {
        for listener in &self.listening {
            listener.abort();
        }
        drop(self.close.take());
        let connections = (&mut self.connections).await;
        if let Ok(mut connections) = connections {
            let all = async { while connections.join_next().await.is_some() {} };
            let _ = tokio::time::timeout(patience, all).await;
            // Dropping the set cuts what is left.
        }
    }
}

impl Drop for Door {
    fn drop(&mut self) {
        for listener in &self.listening {
            listener.abort();
        }
        self.connections.abort();
    }
}

async fn listen(
    listener: TcpListener,
    arrived: mpsc::Sender<(Arrival, SocketAddr)>,
    teller: Teller,
) {
    loop {
        match listener.accept().await {
            Ok((stream, address)) => {
                let arrival = Arrival::Network(stream);
                if arrived.send((arrival, address)).await.is_err() {
                    return;
                }
            }
            // Out of file handles, or a peer that gave up while it waited.
            Err(e) => {
                teller.tell(Notice::CannotAccept(e.to_string()));
                tokio::time::sleep(NO_ROOM).await;
            }
        }
    }
}

/// Passes on who comes from this same program. They have no address; loopback's
/// stands for it.
async fn let_inside(mut inside: Arrivals, arrived: mpsc::Sender<(Arrival, SocketAddr)>) {
    let here = SocketAddr::from((Ipv4Addr::LOCALHOST, 0));
    while let Some(stream) = inside.next().await {
        if arrived.send((Arrival::Inside(stream), here)).await.is_err() {
            return;
        }
    }
}

/// A connection on its way in.
struct Arrived {
    arrival: Arrival,
    address: SocketAddr,
    standing: Newcomer,
    /// When it has to have joined.
    by: Instant,
}

impl Arrived {
    fn is_late(&self) -> bool {
        self.by <= Instant::now()
    }
}

/// Room at the door.
struct Room {
    anyone: Arc<Semaphore>,
    /// For machines that a student came in from, when strangers take the rest.
    known: Arc<Semaphore>,
}

impl Room {
    fn for_known(&self) -> Option<OwnedSemaphorePermit> {
        let room = self.anyone.clone().try_acquire_owned();
        room.or_else(|_| self.known.clone().try_acquire_owned())
            .ok()
    }
}

/// Runs a task for each connection until the door closes; gives back those
/// still running.
async fn hold(
    mut arrivals: mpsc::Receiver<(Arrival, SocketAddr)>,
    mut closed: oneshot::Receiver<()>,
    shared: Arc<Shared>,
) -> JoinSet<()> {
    let mut connections = JoinSet::new();
    let limits = shared.limits;
    let limit = limits.joining.max(1);
    let room = Room {
        anyone: Arc::new(Semaphore::new(limit)),
        known: Arc::new(Semaphore::new(limits.joining_known)),
    };
    let mut admission = Admission::new(&limits, shared.teller.clone(), Instant::now());
    let mut waiting = VecDeque::new();
    let mut next = 0;
    loop {
        let entering = tokio::select! {
            biased;
            _ = &mut closed => return connections,
            Some(_) = connections.join_next() => None,
            // The semaphore is never closed.
            Ok(room) = room.anyone.clone().acquire_owned(), if !waiting.is_empty() => {
                waiting.pop_front().map(|arrived| (arrived, room))
            }
            arrival = arrivals.recv() => {
                let Some((arrival, address)) = arrival else { return connections };
                while connections.try_join_next().is_some() {}
                let known =
                    matches!(arrival, Arrival::Inside(_)) || admission.knows(address.ip());
                if connections.len() >= limits.connections {
                    let limit = limits.connections;
                    shared.tell(Notice::TooManyConnections { address, limit });
                    continue;
                }
                let Some(standing) = admission.step_in(address.ip(), Instant::now()) else {
                    continue;
                };
                let by = Instant::now() + limits.join_within;
                let arrived = Arrived { arrival, address, standing, by };
                if let Some(room) = known.then(|| room.for_known()).flatten() {
                    Some((arrived, room))
                } else {
                    if room.anyone.available_permits() == 0 {
                        shared.tell(Notice::JoinersWait { limit });
                    }
                    // Their time runs while they wait, so the oldest go first.
                    while waiting.front().is_some_and(Arrived::is_late) {
                        waiting.pop_front();
                    }
                    if waiting.len() < limits.waiting {
                        waiting.push_back(arrived);
                    }
                    None
                }
            }
        };
        if let Some((arrived, room)) = entering.filter(|(arrived, _)| !arrived.is_late()) {
            next += 1;
            let connection = Connection {
                id: ConnectionId(next),
                address: arrived.address,
                by: arrived.by,
                joining: (room, arrived.standing),
                shared: shared.clone(),
            };
            connections.spawn(connection.run(arrived.arrival));
        }
    }
}
