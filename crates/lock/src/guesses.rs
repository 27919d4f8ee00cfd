//! How often the passphrase may be guessed, from one address and in all.
//!
//! Only guesses that turn out wrong cost anything, and whoever proves a seat
//! never comes here: those who are in, and come back, are not kept out by
//! anybody's guessing. One address runs out long before all together do, so a
//! single bad neighbour shuts out itself alone. Where many addresses together use
//! up what there is, guesses wait in a [`crate::Line`].

use core::net::IpAddr;
use core::time::Duration;
use std::collections::HashMap;

/// How many wrong guesses are looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct GuessLimits {
    /// From one address, at once.
    pub at_once_from_one: u32,
    /// Then one more from there each time this has passed.
    pub then_from_one_each: Duration,
    /// From all addresses together, at once.
    pub at_once_in_all: u32,
    /// Then one more each time this has passed.
    pub then_in_all_each: Duration,
    /// Addresses that are kept apart; of more, those with the least to answer
    /// for are forgotten first.
    pub addresses: usize,
}

impl Default for GuessLimits {
    fn default() -> Self {
        Self {
            at_once_from_one: 10,
            then_from_one_each: Duration::from_secs(20),
            at_once_in_all: 60,
            then_in_all_each: Duration::from_secs(3),
            addresses: 1024,
        }
    }
}

impl GuessLimits {
    /// The most wrong guesses that are looked at in so long.
    pub fn most_within(&self, time: Duration) -> u64 {
        let each = self.then_in_all_each.as_nanos().max(1);
        let more = u64::try_from(time.as_nanos() / each).unwrap_or(u64::MAX);
        more.saturating_add(u64::from(self.at_once_in_all))
    }
}

/// Whether a guess may be looked at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Yes. It counts as wrong until [`Guesses::was_right`].
    Look,
    /// Not before this has passed: too many came from this address.
    WaitHere(Duration),
    /// Not before this has passed: too many came from everywhere.
    WaitAll(Duration),
}

/// Room for guesses, kept as time: each guess takes one period, and `owed` says
/// up to when those so far are paid for.
#[derive(Debug, Clone, Copy, Default)]
struct Room {
    owed: Duration,
}

impl Room {
    /// How long until there is room for one more.
    fn wait(&self, now: Duration, each: Duration, at_once: u32) -> Duration {
        let full = each.saturating_mul(at_once.max(1) - 1);
        self.owed.saturating_sub(now).saturating_sub(full)
    }

    fn take(&mut self, now: Duration, each: Duration) {
        self.owed = self.owed.max(now).saturating_add(each);
    }

    fn give_back(&mut self, each: Duration) {
        self.owed = self.owed.saturating_sub(each);
    }
}

#[derive(Debug, Clone, Copy, Default)]
struct Neighbour {
    room: Room,
    wrong: u64,
}

/// The count of wrong guesses. Times are since any one moment, and come from the
/// caller.
#[derive(Debug, Clone)]
pub struct Guesses {
    limits: GuessLimits,
    all: Room,
    from: HashMap<IpAddr, Neighbour>,
    wrong: u64,
}

impl Guesses {
    /// None so far.
    pub fn new(limits: GuessLimits) -> Self {
        Self {
            limits,
            all: Room::default(),
            from: HashMap::new(),
            wrong: 0,
        }
    }

    /// Whether a guess from there would be looked at now. Changes nothing.
    pub fn would(&self, from: IpAddr, now: Duration) -> Verdict {
        let l = &self.limits;
        let here = self.from.get(&from.to_canonical());
        let here = here.map_or(Duration::ZERO, |n| {
            n.room.wait(now, l.then_from_one_each, l.at_once_from_one)
        });
        if here > Duration::ZERO {
            return Verdict::WaitHere(here);
        }
        let all = self.all.wait(now, l.then_in_all_each, l.at_once_in_all);
        if all > Duration::ZERO {
            return Verdict::WaitAll(all);
        }
        Verdict::Look
    }

    /// A guess from there. If it may be looked at it counts as wrong at once,
    /// so that many at one moment are no way round the limit.
    pub fn guess(&mut self, from: IpAddr, now: Duration) -> Verdict {
        let verdict = self.would(from, now);
        if verdict == Verdict::Look {
            let from = from.to_canonical();
            self.make_room_for(from, now);
            let neighbour = self.from.entry(from).or_default();
            neighbour.room.take(now, self.limits.then_from_one_each);
            neighbour.wrong += 1;
            self.all.take(now, self.limits.then_in_all_each);
            self.wrong += 1;
        }
        verdict
    }

    /// The guess just looked at was right: it costs nothing.
    pub fn was_right(&mut self, from: IpAddr) {
        let from = from.to_canonical();
        let Some(neighbour) = self.from.get_mut(&from) else {
            return;
        };
        neighbour.room.give_back(self.limits.then_from_one_each);
        neighbour.wrong -= 1;
        if neighbour.wrong == 0 {
            self.from.remove(&from);
        }
        self.all.give_back(self.limits.then_in_all_each);
        self.wrong -= 1;
    }

    /// Wrong guesses from there, as far as is remembered.
    pub fn wrong_from(&self, from: IpAddr) -> u64 {
        self.from.get(&from.to_canonical()).map_or(0, |n| n.wrong)
    }

    /// Wrong guesses in all.
    pub fn wrong_in_all(&self) -> u64 {
        self.wrong
    }

    /// Addresses remembered.
    pub fn remembered(&self) -> usize {
        self.from.len()
    }

    fn make_room_for(&mut self, from: IpAddr, now: Duration) {
        if self.from.len() < self.limits.addresses.max(1) || self.from.contains_key(&from) {
            return;
        }
        self.from.retain(|_, n| n.room.owed > now);
        if self.from.len() >= self.limits.addresses.max(1) {
            let least = self.from.iter().min_by_key(|(ip, n)| (n.room.owed, **ip));
            if let Some(least) = least.map(|(ip, _)| *ip) {
                self.from.remove(&least);
            }
        }
    }
}
