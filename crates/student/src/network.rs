//! The network side of a terminal: finds the lesson, connects, joins, and
//! comes back after a lost connection, until it is told to stop.

use core::time::Duration;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::Arc;

use fifthpeg_lesson::message::{SeatKey, StudentId, ToStudent};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::connect::{Connected, Reached};
use fifthpeg_wire::ClientFrame;
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;
use tokio::time::Instant;

use crate::entry::Decision;
use crate::lock_keys::{Keys, Through};
use crate::messages::{ANSWER_WITHIN, DECISIONS, EVENTS, FromNetwork, OUTBOX, ToHost};
use crate::resolver::Resolver;
use crate::seat::{KeptSeat, SeatFile};
use crate::session::{Session, SessionEnd};
use crate::task::{Next, Stopped, Task};
use crate::{Entry, Status, Target, diary};
use fifthpeg_lesson::backoff::Backoff;

/// How long the last messages may take to be written.
const GOODBYE: Duration = Duration::from_secs(1);

/// Stands for the address of a host in this same program.
const INSIDE: SocketAddr = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 0);

fn kept_inside(key: SeatKey) -> KeptSeat {
    KeptSeat {
        key,
        // Only a lock asks for it.
        student: StudentId(0),
        address: INSIDE,
        lesson: None,
        host: None,
    }
}

/// The driver's end.
#[derive(Debug)]
pub(crate) struct Network {
    events: mpsc::Receiver<FromNetwork>,
    /// There while a connection is up. Given up to close it in good order.
    to_host: Option<mpsc::Sender<ToHost>>,
    outboxes: mpsc::Receiver<mpsc::Sender<ToHost>>,
    key: watch::Sender<Option<SeatKey>>,
    seat: Option<Arc<SeatFile>>,
    task: Option<JoinHandle<()>>,
}

impl Network {
    /// Starts to look for the lesson. The seat in it is kept in a file in
    /// `seats`.
    pub(crate) fn start(
        target: Target,
        name: String,
        seats: Option<PathBuf>,
        entry: Entry,
        clock: LocalClock,
    ) -> (Self, mpsc::Sender<Decision>) {
        let seat = seats
            .and_then(|folder| SeatFile::open(&folder, &name))
            .map(Arc::new);
        let (inside, kept_key) = match &target {
            Target::Inside { door, key } => (Some(door.clone()), *key),
            _ => (None, None),
        };
        let (events_out, events) = mpsc::channel(EVENTS);
        let (outboxes_out, outboxes) = mpsc::channel(1);
        let (key, key_in) = watch::channel(None);
        let (decisions_out, decisions) = mpsc::channel(DECISIONS);
        let task = Task {
            inside,
            keys: Keys::new(entry),
            decisions,
            number: None,
            resolver: Resolver::new(target),
            name,
            clock,
            events: events_out,
            outboxes: outboxes_out,
            key: key_in,
            forgotten: None,
            left_from_before: kept_key
                .map(kept_inside)
                .or_else(|| seat.as_ref().and_then(|seat| seat.kept())),
            asked_with: None,
            several: false,
            seat: seat.as_ref().map(Arc::downgrade).unwrap_or_default(),
        };
        let network = Self {
            events,
            to_host: None,
            outboxes,
            key,
            seat,
            task: Some(tokio::spawn(task.run())),
        };
        (network, decisions_out)
    }

    /// The next event. Never returns once the network has stopped.
    pub(crate) async fn next(&mut self) -> FromNetwork {
        let Some(event) = self.events.recv().await else {
            return std::future::pending().await;
        };
        match event {
            // Sent before the event, so it is there.
            FromNetwork::Connected => self.to_host = self.outboxes.try_recv().ok(),
            FromNetwork::Disconnected => self.to_host = None,
            _ => {}
        }
        event
    }

    /// Sends to the host, if a connection is up. One that does not take what
    /// is sent is as good as lost, and is given up.
    pub(crate) fn send(&mut self, message: ToHost) {
        if let Some(to_host) = &self.to_host
            && to_host.try_send(message).is_err()
        {
            self.to_host = None;
        }
    }

    /// What to join with when coming back.
    pub(crate) fn set_key(&self, key: Option<SeatKey>) {
        self.key.send_if_modified(|old| {
            let changed = *old != key;
            *old = key;
            changed
        });
    }

    /// The student is out of the lesson for good: no file keeps the seat.
    pub(crate) fn give_up_seat(&mut self) {
        if let Some(seat) = &self.seat {
            seat.empty();
        }
    }

    /// Writes what waits and stops. May be called again.
    pub(crate) async fn finish(&mut self) {
        let Some(mut task) = self.task.take() else {
            return;
        };
        self.events.close();
        if self.to_host.take().is_some() {
            let _ = tokio::time::timeout(GOODBYE, &mut task).await;
        }
        task.abort();
    }
}

impl Drop for Network {
    fn drop(&mut self) {
        if let Some(task) = &self.task {
            task.abort();
        }
    }
}

impl Task {
    async fn run(mut self) {
        // Being told to stop ends the task, and nothing else does.
        let _ = self.go_on().await;
    }

    async fn go_on(&mut self) -> Result<(), Stopped> {
        let mut backoff = Backoff::default();
        loop {
            let why = match self.once(&mut backoff).await? {
                Next::Final(status) => return self.tell(FromNetwork::Status(status)).await,
                Next::AtOnce => continue,
                Next::Later(why) => (why, Duration::ZERO),
                Next::After(why, at_least) => (why, at_least),
            };
            let (why, at_least) = why;
            // Without randomness everyone waits the same time, which works too.
            let retry_in = at_least + backoff.next(getrandom::u32().unwrap_or(0));
            self.tell(FromNetwork::Status(Status::Lost { why, retry_in }))
                .await?;
            tokio::time::sleep(retry_in).await;
        }
    }

    /// One round: find, connect, join, and stay as long as it lasts.
    async fn once(&mut self, backoff: &mut Backoff) -> Result<Next, Stopped> {
        let looked = Instant::now();
        let Connected { reached, address } = match self.reach().await? {
            Ok(connected) => connected,
            Err(next) => return Ok(next),
        };
        diary::reached(address, looked.elapsed());
        let Through {
            channel,
            host,
            by_key,
        } = match self.pass(reached, address).await? {
            Ok(through) => through,
            Err(next) => return Ok(next),
        };
        let key = self.key_for(address, host);
        let Ok(new_key) = self.new_key_for(address, host) else {
            let why = "this system has no random numbers to give: restart it, then join again";
            return Ok(Next::Later(why.into()));
        };
        let join = ClientFrame::join(&self.name, key, new_key);
        let session = match Session::join(channel, self.clock, join).await {
            Ok(session) => session,
            Err(end) => return self.ended(end, key).await,
        };
        if let ToStudent::Welcome(welcome) = &session.welcome
            && !self.resolver.is_meant(&welcome.rules.lesson)
        {
            let lesson = welcome.rules.lesson.clone();
            session.leave().await;
            return Ok(self.led_to(address, &lesson));
        }
        if let ToStudent::Welcome(welcome) = &session.welcome
            && self.inside.is_none()
            && host.is_none()
            && self.keys.is_open_instead(&welcome.rules.lesson)
        {
            session.leave().await;
            return Ok(Next::Final(Status::OpenInstead));
        }
        self.resolver.worked(address);
        if let (Some(host), ToStudent::Welcome(welcome)) = (host, &session.welcome) {
            self.keys.let_in(host, address, &welcome.rules.lesson);
            self.resolver.proved(&welcome.rules.lesson);
        }
        self.keep_seat(&session.welcome, address, host);
        let (outbox, messages) = mpsc::channel(OUTBOX);
        self.outboxes.send(outbox).await.map_err(|_| Stopped)?;
        self.tell(FromNetwork::Connected).await?;
        if let (true, ToStudent::Welcome(welcome)) = (by_key, &session.welcome) {
            let name = welcome.name.clone();
            self.tell(FromNetwork::CameInByKey { name }).await?;
        }
        self.tell(FromNetwork::Message(session.welcome.clone()))
            .await?;
        let status = match self.inside {
            Some(_) => Status::Inside,
            None => Status::In {
                address,
                locked: host.is_some(),
            },
        };
        self.tell(FromNetwork::Status(status)).await?;
        let since = Instant::now();
        let end = session.stay(&self.events, messages, host).await;
        backoff.was_in(since.elapsed());
        if !matches!(end, SessionEnd::Stopped) {
            self.tell(FromNetwork::Disconnected).await?;
        }
        self.ended(end, key).await
    }

    async fn ended(&mut self, end: SessionEnd, key: Option<SeatKey>) -> Result<Next, Stopped> {
        match end {
            SessionEnd::Stopped => Err(Stopped),
            // A broken host, which would be asked without end.
            SessionEnd::UnknownSeat if key.is_none() => Ok(Next::Later(
                "the host knows no seat, though none was asked for".into(),
            )),
            SessionEnd::UnknownSeat => {
                self.forget_seat(key).await?;
                Ok(Next::AtOnce)
            }
            SessionEnd::Refused(why) => Ok(Next::Final(Status::Refused(why))),
            SessionEnd::Lost(why) => Ok(Next::Later(why)),
        }
    }

    /// Finds addresses and connects to the first that works.
    async fn reach(&mut self) -> Result<Result<Connected, Next>, Stopped> {
        if let Some(door) = &self.inside {
            let connected = door.connect(ANSWER_WITHIN).await;
            return Ok(connected
                .map(|channel| Connected {
                    reached: Reached::Open(channel),
                    address: INSIDE,
                })
                .map_err(|e| Next::Later(e.to_string())));
        }
        let addresses = match self.resolver.known() {
            Some(addresses) => addresses,
            None => {
                let lesson = self.resolver.sought();
                // That there are several stands until it is otherwise.
                if !self.several {
                    self.tell(FromNetwork::Status(Status::Finding { lesson }))
                        .await?;
                }
                let found = self.resolver.look().await;
                self.several = matches!(found, Err(Status::Several { .. }));
                match found {
                    Ok(addresses) => addresses,
                    Err(status @ Status::Several { .. }) => {
                        self.tell(FromNetwork::Status(status)).await?;
                        return Ok(Err(Next::AtOnce));
                    }
                    Err(Status::Lost { why, .. }) => return Ok(Err(Next::Later(why))),
                    // Nobody there yet: look again at once, since looking
                    // itself takes a while.
                    Err(_) => return Ok(Err(Next::AtOnce)),
                }
            }
        };
        self.tell(FromNetwork::Status(Status::Connecting {
            addresses: addresses.clone(),
        }))
        .await?;
        Ok(self.connect(&addresses).await)
    }
}
