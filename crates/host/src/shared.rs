//! What all connections share, and what each may take up before it has joined.

use std::sync::{Arc, PoisonError};

use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::view::LessonView;
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::origin::HostName;
use fifthpeg_link::secure::WebKey;
use tokio::sync::{OwnedSemaphorePermit, Semaphore, mpsc, watch};
use tokio::time::{Instant, sleep_until};

use crate::bounds::Teller;
use crate::browsers::Browsers;
use crate::handshake_queue::HandshakeQueue;
use crate::lock::DoorLock;
use crate::to_task::Inbound;
use crate::{Limits, Notice};

/// What all connections share.
#[derive(Debug)]
pub(crate) struct Shared {
    pub(crate) limits: Limits,
    pub(crate) lock: DoorLock,
    /// What browsers are shown over https.
    pub(crate) web: Option<WebKey>,
    /// Where they are sent instead of plain http, if they trust it.
    pub(crate) trusted: Option<Arc<str>>,
    /// Names of this host, for pages.
    pub(crate) names: Arc<[HostName]>,
    pub(crate) clock: LocalClock,
    pub(crate) inbound: mpsc::Sender<Inbound>,
    pub(crate) teller: Teller,
    pub(crate) handshake_queue: HandshakeQueue,
    /// Room for those who are given the page.
    pub(crate) pages: Semaphore,
    /// Room for pages for a projector.
    pub(crate) halls: Semaphore,
    /// The lesson as it is.
    pub(crate) view: watch::Receiver<Arc<LessonView>>,
    /// Who has found a note and may not be told so yet.
    pub(crate) untold: watch::Receiver<Vec<StudentId>>,
    pub(crate) browsers: Browsers,
}

impl Shared {
    pub(crate) fn tell(&self, notice: Notice) {
        self.teller.tell(notice);
    }

    /// Does a costly piece of work for somebody who is not in yet, in turn.
    pub(crate) async fn in_turn<T>(&self, work: impl FnOnce() -> T) -> T {
        let limit = self.limits.waiting_for_keys;
        if self.handshake_queue.waiting() >= limit {
            self.tell(Notice::KeysWait { limit });
        }
        self.handshake_queue.take(work).await
    }
}

/// What a connection that has not joined may take up: room at the door, and
/// time.
pub(crate) struct Allowance {
    room: std::sync::Mutex<Option<OwnedSemaphorePermit>>,
    by: watch::Sender<Instant>,
}

impl Allowance {
    pub(crate) fn new(room: OwnedSemaphorePermit, by: Instant) -> Self {
        Self {
            room: std::sync::Mutex::new(Some(room)),
            by: watch::Sender::new(by),
        }
    }

    /// It waits elsewhere until then, and its room is somebody else's.
    pub(crate) fn step_aside(&self, until: Instant) {
        let room = self.room.lock();
        drop(room.unwrap_or_else(PoisonError::into_inner).take());
        self.until(until);
    }

    /// It has until then.
    pub(crate) fn until(&self, by: Instant) {
        self.by.send_replace(by);
    }

    /// Waits until its time is up.
    pub(crate) async fn used_up(&self) {
        let mut by = self.by.subscribe();
        loop {
            let at = *by.borrow_and_update();
            tokio::select! {
                () = sleep_until(at) => return,
                _ = by.changed() => {}
            }
        }
    }
}
