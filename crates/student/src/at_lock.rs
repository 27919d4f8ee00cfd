//! The network task at a lesson's lock: which way to go to a host, whether its
//! key is the one remembered, and what to prove.

use core::pin::pin;
use core::time::Duration;
use std::net::SocketAddr;

use fifthpeg_core::text::tamed;
use fifthpeg_lesson::backoff::LONGEST_TOLD;
use fifthpeg_link::LinkError;
use fifthpeg_link::connect::{Connected, Reached, Way, connect_any};
use fifthpeg_link::secure::{AtLock, Fingerprint, Passed, Stream};
use fifthpeg_lock::{Knows, LockError};
use tokio::sync::oneshot;
use tokio::time::{Instant, sleep_until};

use crate::entry::{Decision, Wanted};
use crate::hosts::Seen;
use crate::lock_keys::Through;
use crate::messages::{ANSWER_WITHIN, FromNetwork};
use crate::task::{Next, Stopped, Task};
use crate::{Status, diary};

/// How long the host may take at the lock.
pub(crate) const LOCK_WITHIN: Duration = Duration::from_secs(5);

/// The longest that a terminal waits and works in line: so does whoever says so.
pub(crate) const LONGEST_IN_LINE: Duration = Duration::from_secs(60);

impl Task {
    /// Whether the lesson must be a locked one, so that an open one is not it.
    fn expects_lock(&self, addresses: &[SocketAddr]) -> bool {
        let keys = &self.keys;
        let typed = if self.resolver.is_typed() {
            addresses
        } else {
            &[]
        };
        let lesson = self.resolver.own_name();
        keys.entry.passphrase.is_some()
            || keys.proved.is_some()
            || keys.hosts.expects_lock(lesson.as_deref(), typed)
    }

    /// Connects to the first address that answers, the way that the lesson may
    /// be joined. What the network announces of it plays no part: it may lie.
    pub(crate) async fn connect(&mut self, addresses: &[SocketAddr]) -> Result<Connected, Next> {
        let locked = !self.keys.entry.open && self.expects_lock(addresses);
        let first = if locked { Way::Locked } else { Way::Open };
        match connect_any(addresses, first, ANSWER_WITHIN).await {
            // From open to locked anyone may lead; the other way nobody.
            Err(LinkError::Locked) => connect_any(addresses, Way::Locked, ANSWER_WITHIN)
                .await
                .map_err(|e| self.not_reached(e)),
            Err(e @ LinkError::NotSecure(_)) => {
                // Only to say what is the matter: nobody is joined.
                match connect_any(addresses, Way::Open, ANSWER_WITHIN).await {
                    Ok(_) if self.keys.proved.is_some() => {
                        self.resolver.failed();
                        Err(Next::Later(
                            "an open lesson answers in place of the locked one".into(),
                        ))
                    }
                    Ok(_) => Err(Next::Final(Status::OpenInstead)),
                    Err(old @ LinkError::Outdated { .. }) => Err(self.not_reached(old)),
                    Err(_) => Err(self.not_reached(e)),
                }
            }
            done => done.map_err(|e| self.not_reached(e)),
        }
    }

    fn not_reached(&mut self, e: LinkError) -> Next {
        diary::not_in(&e);
        if matches!(e, LinkError::Outdated { .. }) {
            // The version in it is the peer's word; a screen obeys control signs.
            let advice = e.to_string().chars().filter(|c| !c.is_control()).collect();
            return Next::Final(Status::TooOld { advice });
        }
        self.resolver.failed();
        Next::Later(e.to_string())
    }

    /// Through the lock, if there is one.
    pub(crate) async fn pass(
        &mut self,
        reached: Reached,
        address: SocketAddr,
    ) -> Result<Result<Through, Next>, Stopped> {
        let lock = match reached {
            Reached::Open(channel) => {
                return Ok(Ok(Through {
                    channel,
                    host: None,
                    by_key: false,
                }));
            }
            Reached::Lock(lock) => *lock,
        };
        let key = lock.host();
        let lesson = tamed(lock.lesson());
        if !self.resolver.is_meant(lock.lesson()) {
            return Ok(Err(self.led_to(address, &lesson)));
        }
        if self.resolver.is_hearsay(address) && self.keys.proved != Some(key) {
            // Found by its name alone, which anyone may take: not worth a question.
            return Ok(Err(self.led_to(address, &lesson)));
        }
        let typed = Some(address).filter(|_| self.resolver.is_typed());
        let agreed = self.keys.entry.new_key || self.keys.agreed == Some(key);
        if let Seen::Changed(before) = self.keys.judge(key, &lesson, typed)
            && !agreed
        {
            lock.leave().await;
            let status = Status::KeyChanged {
                lesson,
                now: key.to_string(),
                before: before.to_string(),
            };
            return self.ask(status, Some(key)).await.map(Err);
        }
        let knows = Knows {
            seat: self.seat_at(address, key),
            keys: self
                .keys
                .class_keys
                .fitting(key, self.name(), lock.lesson()),
            passphrase: self.keys.entry.passphrase.clone(),
        };
        if knows.is_nothing() {
            lock.leave().await;
            return self.ask_passphrase(lesson, Wanted::First).await.map(Err);
        }
        self.prove(lock, (key, address), knows, lesson).await
    }

    async fn prove(
        &mut self,
        lock: AtLock<Stream>,
        (key, address): (Fingerprint, SocketAddr),
        knows: Knows,
        lesson: String,
    ) -> Result<Result<Through, Next>, Stopped> {
        let had_key = !knows.keys.is_empty();
        let proved = self.proved(lock, knows).await?;
        if let Err(e) = &proved {
            diary::not_in(e);
        }
        let wanted = match proved {
            Ok(Passed {
                channel,
                by_key,
                no_seat,
            }) => {
                self.keys.wrong = 0;
                if let Some(by_key) = by_key {
                    self.keys.class_keys.note_used(by_key);
                }
                if no_seat {
                    // Another lesson of this host's: it is not asked for once more.
                    self.seat_is_gone(address, key).await?;
                }
                return Ok(Ok(Through {
                    channel,
                    host: Some(key),
                    by_key: by_key.is_some(),
                }));
            }
            Err(LinkError::Lock(LockError::Wrong)) => {
                self.keys.wrong += 1;
                if self.keys.wrong > 1 {
                    Wanted::WrongAgain(key)
                } else {
                    Wanted::Wrong
                }
            }
            Err(LinkError::Lock(LockError::NotTheHost)) => Wanted::NotProved,
            Err(LinkError::Lock(LockError::NoSeat)) => Wanted::First,
            Err(LinkError::Lock(LockError::NoKey)) if had_key => Wanted::KeyGone,
            Err(LinkError::Lock(LockError::NoKey)) => Wanted::First,
            Err(LinkError::Lock(e @ LockError::Wait { seconds })) => {
                let wait = Duration::from_secs(u64::from(seconds)).min(LONGEST_TOLD);
                return Ok(Err(Next::After(e.to_string(), wait)));
            }
            Err(e) => return Ok(Err(Next::Later(e.to_string()))),
        };
        // A wrong one is never tried again by itself: each trial gives whoever
        // is at the other end one guess.
        if matches!(wanted, Wanted::Wrong | Wanted::NotProved) {
            self.keys.entry.passphrase = None;
        }
        self.ask_passphrase(lesson, wanted).await.map(Err)
    }

    /// Proves what is known. The host may have the terminal wait in line for it.
    async fn proved(
        &self,
        lock: AtLock<Stream>,
        knows: Knows,
    ) -> Result<Result<Passed<Stream>, LinkError>, Stopped> {
        let (tell, mut waits) = oneshot::channel();
        let mut tell = Some(tell);
        let mut proving = pin!(lock.pass_telling(knows, move |seconds| {
            // Told once; nobody hears it who does not wait any more.
            let _ = tell.take().map(|tell| tell.send(seconds));
        }));
        let mut until = Instant::now() + LOCK_WITHIN;
        let mut in_line = false;
        loop {
            tokio::select! {
                proved = &mut proving => return Ok(proved),
                Ok(seconds) = &mut waits, if !in_line => {
                    in_line = true;
                    let longest = Duration::from_secs(u64::from(seconds)).min(LONGEST_IN_LINE);
                    until = Instant::now() + longest + LOCK_WITHIN;
                    self.tell(FromNetwork::Status(Status::InLine)).await?;
                }
                () = sleep_until(until) => return Ok(Err(LinkError::TimedOut(LOCK_WITHIN))),
            }
        }
    }

    async fn ask_passphrase(&mut self, lesson: String, wanted: Wanted) -> Result<Next, Stopped> {
        self.ask(Status::PassphraseWanted { lesson, wanted }, None)
            .await
    }

    /// Waits for the student to decide. The connection is closed meanwhile: a
    /// host does not wait for people.
    async fn ask(&mut self, status: Status, shown: Option<Fingerprint>) -> Result<Next, Stopped> {
        self.tell(FromNetwork::Status(status)).await?;
        loop {
            match self.decisions.recv().await.ok_or(Stopped)? {
                Decision::Passphrase(passphrase) => {
                    self.keys.entry.passphrase = Some(passphrase);
                    if shown.is_none() {
                        return Ok(Next::AtOnce);
                    }
                }
                Decision::NewKey => {
                    if shown.is_some() {
                        self.keys.agreed = shown;
                        return Ok(Next::AtOnce);
                    }
                }
            }
        }
    }

    /// What to do about an address that led to another lesson.
    pub(crate) fn led_to(&mut self, address: SocketAddr, lesson: &str) -> Next {
        if self.resolver.led_elsewhere(address) {
            Next::AtOnce
        } else {
            Next::Later(format!("{address} led to another lesson, '{lesson}'"))
        }
    }
}
