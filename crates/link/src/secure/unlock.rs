//! The student's way through the lock, over a channel.

use core::time::Duration;

use fifthpeg_lock::{
    ChannelBinding, Fingerprint, Knows, LockError, PublicKey, StudentLock, StudentStep,
};
use fifthpeg_wire::{LockAsk, LockReply};
use rand_core_06::{CryptoRng, OsRng, RngCore};

use super::working::Working;
use crate::LinkError;
use crate::channel::{ByteStream, Channel, StudentChannel};

/// How long a goodbye may take.
const GOODBYE: Duration = Duration::from_millis(500);

/// The host's end of a channel, while its student is at the lock.
pub type LockChannel<S> = Channel<S, LockReply, LockAsk>;

/// The system's randomness, as the lock takes it.
pub fn chance() -> impl CryptoRng + RngCore {
    OsRng
}

/// A student's end of a channel at the lock, and which lesson the host says it
/// is.
pub struct AtLock<S> {
    channel: Channel<S, LockAsk, LockReply>,
    binding: ChannelBinding,
    lesson: String,
}

/// A student's end of a channel past the lock.
pub struct Passed<S> {
    /// The channel, for the join.
    pub channel: StudentChannel<S>,
    /// The class key that opened, if one did.
    pub by_key: Option<PublicKey>,
    /// The host knows no such seat as was shown to it first.
    pub no_seat: bool,
}

/// Hears which lesson it is.
///
/// # Errors
/// If the connection fails, or the host says something else.
pub async fn reach_lock<S: ByteStream>(
    channel: StudentChannel<S>,
    binding: ChannelBinding,
) -> Result<AtLock<S>, LinkError> {
    let mut channel: Channel<S, LockAsk, LockReply> = channel.speaking();
    match channel.recv().await?.ok_or(LinkError::HungUp)? {
        LockReply::Lesson { name } => Ok(AtLock {
            channel,
            binding,
            lesson: name,
        }),
        _ => Err(LinkError::Impossible("no lesson's name at the lock")),
    }
}

impl<S: ByteStream> AtLock<S> {
    /// What the host calls its lesson; nothing proves it yet. Not tamed.
    pub fn lesson(&self) -> &str {
        &self.lesson
    }

    /// What the host is known by.
    pub fn host(&self) -> Fingerprint {
        self.binding.host
    }

    /// Leaves in good order, to come back once more is known. Waits no longer
    /// than a moment.
    pub async fn leave(mut self) {
        let _ = tokio::time::timeout(GOODBYE, self.channel.close()).await;
    }

    /// Proves to the host what is known, and has the host prove it too.
    ///
    /// # Errors
    /// [`LinkError::Lock`] if the host does not let this student through or
    /// cannot be believed; any other if the connection fails. It is closed.
    pub async fn pass(self, knows: Knows) -> Result<Passed<S>, LinkError> {
        self.pass_telling(knows, |_| {}).await
    }

    /// [`AtLock::pass`], which tells when the host has it wait in line, and for
    /// how many seconds at most. While it waits it works for its turn.
    ///
    /// # Errors
    /// As [`AtLock::pass`].
    pub async fn pass_telling(
        mut self,
        knows: Knows,
        mut waits: impl FnMut(u32) + Send,
    ) -> Result<Passed<S>, LinkError> {
        let about = (self.binding, self.lesson.as_str());
        let (mut lock, ask) =
            StudentLock::begin(knows, about, chance()).ok_or(LinkError::Lock(LockError::NoSeat))?;
        self.channel.send(&ask).await?;
        let mut working: Option<Working> = None;
        loop {
            let reply = tokio::select! {
                reply = self.channel.recv() => reply?.ok_or(LinkError::HungUp)?,
                shares = found(&mut working) => {
                    self.channel.send(&LockAsk::Work { shares }).await?;
                    continue;
                }
            };
            match lock.handle(reply, chance()) {
                Ok(StudentStep::Say(ask)) => self.channel.send(&ask).await?,
                Ok(StudentStep::Work { puzzle, seconds }) => {
                    waits(seconds);
                    working = Some(Working::at(puzzle));
                }
                Ok(StudentStep::Through) => {
                    return Ok(Passed {
                        channel: self.channel.speaking(),
                        by_key: lock.by_key(),
                        no_seat: lock.had_no_seat(),
                    });
                }
                Err(why) => {
                    self.leave().await;
                    return Err(why.into());
                }
            }
        }
    }
}

async fn found(working: &mut Option<Working>) -> Vec<u64> {
    match working {
        Some(working) => working.found().await,
        None => std::future::pending().await,
    }
}
