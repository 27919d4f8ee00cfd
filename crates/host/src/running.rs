//! Starting a host, and the handle to a running one.

use core::time::Duration;
use std::net::SocketAddr;
use std::sync::Arc;

use fifthpeg_lesson::event::LessonEvent;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_lesson::{Lesson, Moment};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::discovery::Announcement;
use tokio::sync::{broadcast, mpsc, oneshot, watch};
use tokio::task::JoinHandle;

use crate::accept::Door;
use crate::bind::listen_all;
use crate::lesson_task::{LessonTask, Order, Outlets};
use crate::seats::Seats;
use crate::speakers::Speakers;
use crate::{HostConfig, HostError, Notice, OrderError};

/// Messages from students that may wait for the lesson; a connection whose
/// message finds it full waits, and nobody else does.
const INBOUND: usize = 256;
/// Orders that may wait.
const ORDERS: usize = 16;
/// Events and notices that a listener may be behind by before it misses some.
const EVENTS: usize = 4096;
/// How long students may take to receive the end of the lesson.
const GOODBYE: Duration = Duration::from_secs(3);

/// A running host. Dropping it ends the lesson without waiting for anyone;
/// [`Host::end`] is the polite way.
pub struct Host {
    orders: mpsc::Sender<Order>,
    view: watch::Receiver<Arc<LessonView>>,
    events: broadcast::Sender<LessonEvent>,
    notices: broadcast::Sender<Notice>,
    local_addrs: Vec<SocketAddr>,
    announcement: Option<Announcement>,
    name: String,
    clock: LocalClock,
    door: Door,
    lesson: JoinHandle<Option<Speakers>>,
}

/// Starts a host: listens, announces the lesson, takes students in.
///
/// # Errors
/// If no address can be listened on, the lesson is refused as set up, or it
/// cannot be announced.
pub async fn start(config: HostConfig) -> Result<Host, HostError> {
    // Better to know now than when the first student joins.
    getrandom::u64().map_err(HostError::Random)?;
    let clock = LocalClock::new();
    let wanted_name = config.setup.rules.lesson.clone();
    let listeners = listen_all(&config.bind)?;
    let local_addrs: Vec<_> = listeners
        .iter()
        .filter_map(|l| l.local_addr().ok())
        .collect();
    let lesson = Lesson::new(config.setup, clock.now()).map_err(HostError::Lesson)?;

    let (events, _) = broadcast::channel(EVENTS);
    let (notices, _) = broadcast::channel(EVENTS);
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

    let (orders, orders_in) = mpsc::channel(ORDERS);
    let (inbound, inbound_in) = mpsc::channel(INBOUND);
    let (view_out, view) = watch::channel(Arc::new(lesson.view()));
    let task = LessonTask {
        lesson,
        clock,
        speakers,
        outlets: Outlets {
            view: view_out,
            events: events.clone(),
            notices: notices.clone(),
        },
        seats: Seats::default(),
        ended: false,
    };
    let lesson = tokio::spawn(task.run(orders_in, inbound_in));
    let door = Door::open(listeners, config.limits, clock, inbound, notices.clone());

    let (announcement, name) = if config.announce {
        let announcement = Announcement::start_at(&wanted_name, &local_addrs)
            .await
            .map_err(|e| HostError::Announce(e.to_string()))?;
        let name = announcement.name().to_owned();
        (Some(announcement), name)
    } else {
        (None, wanted_name)
    };
    Ok(Host {
        orders,
        view,
        events,
        notices,
        local_addrs,
        announcement,
        name,
        clock,
        door,
        lesson,
    })
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
            .send((order, reply))
            .await
            .map_err(|_| OrderError::Over)?;
        Ok(done.await.map_err(|_| OrderError::Over)??)
    }

    /// Where the host listens. All have the same port if port 0 was asked for.
    pub fn local_addrs(&self) -> Vec<SocketAddr> {
        self.local_addrs.clone()
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

    /// What happens in the lesson from now on. A listener more than a few
    /// thousand events behind misses the oldest and is told how many.
    pub fn events(&self) -> broadcast::Receiver<LessonEvent> {
        self.events.subscribe()
    }

    /// What happens on the network from now on, each as one sentence.
    pub fn notices(&self) -> broadcast::Receiver<Notice> {
        self.notices.subscribe()
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
    /// be written to its end. The lesson has ended all the same.
    pub async fn end(self) -> Result<(), HostError> {
        if let Some(announcement) = self.announcement {
            announcement.withdraw().await;
        }
        // Already over is just as well.
        let (reply, _) = oneshot::channel();
        let _ = self.orders.send((HostOrder::End, reply)).await;
        drop(self.orders);
        let speakers = self.lesson.await.ok().flatten();
        self.door.close(GOODBYE).await;
        if let Some(speakers) = speakers {
            // Closing may have to wait for the last tone to fade.
            if let Ok(closed) = tokio::task::spawn_blocking(|| speakers.finish()).await {
                closed.map_err(HostError::Sound)?;
            }
        }
        Ok(())
    }
}
