//! The host's lock: encryption, and the proof that a student knows the
//! passphrase or has a seat here already.

use core::pin::pin;
use core::time::Duration;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use fifthpeg_book::KeyHolder;
use fifthpeg_core::text::tamed;
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::message::{SeatKey, StudentId};
use fifthpeg_link::LinkError;
use fifthpeg_link::channel::HostChannel;
use fifthpeg_link::secure::{ChannelBinding, HostKey, LockChannel, Stream, chance};
use fifthpeg_lock::{
    Guesses, HostLock, HostStep, Line, LockError, Passphrase, PublicKey, Puzzle, Standing, Ticket,
    Verdict,
};
use fifthpeg_wire::{LockAsk, LockReply};
use tokio::sync::{Notify, oneshot};
use tokio::time::{Instant, sleep};

use crate::shared::{Allowance, Shared};
use crate::to_task::Inbound;
use crate::{Limits, Lock, Notice, diary};

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
    /// The words of this lesson's pages.
    pages: PageWords,
    /// Its name, as terminals are told.
    lesson: String,
    desk: Mutex<Desk>,
    /// Somebody has left the line.
    moved_up: Notify,
}

/// The count of guesses, and who waits for one to be looked at.
#[derive(Debug)]
struct Desk {
    guesses: Guesses,
    line: Line,
}

/// The words that open a locked lesson to pages in a browser, and to nothing else.
#[derive(Debug, Clone)]
pub(crate) struct PageWords(Arc<Mutex<Passphrase>>);

impl PageWords {
    /// New ones.
    pub(crate) fn make() -> Result<Self, getrandom::Error> {
        Ok(Self(Arc::new(Mutex::new(made_passphrase()?))))
    }

    /// Others from now on: the old ones will let nobody new in.
    pub(crate) fn renew(&self) -> Result<(), getrandom::Error> {
        *self.0.lock().unwrap_or_else(PoisonError::into_inner) = made_passphrase()?;
        Ok(())
    }

    /// Those that hold now.
    pub(crate) fn now(&self) -> Passphrase {
        self.0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .clone()
    }
}

/// A passphrase that nobody can guess.
///
/// # Errors
/// If this system has no random numbers to give.
pub fn made_passphrase() -> Result<Passphrase, getrandom::Error> {
    Passphrase::made(getrandom::fill)
}

/// What somebody at the lock came with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum By {
    /// A terminal.
    Terminal,
    /// A page in a browser.
    Page,
}

impl DoorLock {
    pub(crate) fn new(lock: Lock, pages: PageWords, lesson: String, limits: &Limits) -> Self {
        match lock {
            Lock::Open => Self::Open,
            Lock::Passphrase { key, passphrase } => Self::Locked(Box::new(Locked {
                key,
                passphrase,
                pages,
                lesson,
                desk: Mutex::new(Desk {
                    guesses: Guesses::new(limits.guesses),
                    line: Line::new(limits.line),
                }),
                moved_up: Notify::new(),
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
        binding: ChannelBinding,
        (ip, allowance, with): (IpAddr, &Allowance, By),
    ) -> Result<(HostChannel<Stream>, Option<KeyHolder>), LinkError> {
        let mut channel: LockChannel<Stream> = channel.speaking();
        let own = self.key.for_class_keys();
        let words = match with {
            By::Terminal => self.passphrase.clone(),
            By::Page => self.pages.now(),
        };
        let (mut lock, first) = HostLock::new((&words, own), binding, &self.lesson);
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
                        lock.seat(seat_key(shared, StudentId(student)).await.map(|k| k.0))
                    }
                    HostStep::LookUpKey { public } => {
                        // Pages have none: an address of theirs may be another host's.
                        let found = match with {
                            By::Terminal => key_holder(shared, public).await,
                            By::Page => None,
                        };
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
                        let guess = Guess {
                            door: self,
                            shared,
                            ip: ip.to_canonical(),
                        };
                        guess
                            .look(&mut lock, &mut channel, &binding, allowance)
                            .await?
                    }
                    // Others were made meanwhile.
                    HostStep::Open(_)
                        if by == "words" && with == By::Page && words != self.pages.now() =>
                    {
                        return Err(LinkError::Lock(LockError::Wrong));
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

    fn desk(&self) -> MutexGuard<'_, Desk> {
        // A count that a panic elsewhere left behind is still a count.
        self.desk.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// One who waits in line, given up when it is dropped.
struct InLine<'d> {
    door: &'d Locked,
    ticket: Ticket,
}

impl Drop for InLine<'_> {
    fn drop(&mut self) {
        self.door.desk().line.leave(self.ticket);
        self.door.moved_up.notify_waiters();
    }
}

/// A guess on its way to being looked at.
struct Guess<'d> {
    door: &'d Locked,
    shared: &'d Shared,
    ip: IpAddr,
}

/// What comes of looking where a guess stands.
enum Looked {
    At(HostStep),
    Waits(Duration),
}

impl Guess<'_> {
    /// Looks at the guess once it is its turn. Where it has to wait, its terminal
    /// is told so and may work for it.
    async fn look(
        &self,
        lock: &mut HostLock<'_>,
        channel: &mut LockChannel<Stream>,
        binding: &ChannelBinding,
        allowance: &Allowance,
    ) -> Result<HostStep, LinkError> {
        let limits = self.shared.limits.line;
        let place = match self.enter(Puzzle::new(binding, limits.zero_bits)) {
            Ok(place) => place,
            Err(wait) => return Ok(self.shut(lock, wait)),
        };
        let mut in_line = false;
        loop {
            let mut moved_up = pin!(self.door.moved_up.notified());
            moved_up.as_mut().enable();
            let wait = match self.stand(lock, place.ticket) {
                Looked::At(step) => {
                    if in_line {
                        allowance.until(Instant::now() + self.shared.limits.join_within);
                    }
                    return Ok(step);
                }
                Looked::Waits(wait) => wait,
            };
            if !in_line {
                in_line = true;
                self.shared.tell(Notice::NewcomersWait);
                // Its room at the door is for others meanwhile.
                let a_moment_more = self.shared.limits.join_within;
                allowance.step_aside(Instant::now() + limits.at_most + a_moment_more);
                let line = LockReply::Line {
                    zero_bits: limits.zero_bits,
                    seconds: whole_seconds(limits.at_most),
                };
                channel.send(&line).await?;
                continue;
            }
            tokio::select! {
                ask = channel.recv() => match ask? {
                    Some(LockAsk::Work { shares }) => {
                        let now = since_start(self.shared.clock.now());
                        self.door.desk().line.worked(place.ticket, &shares, now)?;
                    }
                    Some(_) => return Err(LockError::OutOfOrder("a word that does not come now").into()),
                    // It would rather not wait.
                    None => return Err(LockError::Wait { seconds: 0 }.into()),
                },
                () = sleep(wait) => {}
                () = moved_up => {}
            }
        }
    }

    /// Into the line, unless nothing from there is looked at or it is full.
    fn enter(&self, puzzle: Puzzle) -> Result<InLine<'_>, Verdict> {
        let now = since_start(self.shared.clock.now());
        let mut desk = self.door.desk();
        let verdict = desk.guesses.would(self.ip, now);
        if matches!(verdict, Verdict::WaitHere(_)) {
            return Err(verdict);
        }
        let ticket = desk.line.enter(self.ip, puzzle, now);
        let full = Verdict::WaitAll(self.shared.limits.line.grace);
        let door = self.door;
        ticket.map(|ticket| InLine { door, ticket }).ok_or(full)
    }

    /// Looks at the guess if it is its turn. Nothing is waited for in between, so
    /// that many at once are counted one by one.
    fn stand(&self, lock: &mut HostLock<'_>, ticket: Ticket) -> Looked {
        let now = since_start(self.shared.clock.now());
        let mut desk = self.door.desk();
        let wait = match desk.line.standing(ticket, &desk.guesses, now) {
            Standing::Waits(wait) => return Looked::Waits(wait),
            Standing::Out(wait) => wait,
            Standing::First => desk.guesses.guess(self.ip, now),
        };
        if wait != Verdict::Look {
            drop(desk);
            return Looked::At(self.shut(lock, wait));
        }
        let step = lock.judge();
        if matches!(step, HostStep::Open(_)) {
            desk.guesses.was_right(self.ip);
            return Looked::At(step);
        }
        let notice = Notice::WrongPassphrase {
            ip: self.ip,
            from_there: desk.guesses.wrong_from(self.ip),
            in_all: desk.guesses.wrong_in_all(),
        };
        drop(desk);
        self.shared.tell(notice);
        Looked::At(step)
    }

    /// Leaves the guess unseen.
    fn shut(&self, lock: &mut HostLock<'_>, verdict: Verdict) -> HostStep {
        let (wait, notice) = match verdict {
            Verdict::WaitHere(wait) => {
                let (ip, seconds) = (self.ip, whole_seconds(wait));
                (wait, Notice::GuessesWait { ip, seconds })
            }
            Verdict::WaitAll(wait) => (wait, Notice::NewcomersWait),
            Verdict::Look => (Duration::ZERO, Notice::NewcomersWait),
        };
        self.shared.tell(notice);
        lock.shut(whole_seconds(wait))
    }
}

async fn key_holder(shared: &Shared, public: PublicKey) -> Option<KeyHolder> {
    let (reply, found) = oneshot::channel();
    let ask = Inbound::ClassKey { public, reply };
    shared.inbound.send(ask).await.ok()?;
    found.await.ok().flatten()
}

async fn seat_key(shared: &Shared, student: StudentId) -> Option<SeatKey> {
    let (reply, found) = oneshot::channel();
    let ask = Inbound::SeatKey { student, reply };
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
    tamed("it expects this lesson to be locked, and it is open")
}
