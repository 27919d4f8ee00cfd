//! The network's task: what it holds, and with which seat it asks to be let in.

use core::time::Duration;
use std::net::SocketAddr;
use std::sync::Weak;

use fifthpeg_lesson::message::{Refusal, SeatKey, StudentId, ToStudent};
use fifthpeg_link::clock::LocalClock;
use fifthpeg_link::inside::InsideDoor;
use fifthpeg_link::secure::Fingerprint;
use fifthpeg_lock::SeatSecret;
use tokio::sync::{mpsc, watch};

use crate::Status;
use crate::entry::Decision;
use crate::lock_keys::Keys;
use crate::messages::{FromNetwork, ToHost};
use crate::resolver::Resolver;
use crate::seat::{KeptSeat, SeatFile};

/// The driver no longer listens.
pub(crate) struct Stopped;

pub(crate) struct Task {
    /// The door of a host in this same program.
    pub(crate) inside: Option<InsideDoor>,
    pub(crate) resolver: Resolver,
    pub(crate) keys: Keys,
    /// What the student decides at the lock.
    pub(crate) decisions: mpsc::Receiver<Decision>,
    /// The number that goes with the key.
    pub(crate) number: Option<StudentId>,
    pub(crate) name: String,
    pub(crate) clock: LocalClock,
    pub(crate) events: mpsc::Sender<FromNetwork>,
    pub(crate) outboxes: mpsc::Sender<mpsc::Sender<ToHost>>,
    pub(crate) key: watch::Receiver<Option<SeatKey>>,
    /// A key that the host does not know any more.
    pub(crate) forgotten: Option<SeatKey>,
    /// The driver's, which closes it.
    pub(crate) seat: Weak<SeatFile>,
    /// The seat that this program had when it was killed.
    pub(crate) left_from_before: Option<KeptSeat>,
    /// What a new seat was asked for with last.
    pub(crate) asked_with: Option<Asked>,
    /// Several lessons were found when it was looked last.
    pub(crate) several: bool,
}

/// A key for a new seat, and the one host that was shown it.
pub(crate) struct Asked {
    pub(crate) new_key: SeatKey,
    pub(crate) address: SocketAddr,
    pub(crate) host: Option<Fingerprint>,
}

impl Task {
    /// Another lesson, or a host started anew: in as a newcomer.
    pub(crate) async fn forget_seat(&mut self, key: Option<SeatKey>) -> Result<(), Stopped> {
        self.forgotten = key;
        if let Some(seat) = self.seat.upgrade() {
            seat.empty();
        }
        // Of a seat from before nothing was shown yet.
        if self.left_from_before.take().is_none() {
            let refused = ToStudent::Refused(Refusal::UnknownSeat);
            self.tell(FromNetwork::Message(refused)).await?;
        }
        Ok(())
    }

    /// A host that has proved itself knows no such seat as it was shown.
    pub(crate) async fn seat_is_gone(
        &mut self,
        address: SocketAddr,
        host: Fingerprint,
    ) -> Result<(), Stopped> {
        let key = self.key_for(address, Some(host));
        self.forget_seat(key).await
    }

    /// The name as typed.
    pub(crate) fn name(&self) -> &str {
        &self.name
    }

    /// What to join with at this address.
    pub(crate) fn key_for(
        &self,
        address: SocketAddr,
        host: Option<Fingerprint>,
    ) -> Option<SeatKey> {
        let lesson = self.resolver.lesson();
        let from_before = self
            .left_from_before
            .as_ref()
            .filter(|kept| kept.is_at(address, lesson.as_deref(), host))
            .map(|kept| kept.key);
        let key = *self.key.borrow();
        key.or(from_before).filter(|k| Some(*k) != self.forgotten)
    }

    /// The key for a new seat, made anew for each host: whoever gets to know it
    /// can take the seat.
    pub(crate) fn new_key_for(
        &mut self,
        address: SocketAddr,
        host: Option<Fingerprint>,
    ) -> Result<SeatKey, getrandom::Error> {
        let is_same =
            |asked: &&Asked| asked.host == host && (host.is_some() || asked.address == address);
        if let Some(asked) = self.asked_with.as_ref().filter(is_same) {
            return Ok(asked.new_key);
        }
        let mut bytes = [0; 16];
        getrandom::fill(&mut bytes)?;
        let new_key = SeatKey(u128::from_le_bytes(bytes));
        self.asked_with = Some(Asked {
            new_key,
            address,
            host,
        });
        Ok(new_key)
    }

    /// The same for the lock.
    pub(crate) fn seat_at(&self, address: SocketAddr, host: Fingerprint) -> Option<SeatSecret> {
        let key = self.key_for(address, Some(host))?;
        let kept = self.left_from_before.as_ref().map(|kept| kept.student);
        let student = self.number.or(kept)?;
        Some(SeatSecret {
            student: student.0,
            key: key.0,
        })
    }

    pub(crate) fn keep_seat(
        &mut self,
        welcome: &ToStudent,
        address: SocketAddr,
        host: Option<Fingerprint>,
    ) {
        // From here on the driver has the key; or soon, and until then asking
        // again with the same new key gets the same seat.
        self.left_from_before = None;
        let ToStudent::Welcome(welcome) = welcome else {
            return;
        };
        self.number = Some(welcome.student);
        if let Some(seat) = self.seat.upgrade() {
            seat.keep(&KeptSeat {
                key: welcome.key,
                student: welcome.student,
                address,
                lesson: self.resolver.lesson(),
                host,
            });
        }
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
