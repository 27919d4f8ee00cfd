//! Starting a host, and the handle to a running one.

use core::time::Duration;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};

use fifthpeg_book::Outlives;
use fifthpeg_lesson::LessonSetup;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::message::{Rules, SeatKey, StudentId, ToStudent, Welcome};
use fifthpeg_lesson::setup::{HostOrder, MAX_NAME_CHARS};
use fifthpeg_lesson::tally::Tally;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_lesson::{Lesson, Moment};
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::Frame;
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::discovery::Announcement;
use fifthpeg_link::inside::{InsideDoor, inside_door};
use fifthpeg_log::{Chain, Kind};
use fifthpeg_wire::HostFrame;
use tokio::net::TcpListener;
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use tokio::task::JoinHandle;
use tracing::{info, warn};

use crate::BookState;
use crate::accept::Door;
use crate::bind::listen_all;
use crate::bounds::{Counter, Teller};
use crate::class_keys::ClassKeys;
use crate::invite::OfPages;
use crate::lesson_task::{LessonTask, Outlets, Over};
use crate::lock::DoorLock;
use crate::recalling::AskBook;
use crate::speakers::Speakers;
use crate::to_task::Order;
use crate::written::{HostBook, Planned, Written};
use crate::{HostConfig, HostError, Lock, Notice, OrderError};

/// Messages from students that may wait for the lesson; a connection whose
/// message finds it full waits, and nobody else does.
pub(crate) const INBOUND: usize = 256;
/// Orders that may wait.
pub(crate) const ORDERS: usize = 16;
/// Events and notices that a listener may be behind by before it misses some.
pub(crate) const EVENTS: usize = 4096;
/// How long students may take to receive the end of the lesson.
const GOODBYE: Duration = Duration::from_secs(3);

/// A running host. Dropping it ends the lesson without waiting for anyone;
/// [`Host::end`] is the polite way.
pub struct Host {
    pub(crate) orders: mpsc::Sender<Order>,
    view: watch::Receiver<Arc<LessonView>>,
    events: broadcast::Sender<LessonEvent>,
    notices: broadcast::Sender<Notice>,
    /// For whoever asks first: what came before is told as well.
    first_notices: Mutex<Option<broadcast::Receiver<Notice>>>,
    teller: Teller,
    local_addrs: Vec<SocketAddr>,
    announcement: Option<Announcement>,
    announce_trouble: Option<String>,
    name: String,
    clock: LocalClock,
    door: Door,
    lock: Lock,
    pub(crate) pages: OfPages,
    inside: InsideDoor,
    book: watch::Receiver<BookState>,
    lesson: JoinHandle<Over>,
}

/// Starts a host: listens, announces the lesson, takes students in.
///
/// # Errors
/// If no address can be listened on, the lesson is refused as set up, or no
/// terminal could be told its rules. A lesson that cannot be announced runs all
/// the same: see [`Host::announce_trouble`].
pub async fn start(config: HostConfig) -> Result<Host, HostError> {
    Ok(prepare(config)?.open().await)
}

/// A host that has its addresses but takes nobody in yet: whoever listens now
/// misses nothing of the lesson.
pub struct Prepared {
    config: HostConfig,
    listeners: Vec<TcpListener>,
    lesson: Lesson,
    clock: LocalClock,
    written: Option<Written>,
    book: BookState,
    events: broadcast::Sender<LessonEvent>,
    notices: (broadcast::Sender<Notice>, broadcast::Receiver<Notice>),
    pages: OfPages,
}

/// Prepares a host, in the runtime that it is to run in.
///
/// # Errors
/// As [`start`].
pub fn prepare(mut config: HostConfig) -> Result<Prepared, HostError> {
    let listeners = if config.network {
        listen(&mut config)?
    } else {
        Vec::new()
    };
    // Better to know now than when the first student joins.
    let pages = OfPages::make(&config, &listeners)?;
    let Opening {
        lesson,
        clock,
        written,
        book,
    } = {
        let port = listeners.first().and_then(|l| l.local_addr().ok());
        open_lesson(&config.setup, config.book.take(), port.map(|at| at.port()))?
    };
    can_be_told(lesson.view().rules)?;
    Ok(Prepared {
        config,
        listeners,
        lesson,
        clock,
        written,
        book,
        events: broadcast::channel(EVENTS).0,
        notices: broadcast::channel(EVENTS),
        pages,
    })
}

fn listen(config: &mut HostConfig) -> Result<Vec<TcpListener>, HostError> {
    listen_all(&config.bind).or_else(|e| match e {
        HostError::Listen { ref source, .. }
            if config.any_port_instead && source.kind() == std::io::ErrorKind::AddrInUse =>
        {
            config.bind.iter_mut().for_each(|at| at.set_port(0));
            listen_all(&config.bind)
        }
        e => Err(e),
    })
}

struct Opening {
    lesson: Lesson,
    clock: LocalClock,
    written: Option<Written>,
    book: BookState,
}

/// A new lesson, or one taken up again. A book that cannot be written keeps
/// nobody from holding a lesson.
fn open_lesson(
    setup: &LessonSetup,
    book: Option<HostBook>,
    port: Option<u16>,
) -> Result<Opening, HostError> {
    let clock = LocalClock::new();
    let (book, how, class) = match book {
        Some(HostBook {
            book,
            lesson: Planned::GoOn(resumed),
            outlives,
            on_report,
        }) => {
            let how = (outlives, on_report);
            let ask = AskBook {
                path: book.path().to_owned(),
                class: resumed.class,
                lesson: resumed.running.id(),
                began: None,
            };
            return Ok(Opening {
                lesson: resumed.lesson,
                clock: LocalClock::going_on_from(resumed.goes_on),
                written: Some(Written::start(book, resumed.running, how, port, ask)),
                book: BookState::Writing,
            });
        }
        Some(HostBook {
            book,
            lesson: Planned::Begin { class },
            outlives,
            on_report,
        }) => (Some(book), (outlives, on_report), class),
        None => (None, (Outlives::default(), None), String::new()),
    };
    let began = clock.now();
    let lesson = Lesson::new(setup.clone(), began).map_err(HostError::Lesson)?;
    let begun = book.map(|book| Written::begin(book, &class, setup, began, how, port));
    let (written, book) = match begun {
        None => (None, BookState::None),
        Some(Ok(written)) => (Some(written), BookState::Writing),
        Some(Err(e)) => {
            warn!(name: "book-unusable", error = %Chain(&e));
            let sentence = e.to_string();
            (None, BookState::Unusable { sentence })
        }
    };
    Ok(Opening {
        lesson,
        clock,
        written,
        book,
    })
}

impl Prepared {
    /// What will happen in the lesson, from its beginning.
    pub fn events(&self) -> broadcast::Receiver<LessonEvent> {
        self.events.subscribe()
    }

    /// Takes students in, and announces the lesson. Students who know the
    /// address may be in before the announcing has ended.
    pub async fn open(self) -> Host {
        let Self {
            config,
            listeners,
            lesson,
            clock,
            written,
            book,
            events,
            notices: (notices, first_notices),
            pages,
        } = self;
        let local_addrs: Vec<_> = listeners
            .iter()
            .filter_map(|l| l.local_addr().ok())
            .collect();
        // As the lesson keeps it: terminals compare it with what they are told.
        let wanted_name = lesson.view().rules.lesson;
        let speakers = match config.output {
            Some(output) => match Speakers::start(output, config.level, notices.clone()) {
                Ok(speakers) => Some(speakers),
                Err(e) => {
                    let _ = notices.send(Notice::Speakers(e.to_string()));
                    None
                }
            },
            None => None,
        };

        let teller = Teller::new(notices.clone());
        let (inside, arrivals) = inside_door();
        let (orders, orders_in) = mpsc::channel(ORDERS);
        let (inbound, inbound_in) = mpsc::channel(INBOUND);
        let (view_out, view) = watch::channel(Arc::new(lesson.view()));
        let (book_out, book) = watch::channel(book);
        let outlets = Outlets {
            view: view_out,
            events: events.clone(),
            notices: teller.clone(),
            book: book_out,
        };
        let keys = ClassKeys::new(&config.lock);
        let task = LessonTask::new(lesson, clock, speakers, outlets, written, keys);
        let lesson = tokio::spawn(task.run(orders_in, inbound_in));
        let limits = config.limits;
        let words = pages.words.clone();
        let lock = DoorLock::new(config.lock.clone(), words, wanted_name.clone(), &limits);
        let door = Door::open(
            (listeners, arrivals),
            (limits, lock),
            (pages.web.clone(), pages.names.clone()),
            view.clone(),
            clock,
            inbound,
            teller.clone(),
        );

        let open = matches!(config.lock, Lock::Open);
        let announced = if config.announce && config.network {
            Announcement::start_at(&wanted_name, &local_addrs, open)
                .await
                .map(Some)
        } else {
            Ok(None)
        };
        let (announcement, announce_trouble) = match announced {
            Ok(announcement) => (announcement, None),
            Err(e) => {
                warn!(name: "not-announced", error = %Chain(&e));
                (None, Some(not_announced(&e)))
            }
        };
        info!(
            name: "host-open",
            network = config.network,
            port = local_addrs.first().map(|at| at.port()),
            count = local_addrs.len(),
            locked = !open,
            announced = announcement.is_some(),
            kind = %Kind(&*book.borrow()),
        );
        let name = announcement
            .as_ref()
            .map_or(wanted_name, |a| a.name().to_owned());
        Host {
            orders,
            view,
            events,
            notices,
            first_notices: Mutex::new(Some(first_notices)),
            teller,
            local_addrs,
            announcement,
            announce_trouble,
            name,
            clock,
            door,
            lock: config.lock,
            pages,
            inside,
            book,
            lesson,
        }
    }
}

fn not_announced(e: &LinkError) -> String {
    let why = match e {
        LinkError::Discovery(why) => why.to_string(),
        other => other.to_string(),
    };
    format!("the lesson is not announced on the network ({why}): tell students the address")
}

/// Whether a terminal can be welcomed with these rules: better to know before
/// the first one joins.
fn can_be_told(rules: Rules) -> Result<(), HostError> {
    let welcome = ToStudent::Welcome(Box::new(Welcome {
        student: StudentId(u32::MAX),
        key: SeatKey(u128::MAX),
        name: "x".repeat(MAX_NAME_CHARS as usize),
        rules,
        tally: Tally::default(),
        last_call: None,
    }));
    let frame = HostFrame::Lesson(welcome);
    // And whether a terminal takes it as it comes.
    let told = frame.encode().and_then(|bytes| HostFrame::decode(&bytes));
    let told = told.map_err(LinkError::from);
    told.map(drop).map_err(HostError::Unsendable)
}

impl Host {
    /// The lesson as it is now, and a wake-up whenever it changes. Keeps its
    /// last value after the lesson has ended.
    pub fn view(&self) -> watch::Receiver<Arc<LessonView>> {
        self.view.clone()
    }

    /// Gives an order and waits until it is carried out.
    ///
    /// # Errors
    /// If the lesson refuses it, or is over.
    pub async fn order(&self, order: HostOrder) -> Result<(), OrderError> {
        let (reply, done) = oneshot::channel();
        self.orders
            .send(Order::Lesson(order, reply))
            .await
            .map_err(|_| OrderError::Over)?;
        Ok(done.await.map_err(|_| OrderError::Over)??)
    }

    /// How it stands with the lesson book, and a wake-up whenever that changes.
    pub fn book(&self) -> watch::Receiver<BookState> {
        self.book.clone()
    }

    /// Stops writing the lesson down: what waited for it is told now, though it
    /// would be lost if this program were killed.
    ///
    /// # Errors
    /// [`OrderError::NoBook`] if the lesson is not being written down;
    /// [`OrderError::Over`].
    pub async fn go_on_without_book(&self) -> Result<(), OrderError> {
        let (reply, done) = oneshot::channel();
        let order = Order::WithoutBook(reply);
        self.orders
            .send(order)
            .await
            .map_err(|_| OrderError::Over)?;
        let had_one = done.await.map_err(|_| OrderError::Over)?;
        had_one.then_some(()).ok_or(OrderError::NoBook)
    }

    /// Goes on in a new lesson book, in which the lesson then stands from its
    /// beginning: where the old one was moved, deleted or replaced. A notice
    /// tells which, or why not.
    ///
    /// # Errors
    /// [`OrderError::BookIsThere`] if the book is where it belongs;
    /// [`OrderError::Over`].
    pub async fn go_on_in_new_book(&self) -> Result<(), OrderError> {
        let (reply, done) = oneshot::channel();
        self.orders
            .send(Order::NewBook(reply))
            .await
            .map_err(|_| OrderError::Over)?;
        let is_lost = done.await.map_err(|_| OrderError::Over)?;
        is_lost.then_some(()).ok_or(OrderError::BookIsThere)
    }

    /// Where the host listens. All have the same port if port 0 was asked for.
    pub fn local_addrs(&self) -> Vec<SocketAddr> {
        self.local_addrs.clone()
    }

    /// The way in for terminals of this same program, which needs no network.
    pub fn inside(&self) -> InsideDoor {
        self.inside.clone()
    }

    /// The name under which students find the lesson: the one asked for, or,
    /// where another lesson on the network has it already, one with a number.
    pub fn announced_name(&self) -> String {
        self.name.clone()
    }

    /// Whether the lesson is announced on the network.
    pub fn is_announced(&self) -> bool {
        self.announcement.is_some()
    }

    /// Why the lesson is not announced although it was to be, in a sentence;
    /// it runs, and students need its address.
    pub fn announce_trouble(&self) -> Option<&str> {
        self.announce_trouble.as_deref()
    }

    /// Who is let in.
    pub fn lock(&self) -> &Lock {
        &self.lock
    }

    /// What happens in the lesson from now on ([`Prepared::events`] misses
    /// nothing). A listener more than a few
    /// thousand events behind misses the oldest and is told how many.
    pub fn events(&self) -> broadcast::Receiver<LessonEvent> {
        self.events.subscribe()
    }

    /// What happens on the network, each as one sentence: to whoever asks first,
    /// from the beginning, to others from now on.
    pub fn notices(&self) -> broadcast::Receiver<Notice> {
        let first = self.first_notices.lock();
        // Taking cannot fail half-way, so a panic elsewhere leaves it whole.
        let first = first.unwrap_or_else(PoisonError::into_inner).take();
        first.unwrap_or_else(|| self.notices.subscribe())
    }

    /// How often peers met each limit since the host started; those never met
    /// are left out.
    pub fn counts(&self) -> Vec<(Counter, u64)> {
        self.teller.counts()
    }

    /// Now, on the clock that the lesson's moments are on.
    pub fn now(&self) -> Moment {
        self.clock.now()
    }

    /// Ends the lesson: withdraws the announcement, tells every student,
    /// closes the connections and the speakers. A student that does not take
    /// the goodbye within a few seconds is cut off.
    ///
    /// # Errors
    /// If the speakers did not close well, such as a sound file that could not
    /// be written to its end, or the lesson's end could not be written into its
    /// book. The lesson has ended all the same.
    pub async fn end(self) -> Result<(), HostError> {
        if let Some(announcement) = self.announcement {
            announcement.withdraw().await;
        }
        // Already over is just as well.
        let (reply, _) = oneshot::channel();
        let _ = self.orders.send(Order::Lesson(HostOrder::End, reply)).await;
        drop(self.orders);
        let over = self.lesson.await.ok();
        info!(name: "host-ending", count = self.view.borrow().students.len());
        self.door.close(GOODBYE).await;
        let (speakers, book_trouble) = over.map_or((None, None), |o| (o.speakers, o.book_trouble));
        if let Some(speakers) = speakers {
            // Closing may have to wait for the last tone to fade.
            if let Ok(closed) = tokio::task::spawn_blocking(|| speakers.finish()).await {
                closed.map_err(HostError::Sound)?;
            }
        }
        book_trouble.map_or(Ok(()), |why| Err(HostError::Book(why)))
    }
}

#[cfg(test)]
mod tests;
