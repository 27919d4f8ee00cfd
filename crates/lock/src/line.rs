//! The line of guesses that wait to be looked at.
//!
//! Once the room for guesses in all is used up, each new one would be looked at
//! only by luck, and whoever comes most often has most of it. So guesses wait
//! here, and each time there is room the one with most to show for itself goes
//! first: its terminal has worked while it waited ([`Puzzle`]), and work counts for
//! less from where wrong guesses came before. One machine with two hundred addresses
//! has to share its processors among them, a newcomer puts all of one into a
//! single guess. A right guess costs no room, so newcomers go in one after the
//! other.

use core::net::IpAddr;
use core::time::Duration;

use crate::guesses::{Guesses, Verdict};
use crate::{LockError, Puzzle};

/// How guesses wait.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LineLimits {
    /// Guesses that wait at once.
    pub places: usize,
    /// How long one may wait; then its work is lost, so that none is saved up.
    pub at_most: Duration,
    /// How long a newcomer in a full line is given to begin to work.
    pub grace: Duration,
    /// Zeros that a share's hash begins with.
    pub zero_bits: u8,
    /// Shares that count, of one guess, in a second: as many as one processor
    /// finds.
    pub shares_per_second: u32,
}

impl Default for LineLimits {
    fn default() -> Self {
        Self {
            places: 128,
            at_most: Duration::from_secs(24),
            grace: Duration::from_secs(1),
            zero_bits: 18,
            shares_per_second: 32,
        }
    }
}

/// More wrong guesses than this make nobody's work count for even less: whoever
/// shares an address with somebody who guesses comes in all the same.
const MOST_WRONG: u64 = 3;

/// A place in the line.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Ticket(u64);

#[derive(Debug, Clone)]
struct Waiter {
    ticket: Ticket,
    from: IpAddr,
    since: Duration,
    puzzle: Puzzle,
    shares: u32,
    /// Shares come in order, so that none comes twice.
    last: Option<u64>,
}

/// The line. Times are since any one moment, and come from the caller.
#[derive(Debug, Clone)]
pub struct Line {
    limits: LineLimits,
    next: u64,
    /// In the order of coming.
    waiting: Vec<Waiter>,
}

/// Where a guess stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It may be looked at: [`Guesses::guess`] says yes.
    First,
    /// Not before this has passed, or something has changed.
    Waits(Duration),
    /// It is not in the line any more, or never will be looked at from there.
    Out(Verdict),
}

impl Line {
    /// Nobody waits.
    pub fn new(limits: LineLimits) -> Self {
        Self {
            limits,
            next: 0,
            waiting: Vec::new(),
        }
    }

    /// How many wait.
    pub fn waiting(&self) -> usize {
        self.waiting.len()
    }

    /// How it waits.
    pub fn limits(&self) -> &LineLimits {
        &self.limits
    }

    /// Takes a guess into the line. A full one lets go of whoever has hardly
    /// worked; `None` if there is nobody like that.
    pub fn enter(&mut self, from: IpAddr, puzzle: Puzzle, now: Duration) -> Option<Ticket> {
        if self.waiting.len() >= self.limits.places.max(1) {
            let idle = self.most_idle(now)?;
            self.waiting.remove(idle);
        }
        let ticket = Ticket(self.next);
        self.next += 1;
        self.waiting.push(Waiter {
            ticket,
            from: from.to_canonical(),
            since: now,
            puzzle,
            shares: 0,
            last: None,
        });
        Some(ticket)
    }

    /// Of those who had time to begin, who worked least; nobody who found more
    /// than an eighth of what the best found in such a time.
    fn most_idle(&self, now: Duration) -> Option<usize> {
        // Of what counts, in thousandths.
        let part =
            |w: &Waiter| u64::from(w.shares) * 1000 / u64::from(self.most_shares(w.since, now));
        let best = self.waiting.iter().map(part).max().unwrap_or(0);
        let had_time = |w: &Waiter| now.saturating_sub(w.since) >= self.limits.grace;
        let idle = |w: &&Waiter| had_time(w) && part(w) * 8 <= best;
        let idle = self.waiting.iter().filter(idle);
        let most_idle = idle.min_by_key(|w| (part(w), w.ticket))?.ticket;
        self.waiting.iter().position(|w| w.ticket == most_idle)
    }

    /// How many shares of one who waits since then count, with a second's more
    /// for chance.
    fn most_shares(&self, since: Duration, now: Duration) -> u32 {
        let rate = self.limits.shares_per_second.max(1);
        let waited = now.saturating_sub(since) + Duration::from_secs(1);
        let most = waited.as_millis() * u128::from(rate) / 1000;
        u32::try_from(most).unwrap_or(u32::MAX).max(1)
    }

    /// Takes what a waiting terminal has found. What is more than counts is not
    /// even looked at, so that looking costs little whatever comes.
    ///
    /// # Errors
    /// [`LockError::OutOfOrder`] for what is no share, or comes again.
    pub fn worked(
        &mut self,
        ticket: Ticket,
        shares: &[u64],
        now: Duration,
    ) -> Result<(), LockError> {
        let Some(at) = self.waiting.iter().position(|w| w.ticket == ticket) else {
            // Let go a moment ago.
            return Ok(());
        };
        let most = self.most_shares(self.waiting[at].since, now);
        let waiter = &mut self.waiting[at];
        for share in shares {
            if waiter.shares >= most {
                break;
            }
            if waiter.last.is_some_and(|last| *share <= last) || !waiter.puzzle.is_share(*share) {
                return Err(LockError::OutOfOrder("work that is none"));
            }
            waiter.last = Some(*share);
            waiter.shares += 1;
        }
        Ok(())
    }

    /// Where a guess stands. Who has waited too long is out.
    pub fn standing(&self, ticket: Ticket, guesses: &Guesses, now: Duration) -> Standing {
        let Some(waiter) = self.waiting.iter().find(|w| w.ticket == ticket) else {
            return Standing::Out(Verdict::WaitAll(self.limits.grace));
        };
        let left = (waiter.since + self.limits.at_most).saturating_sub(now);
        match guesses.would(waiter.from, now) {
            here @ Verdict::WaitHere(_) => Standing::Out(here),
            Verdict::WaitAll(_) if left.is_zero() => {
                Standing::Out(Verdict::WaitAll(self.limits.grace))
            }
            Verdict::WaitAll(wait) => Standing::Waits(wait.min(left)),
            Verdict::Look if self.first(guesses, now) == Some(ticket) => Standing::First,
            // Whoever is first is looked at any moment now.
            Verdict::Look => Standing::Waits(left.max(Duration::from_millis(1))),
        }
    }

    /// Who has most to show: shares found, for who has guessed wrong before so
    /// many times less; of equals, who came first.
    fn first(&self, guesses: &Guesses, now: Duration) -> Option<Ticket> {
        let may = |w: &&Waiter| !matches!(guesses.would(w.from, now), Verdict::WaitHere(_));
        let mut first: Option<(&Waiter, u64)> = None;
        for waiter in self.waiting.iter().filter(may) {
            let wrong = 1 + guesses.wrong_from(waiter.from).min(MOST_WRONG);
            let ahead = first.is_none_or(|(other, others_wrong)| {
                // As fractions: nobody has nothing to show.
                (1 + u64::from(waiter.shares)) * others_wrong
                    > (1 + u64::from(other.shares)) * wrong
            });
            if ahead {
                first = Some((waiter, wrong));
            }
        }
        first.map(|(waiter, _)| waiter.ticket)
    }

    /// The guess was looked at, or its terminal has gone.
    pub fn leave(&mut self, ticket: Ticket) {
        self.waiting.retain(|w| w.ticket != ticket);
    }
}

#[cfg(test)]
mod tests;
