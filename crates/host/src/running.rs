//! Starting a host, and the handle to a running one.

use core::time::Duration;
use std::net::SocketAddr;
use std::sync::{Arc, Mutex, PoisonError};

use fifthpeg_lesson::Moment;
use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::discovery::Announcement;
use fifthpeg_link::inside::InsideDoor;
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use tokio::task::JoinHandle;
use tracing::info;

use crate::accept::Door;
use crate::bounds::{Counter, Teller};
use crate::invite::OfPages;
use crate::lesson_task::Over;
use crate::to_task::TaskOrder;
use crate::{BookState, HostConfig, HostError, Lock, Notice, OrderError};

mod opening;

pub use opening::{Prepared, prepare};

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
    pub(crate) orders: mpsc::Sender<TaskOrder>,
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

impl Host {
    /// The lesson as it is now, and a wake-up whenever it changes. Keeps its
    /// last value after the lesson has ended.
    pub fn view(&self) -> watch::Receiver<Arc<LessonView>> {
        self.view.clone()
    }

    /// The lesson as it is at this moment, where [`Host::view`] may be drawn a
    /// little later than things happen.
    pub async fn view_now(&self) -> Arc<LessonView> {
        // Once the lesson is over, the last is the newest.
        let _ = self.ask(TaskOrder::Look).await;
        Arc::clone(&self.view.borrow())
    }

    /// Gives an order and waits until it is carried out.
    ///
    /// # Errors
    /// If the lesson refuses it, or is over.
    pub async fn order(&self, order: HostOrder) -> Result<(), OrderError> {
        Ok(self.ask(|reply| TaskOrder::Lesson(order, reply)).await??)
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
        let had_one = self.ask(TaskOrder::WithoutBook).await?;
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
        let is_lost = self.ask(TaskOrder::NewBook).await?;
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
        let _ = self
            .orders
            .send(TaskOrder::Lesson(HostOrder::End, reply))
            .await;
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
