//! Counts what happens on the network, and tells of it without a flood of
//! lines: the same once in a while, and of the rest how many there were.

use core::hash::BuildHasher;
use core::sync::atomic::{AtomicU64, Ordering};
use core::time::Duration;
use std::collections::HashMap;
use std::hash::RandomState;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::broadcast;
use tokio::time::Instant;

use super::counter::Counter;
use crate::{Notice, diary};

/// The same is told again only after this.
pub(crate) const QUIET: Duration = Duration::from_secs(10);

/// Different notices of one kind that are told within [`QUIET`]: a peer who
/// varies what it does makes no more lines.
const MOST_OF_A_KIND: u32 = 12;

/// Notices remembered as told. Of more, only kinds are kept apart.
const MOST_REMEMBERED: usize = 256;

/// Tells and counts; clones share what they count.
#[derive(Debug, Clone)]
pub(crate) struct Teller(Arc<Shared>);

#[derive(Debug)]
struct Shared {
    notices: broadcast::Sender<Notice>,
    counts: [AtomicU64; Counter::ALL.len()],
    recent: Mutex<Recent>,
}

#[derive(Debug, Default)]
struct Recent {
    /// When each notice, by its hash, was told.
    told: HashMap<u64, Instant>,
    /// How many of each kind were told since the last sum, and were not.
    of_kind: [(u32, u64); Counter::ALL.len()],
    hasher: RandomState,
}

impl Teller {
    pub(crate) fn new(notices: broadcast::Sender<Notice>) -> Self {
        Self(Arc::new(Shared {
            notices,
            counts: Default::default(),
            recent: Mutex::default(),
        }))
    }

    /// Counts a notice, and tells of it unless the same was told just now.
    pub(crate) fn tell(&self, notice: Notice) {
        self.tell_at(notice, Instant::now());
    }

    fn tell_at(&self, notice: Notice, now: Instant) {
        if let Some(counter) = notice.counter() {
            self.0.counts[counter.index()].fetch_add(1, Ordering::Relaxed);
            if !self.recent().is_new(counter, &notice, now) {
                return;
            }
        }
        diary::notice(&notice);
        // Nobody may be listening.
        let _ = self.0.notices.send(notice);
    }

    /// How often each limit was met since the host started; those never met are
    /// left out.
    pub(crate) fn counts(&self) -> Vec<(Counter, u64)> {
        let counted = |c: Counter| self.0.counts[c.index()].load(Ordering::Relaxed);
        Counter::ALL
            .into_iter()
            .map(|c| (c, counted(c)))
            .filter(|(_, times)| *times > 0)
            .collect()
    }

    /// Tells, once in a while, how many notices were not told one by one.
    pub(crate) async fn sum_up(self) {
        let mut tick = tokio::time::interval(QUIET);
        loop {
            let now = tick.tick().await;
            self.sum_up_at(now);
        }
    }

    fn sum_up_at(&self, now: Instant) {
        let sums = self.recent().take_sums(now);
        for (counter, times) in sums {
            diary::more(counter, times);
            let _ = self.0.notices.send(Notice::More { counter, times });
        }
    }

    /// Counting cannot fail half-way, so a panic elsewhere leaves it whole.
    fn recent(&self) -> MutexGuard<'_, Recent> {
        self.0.recent.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Recent {
    fn is_new(&mut self, counter: Counter, notice: &Notice, now: Instant) -> bool {
        let (told, held) = &mut self.of_kind[counter.index()];
        let key = self.hasher.hash_one((counter, notice.same()));
        let just_now = |at: &Instant| now < *at + QUIET;
        let is_new = *told < MOST_OF_A_KIND && !self.told.get(&key).is_some_and(just_now);
        if !is_new {
            *held += 1;
            return false;
        }
        *told += 1;
        if self.told.len() >= MOST_REMEMBERED {
            self.told.retain(|_, at| just_now(at));
        }
        if self.told.len() < MOST_REMEMBERED {
            self.told.insert(key, now);
        }
        true
    }

    fn take_sums(&mut self, now: Instant) -> Vec<(Counter, u64)> {
        self.told.retain(|_, at| now < *at + QUIET);
        let held = std::mem::take(&mut self.of_kind);
        Counter::ALL
            .into_iter()
            .map(|c| (c, held[c.index()].1))
            .filter(|(_, times)| *times > 0)
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn silent(name: &str) -> Notice {
        let name = name.to_owned();
        Notice::Silent { name, seconds: 10 }
    }

    #[test]
    fn the_same_is_told_once_counted_always_and_summed() {
        let (notices, mut told) = broadcast::channel(64);
        let teller = Teller::new(notices);
        let now = Instant::now();
        for _ in 0..1000 {
            teller.tell_at(silent("Mia"), now);
        }
        teller.tell_at(silent("Ben"), now);
        assert_eq!(told.try_recv(), Ok(silent("Mia")));
        assert_eq!(told.try_recv(), Ok(silent("Ben")));
        assert!(told.try_recv().is_err());
        assert_eq!(teller.counts(), [(Counter::Silent, 1001)]);
        teller.sum_up_at(now + QUIET);
        let more = Notice::More {
            counter: Counter::Silent,
            times: 999,
        };
        assert_eq!(told.try_recv(), Ok(more));
        // Summed once; and told again after a while.
        teller.sum_up_at(now + QUIET);
        assert!(told.try_recv().is_err());
        teller.tell_at(silent("Mia"), now + QUIET);
        assert_eq!(told.try_recv(), Ok(silent("Mia")));
    }

    #[test]
    fn a_peer_who_varies_what_it_does_makes_no_flood_of_lines() {
        let (notices, mut told) = broadcast::channel(4096);
        let teller = Teller::new(notices);
        let now = Instant::now();
        for n in 0..3000 {
            teller.tell_at(silent(&format!("Name {n}")), now);
        }
        let lines = std::iter::from_fn(|| told.try_recv().ok()).count();
        assert_eq!(lines, MOST_OF_A_KIND as usize);
        assert!(teller.recent().told.len() <= MOST_REMEMBERED);
        // Ports make no difference.
        let from = |port: u16| Notice::NotJoined {
            address: ([192, 0, 2, 1], port).into(),
            what: "nothing came".into(),
        };
        for port in 1000..2000 {
            teller.tell_at(from(port), now);
        }
        assert_eq!(std::iter::from_fn(|| told.try_recv().ok()).count(), 1);
    }
}
