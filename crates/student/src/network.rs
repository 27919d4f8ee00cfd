//! The network side of a terminal: finds the lesson, connects, joins, and
//! comes back after a lost connection, until it is told to stop.

use core::time::Duration;
use std::net::{IpAddr, Ipv4Addr, SocketAddr};
use std::path::PathBuf;
use std::sync::{Arc, Weak};

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{FromStudent, PlaceKey, Refusal, StudentId, ToStudent};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::connect::{Connected, Reached};
use fifthpeg_link::inside::InsideDoor;
use fifthpeg_link::secure::Fingerprint;
use fifthpeg_lock::{PlaceSecret, PublicKey};
use fifthpeg_wire::{ClientFrame, KeyOffer};
use tokio::sync::{mpsc, watch};
use tokio::task::JoinHandle;
use tokio::time::Instant;

use crate::at_lock::{Keys, Through};
use crate::backoff::Backoff;
use crate::entry::Decision;
use crate::place::{Kept, PlaceFile};
use crate::session::{Session, SessionEnd};
use crate::whereabouts::Whereabouts;
use crate::{Entry, Status, Target, diary};

/// Events that may wait for the driver.
pub(crate) const EVENTS: usize = 256;
/// Messages that may wait for the host.
pub(crate) const OUTBOX: usize = 256;
/// How long a host may take to answer at one address.
pub(crate) const ANSWER_WITHIN: Duration = Duration::from_secs(4);
/// Decisions that may wait for the network.
pub(crate) const DECISIONS: usize = 4;
/// How long the last messages may take to be written.
const GOODBYE: Duration = Duration::from_secs(1);

/// Stands for the address of a host in this same program.
const INSIDE: SocketAddr = SocketAddr::new(IpAddr::V4(Ipv4Addr::LOCALHOST), 0);

fn kept_inside(key: PlaceKey) -> Kept {
    Kept {
        key,
        // Only a lock asks for it.
        student: StudentId(0),
        address: INSIDE,
        lesson: None,
        host: None,
    }
}

/// To the driver.
#[derive(Debug)]
pub(crate) enum FromNetwork {
    /// How it stands.
    Status(Status),
    /// A connection is up and the host has let this terminal in; its welcome
    /// follows.
    Connected,
    /// From the host.
    Message(ToStudent),
    /// It was a class key that let this terminal in.
    CameInByKey { name: String },
    /// The host of this key offers a class key.
    KeyOffered(KeyOffer, Fingerprint),
    /// The host has its half of it.
    KeyKept,
    /// One clock exchange.
    Clock {
        t1: Moment,
        t2: Moment,
        t3: Moment,
        t4: Moment,
    },
    /// The connection is gone.
    Disconnected,
}

/// To the host.
#[derive(Debug)]
pub(crate) enum ToHost {
    Message(FromStudent),
    /// Whether the class key that was offered is taken.
    KeyAnswer(Option<PublicKey>),
    /// Asks for the host's clock; stamped when it is written.
    AskClock,
}

/// The driver's end.
#[derive(Debug)]
pub(crate) struct Network {
    events: mpsc::Receiver<FromNetwork>,
    /// There while a connection is up. Given up to close it in good order.
    to_host: Option<mpsc::Sender<ToHost>>,
    outboxes: mpsc::Receiver<mpsc::Sender<ToHost>>,
    key: watch::Sender<Option<PlaceKey>>,
    place: Option<Arc<PlaceFile>>,
    task: Option<JoinHandle<()>>,
}

impl Network {
    /// Starts to look for the lesson. The place in it is kept in a file in
    /// `places`.
    pub(crate) fn start(
        target: Target,
        name: String,
        places: Option<PathBuf>,
        entry: Entry,
        clock: LocalClock,
    ) -> (Self, mpsc::Sender<Decision>) {
        let place = places
            .and_then(|folder| PlaceFile::open(&folder, &name))
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
            whereabouts: Whereabouts::new(target),
            name,
            clock,
            events: events_out,
            outboxes: outboxes_out,
            key: key_in,
            forgotten: None,
            left_from_before: kept_key
                .map(kept_inside)
                .or_else(|| place.as_ref().and_then(|place| place.kept())),
            asked_with: None,
            place: place.as_ref().map(Arc::downgrade).unwrap_or_default(),
        };
        let network = Self {
            events,
            to_host: None,
            outboxes,
            key,
            place,
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
    pub(crate) fn set_key(&self, key: Option<PlaceKey>) {
        self.key.send_if_modified(|old| {
            let changed = *old != key;
            *old = key;
            changed
        });
    }

    /// The student is out of the lesson for good: no file keeps the place.
    pub(crate) fn give_up_place(&mut self) {
        if let Some(place) = &self.place {
            place.empty();
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

/// The driver no longer listens.
pub(crate) struct Stopped;

pub(crate) struct Task {
    /// The door of a host in this same program.
    inside: Option<InsideDoor>,
    pub(crate) whereabouts: Whereabouts,
    pub(crate) keys: Keys,
    /// What the student decides at the lock.
    pub(crate) decisions: mpsc::Receiver<Decision>,
    /// The number that goes with the key.
    number: Option<StudentId>,
    name: String,
    clock: LocalClock,
    events: mpsc::Sender<FromNetwork>,
    outboxes: mpsc::Sender<mpsc::Sender<ToHost>>,
    key: watch::Receiver<Option<PlaceKey>>,
    /// A key that the host does not know any more.
    forgotten: Option<PlaceKey>,
    /// The driver's, which closes it.
    place: Weak<PlaceFile>,
    /// The place that this program had when it was killed.
    left_from_before: Option<Kept>,
    /// What a new place was asked for with last.
    asked_with: Option<Asked>,
}

/// A key for a new place, and the one host that was shown it.
struct Asked {
    new_key: PlaceKey,
    address: SocketAddr,
    host: Option<Fingerprint>,
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
            let why = "this system gives no random numbers: restart it, then join again";
            return Ok(Next::Later(why.into()));
        };
        let join = ClientFrame::join(&self.name, key, new_key);
        let session = match Session::join(channel, self.clock, join).await {
            Ok(session) => session,
            Err(end) => return self.ended(end, key).await,
        };
        if let ToStudent::Welcome(welcome) = &session.welcome
            && !self.whereabouts.is_meant(&welcome.rules.lesson)
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
        self.whereabouts.worked(address);
        if let (Some(host), ToStudent::Welcome(welcome)) = (host, &session.welcome) {
            self.keys.let_in(host, address, &welcome.rules.lesson);
            self.whereabouts.proved(&welcome.rules.lesson);
        }
        self.keep_place(&session.welcome, address, host);
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

    async fn ended(&mut self, end: SessionEnd, key: Option<PlaceKey>) -> Result<Next, Stopped> {
        match end {
            SessionEnd::Stopped => Err(Stopped),
            // A broken host, which would be asked without end.
            SessionEnd::UnknownPlace if key.is_none() => Ok(Next::Later(
                "the host knows no place, though none was asked for".into(),
            )),
            SessionEnd::UnknownPlace => {
                self.forget_place(key).await?;
                Ok(Next::AtOnce)
            }
            SessionEnd::Refused(why) => Ok(Next::Final(Status::Refused(why))),
            SessionEnd::Lost(why) => Ok(Next::Later(why)),
        }
    }

    /// Another lesson, or a host started anew: in as a newcomer.
    async fn forget_place(&mut self, key: Option<PlaceKey>) -> Result<(), Stopped> {
        self.forgotten = key;
        if let Some(place) = self.place.upgrade() {
            place.empty();
        }
        // Of a place from before nothing was shown yet.
        if self.left_from_before.take().is_none() {
            let refused = ToStudent::Refused(Refusal::UnknownPlace);
            self.tell(FromNetwork::Message(refused)).await?;
        }
        Ok(())
    }

    /// A host that has proved itself knows no such place as it was shown.
    pub(crate) async fn place_is_gone(
        &mut self,
        address: SocketAddr,
        host: Fingerprint,
    ) -> Result<(), Stopped> {
        let key = self.key_for(address, Some(host));
        self.forget_place(key).await
    }

    /// The name as typed.
    pub(crate) fn name(&self) -> &str {
        &self.name
    }

    /// What to join with at this address.
    fn key_for(&self, address: SocketAddr, host: Option<Fingerprint>) -> Option<PlaceKey> {
        let lesson = self.whereabouts.lesson();
        let from_before = self
            .left_from_before
            .as_ref()
            .filter(|kept| kept.is_at(address, lesson.as_deref(), host))
            .map(|kept| kept.key);
        let key = *self.key.borrow();
        key.or(from_before).filter(|k| Some(*k) != self.forgotten)
    }

    /// The key for a new place, made anew for each host: whoever gets to know it
    /// can take the place.
    fn new_key_for(
        &mut self,
        address: SocketAddr,
        host: Option<Fingerprint>,
    ) -> Result<PlaceKey, getrandom::Error> {
        let is_same =
            |asked: &&Asked| asked.host == host && (host.is_some() || asked.address == address);
        if let Some(asked) = self.asked_with.as_ref().filter(is_same) {
            return Ok(asked.new_key);
        }
        let mut bytes = [0; 16];
        getrandom::fill(&mut bytes)?;
        let new_key = PlaceKey(u128::from_le_bytes(bytes));
        self.asked_with = Some(Asked {
            new_key,
            address,
            host,
        });
        Ok(new_key)
    }

    /// The same for the lock.
    pub(crate) fn place_at(&self, address: SocketAddr, host: Fingerprint) -> Option<PlaceSecret> {
        let key = self.key_for(address, Some(host))?;
        let kept = self.left_from_before.as_ref().map(|kept| kept.student);
        let student = self.number.or(kept)?;
        Some(PlaceSecret {
            student: student.0,
            key: key.0,
        })
    }

    fn keep_place(&mut self, welcome: &ToStudent, address: SocketAddr, host: Option<Fingerprint>) {
        // From here on the driver has the key; or soon, and until then asking
        // again with the same new key gets the same place.
        self.left_from_before = None;
        let ToStudent::Welcome(welcome) = welcome else {
            return;
        };
        self.number = Some(welcome.student);
        if let Some(place) = self.place.upgrade() {
            place.keep(&Kept {
                key: welcome.key,
                student: welcome.student,
                address,
                lesson: self.whereabouts.lesson(),
                host,
            });
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
        let addresses = match self.whereabouts.known() {
            Some(addresses) => addresses,
            None => {
                let lesson = self.whereabouts.sought();
                self.tell(FromNetwork::Status(Status::Finding { lesson }))
                    .await?;
                match self.whereabouts.look().await {
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

    pub(crate) async fn tell(&self, event: FromNetwork) -> Result<(), Stopped> {
        self.events.send(event).await.map_err(|_| Stopped)
    }
}

/// What to do after one round.
pub(crate) enum Next {
    Final(Status),
    AtOnce,
    Later(String),
    /// Not before this has passed.
    After(String, Duration),
}
