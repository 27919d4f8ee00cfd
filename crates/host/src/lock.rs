//! The host's lock: encryption, and the proof that a student knows the
//! passphrase or has a place here already.

use core::time::Duration;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};

use fifthpeg_book::KeyHolder;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{PlaceKey, StudentId};
use fifthpeg_link::channel::HostChannel;
use fifthpeg_link::secure::{Binding, HostKey, LockChannel, Stream, chance};
use fifthpeg_link::{LinkError, tame};
use fifthpeg_lock::{
    GuessLimits, Guesses, HostLock, HostStep, LockError, Passphrase, PublicKey, Verdict,
};
use tokio::sync::oneshot;

use crate::connection::Shared;
use crate::lesson_task::Inbound;
use crate::{Lock, Notice, diary};

/// What is behind the door of a lesson.
#[derive(Debug)]
pub(crate) enum DoorLock {
    /// Nothing: whoever comes is let in.
    Open,
    /// A lock.
    Locked(Box<Locked>),
}

/// A lock with the count of those who tried it.
#[derive(Debug)]
pub(crate) struct Locked {
    pub(crate) key: HostKey,
    passphrase: Passphrase,
    /// Its name, as terminals are told.
    lesson: String,
    guesses: Mutex<Guesses>,
}

impl DoorLock {
    pub(crate) fn new(lock: Lock, lesson: String, limits: GuessLimits) -> Self {
        match lock {
            Lock::Open => Self::Open,
            Lock::Passphrase { key, passphrase } => Self::Locked(Box::new(Locked {
                key,
                passphrase,
                lesson,
                guesses: Mutex::new(Guesses::new(limits)),
            })),
        }
    }
}

impl Locked {
    /// Has the student at this channel prove what it knows; gives the channel
    /// back for the join.
    ///
    /// # Errors
    /// [`LinkError::Lock`] if it could not; any other if the connection failed.
    pub(crate) async fn let_through(
        &self,
        shared: &Shared,
        channel: HostChannel<Stream>,
        binding: Binding,
        ip: IpAddr,
    ) -> Result<(HostChannel<Stream>, Option<KeyHolder>), LinkError> {
        let mut channel: LockChannel<Stream> = channel.speaking();
        let own = self.key.for_class_keys();
        let (mut lock, first) = HostLock::new((&self.passphrase, own), binding, &self.lesson);
        channel.send(&first).await?;
        let mut holder = None;
        let mut by = "place";
        loop {
            // Whoever has to be asked for the passphrase first leaves, and comes back.
            let ask = channel.recv().await?.ok_or(LinkError::Locked)?;
            let mut step = shared.in_turn(|| lock.handle(ask, chance())).await?;
            loop {
                step = match step {
                    HostStep::Say(reply) => {
                        channel.send(&reply).await?;
                        break;
                    }
                    HostStep::LookUp { student } => {
                        lock.place(place_key(shared, StudentId(student)).await.map(|k| k.0))
                    }
                    HostStep::LookUpKey { public } => {
                        let found = key_holder(shared, public).await;
                        let class = found.as_ref().map(|holder| holder.class.as_str());
                        let step = shared.in_turn(|| lock.class_key(class)).await;
                        if matches!(step, HostStep::Open(_)) {
                            by = "class-key";
                            holder = found;
                            // A lesson that is over lets nobody in anyway.
                            let _ = shared.inbound.send(Inbound::KeyUsed(public)).await;
                        }
                        step
                    }
                    HostStep::Guess => {
                        by = "words";
                        self.guess(shared, &mut lock, ip)
                    }
                    HostStep::Open(reply) => {
                        diary::through_lock(by, ip);
                        channel.send(&reply).await?;
                        return Ok((channel.speaking(), holder));
                    }
                    HostStep::Shut { reply, wrong } => {
                        channel.send(&reply).await?;
                        channel.close().await;
                        return Err(LinkError::Lock(if wrong {
                            LockError::Wrong
                        } else {
                            LockError::Wait { seconds: 0 }
                        }));
                    }
                };
            }
        }
    }

    /// Looks at a guess, or not. Nothing is waited for in between, so that many
    /// at once are counted one by one.
    fn guess(&self, shared: &Shared, lock: &mut HostLock<'_>, ip: IpAddr) -> HostStep {
        let now = since_start(shared.clock.now());
        // A count that a panic elsewhere left behind is still a count.
        let mut guesses = self.guesses.lock().unwrap_or_else(PoisonError::into_inner);
        let (wait, notice) = match guesses.guess(ip, now) {
            Verdict::Look => {
                let step = lock.judge();
                let notice = if matches!(step, HostStep::Open(_)) {
                    guesses.was_right(ip);
                    None
                } else {
                    Some(Notice::WrongPassphrase {
                        ip: ip.to_canonical(),
                        from_there: guesses.wrong_from(ip),
                        in_all: guesses.wrong_in_all(),
                    })
                };
                drop(guesses);
                notice.into_iter().for_each(|n| shared.tell(n));
                return step;
            }
            Verdict::WaitHere(wait) => {
                let ip = ip.to_canonical();
                let seconds = whole_seconds(wait);
                (wait, Notice::GuessesWait { ip, seconds })
            }
            Verdict::WaitAll(wait) => {
                let seconds = whole_seconds(wait);
                (wait, Notice::NewcomersWait { seconds })
            }
        };
        drop(guesses);
        shared.tell(notice);
        lock.shut(whole_seconds(wait))
    }
}

async fn key_holder(shared: &Shared, public: PublicKey) -> Option<KeyHolder> {
    let (reply, found) = oneshot::channel();
    let ask = Inbound::ClassKey { public, reply };
    shared.inbound.send(ask).await.ok()?;
    found.await.ok().flatten()
}

async fn place_key(shared: &Shared, student: StudentId) -> Option<PlaceKey> {
    let (reply, found) = oneshot::channel();
    let ask = Inbound::PlaceKey { student, reply };
    shared.inbound.send(ask).await.ok()?;
    found.await.ok().flatten()
}

fn since_start(now: Moment) -> Duration {
    Duration::from_micros(now.micros())
}

/// Never nought: who has to wait shall not come back at once.
fn whole_seconds(wait: Duration) -> u32 {
    u32::try_from(wait.as_secs().saturating_add(1)).unwrap_or(u32::MAX)
}

/// What to tell of a student who did not pass: of wrong guesses it has been.
pub(crate) fn is_worth_telling(e: &LinkError) -> bool {
    !matches!(
        e,
        LinkError::Locked | LinkError::Lock(LockError::Wrong | LockError::Wait { .. })
    )
}

/// A sentence for a host whose lesson is open and whom a terminal takes for
/// locked.
pub(crate) fn expected_a_lock() -> String {
    tame("it expects this lesson to be locked, and it is open")
}
