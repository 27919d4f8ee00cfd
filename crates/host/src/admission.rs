//! Admission: how many connections that have not joined yet there may be, and how
//! fast they may come.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use fifthpeg_link::rate::Rate;
use tokio::time::Instant;

use crate::bounds::Teller;
use crate::{Limits, Notice, RateLimit};

/// Addresses whose pace is remembered; all further ones share one pace.
const MOST_REMEMBERED: usize = 1024;

/// Addresses that students came in from; those of further ones are strangers.
pub(crate) const MOST_KNOWN: usize = 1024;

/// How many of each address have not joined yet.
///
/// Addresses are counted one by one. All machines of a hall may share an IPv6
/// prefix, so counting by prefix would take a whole class for one machine.
#[derive(Debug)]
pub(crate) struct Admission {
    roll: Arc<Mutex<Roll>>,
    limits: Limits,
    /// How fast each stranger's address comes, as far as it counts still.
    paces: HashMap<IpAddr, Rate>,
    /// That of the addresses for which there was no room.
    strangers: Rate,
    /// That of all strangers but those on the host's own machine.
    arrivals: Rate,
    teller: Teller,
}

#[derive(Debug, Default)]
struct Roll {
    standing: HashMap<IpAddr, usize>,
    /// How fast each address comes that a student has come in from: no crowd of
    /// strangers keeps these out.
    known: HashMap<IpAddr, Rate>,
}

/// One connection that has not joined yet; dropped once it has, or has gone.
#[derive(Debug)]
pub(crate) struct Newcomer {
    ip: IpAddr,
    /// The address's own.
    pace: RateLimit,
    roll: Arc<Mutex<Roll>>,
}

impl Newcomer {
    /// Its student is in.
    pub(crate) fn came_in(&self, now: Instant) {
        let known = &mut lock(&self.roll).known;
        if known.len() < MOST_KNOWN || known.contains_key(&self.ip) {
            let pace = self.pace.from(now);
            known.entry(self.ip).or_insert(pace);
        }
    }
}

impl Admission {
    pub(crate) fn new(limits: &Limits, teller: Teller, now: Instant) -> Self {
        Self {
            roll: Arc::default(),
            paces: HashMap::new(),
            strangers: limits.arrivals_from_one.from(now),
            arrivals: limits.arrivals.from(now),
            limits: *limits,
            teller,
        }
    }

    /// Whether a student came in from there.
    pub(crate) fn knows(&self, ip: IpAddr) -> bool {
        lock(&self.roll).known.contains_key(&ip.to_canonical())
    }

    /// Lets a connection stand at the door, unless too many from there do, or
    /// they come too fast.
    pub(crate) fn step_in(&mut self, ip: IpAddr, now: Instant) -> Option<Newcomer> {
        // The same machine, whichever family it was heard over.
        let ip = ip.to_canonical();
        let (limit, pace) = if ip.is_loopback() {
            (
                self.limits.joining_from_here,
                self.limits.arrivals_from_here,
            )
        } else {
            (self.limits.joining_from_one, self.limits.arrivals_from_one)
        };
        let limit = limit.max(1);
        let there = lock(&self.roll).standing.get(&ip).copied();
        let there = there.unwrap_or_default();
        if there >= limit {
            self.teller.tell(Notice::TooManyJoining { ip, limit });
            return None;
        }
        if !self.is_in_time(ip, pace, now) {
            self.teller.tell(Notice::TooSoon { ip });
            return None;
        }
        *lock(&self.roll).standing.entry(ip).or_default() += 1;
        Some(Newcomer {
            ip,
            pace,
            roll: self.roll.clone(),
        })
    }

    /// Whether a connection from there keeps to the pace.
    fn is_in_time(&mut self, ip: IpAddr, pace: RateLimit, now: Instant) -> bool {
        if let Some(rate) = lock(&self.roll).known.get_mut(&ip) {
            return rate.admits(now);
        }
        if self.paces.len() >= MOST_REMEMBERED && !self.paces.contains_key(&ip) {
            self.paces.retain(|_, rate| !rate.is_rested(now));
        }
        let rate = if self.paces.len() >= MOST_REMEMBERED && !self.paces.contains_key(&ip) {
            &mut self.strangers
        } else {
            self.paces.entry(ip).or_insert_with(|| pace.from(now))
        };
        // One's own pace first: one machine's crowd costs the others nothing.
        rate.admits(now) && (ip.is_loopback() || self.arrivals.admits(now))
    }
}

impl Drop for Newcomer {
    fn drop(&mut self) {
        let all = &mut lock(&self.roll).standing;
        if let Some(standing) = all.get_mut(&self.ip) {
            *standing -= 1;
            if *standing == 0 {
                all.remove(&self.ip);
            }
        }
    }
}

/// Counting cannot fail half-way, so a panic elsewhere leaves it whole.
fn lock(roll: &Mutex<Roll>) -> MutexGuard<'_, Roll> {
    roll.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use core::time::Duration;

    use tokio::sync::broadcast;

    use super::*;

    fn admission(limits: &Limits, now: Instant) -> Admission {
        Admission::new(limits, Teller::new(broadcast::channel(8).0), now)
    }

    #[test]
    fn who_comes_too_fast_is_turned_away_and_keeps_nobody_else_out() {
        let pace = |per_second, burst| RateLimit { per_second, burst };
        let limits = Limits {
            arrivals_from_one: pace(10, 5),
            arrivals: pace(100, 50),
            ..Limits::default()
        };
        let now = Instant::now();
        let mut admission = admission(&limits, now);
        let fast: IpAddr = "192.0.2.1".parse().unwrap();
        let let_in = (0..1000).filter(|_| admission.step_in(fast, now).is_some());
        assert_eq!(let_in.count(), 5);
        // Its crowd has cost the others no more than it was let in.
        let others = (1..=100).filter(|n| {
            let ip = IpAddr::from([192, 0, 2, 100 + n]);
            admission.step_in(ip, now).is_some()
        });
        assert_eq!(others.count(), 45);
        // The host's own machine has a pace of its own.
        let here = IpAddr::from([127, 0, 0, 1]);
        assert!(admission.step_in(here, now).is_some());
        let later = now + Duration::from_millis(100);
        assert!(admission.step_in(fast, later).is_some());
    }

    #[test]
    fn ever_new_addresses_make_no_host_grow() {
        let limits = Limits {
            arrivals: RateLimit {
                per_second: 1_000_000,
                burst: 1_000_000,
            },
            ..Limits::default()
        };
        let now = Instant::now();
        let mut admission = admission(&limits, now);
        let mut let_in = 0;
        for n in 0..5000_u128 {
            let ip = IpAddr::from((0xfd00_u128 << 112 | n).to_be_bytes());
            let_in += usize::from(admission.step_in(ip, now).is_some());
        }
        assert!(admission.paces.len() <= MOST_REMEMBERED);
        // Those beyond share what one may.
        let strangers = limits.arrivals_from_one.burst as usize;
        assert_eq!(let_in, MOST_REMEMBERED + strangers);
        assert!(lock(&admission.roll).standing.is_empty());
    }

    #[test]
    fn a_crowd_of_strangers_keeps_no_student_out_who_comes_back() {
        let limits = Limits::default();
        let now = Instant::now();
        let mut admission = admission(&limits, now);
        let student: IpAddr = "192.0.2.1".parse().unwrap();
        let new: IpAddr = "192.0.2.2".parse().unwrap();
        assert!(!admission.knows(student));
        admission.step_in(student, now).unwrap().came_in(now);
        assert!(admission.knows("::ffff:192.0.2.1".parse().unwrap()) && !admission.knows(new));
        // More addresses than are remembered, and more than may come at once.
        for n in 0..5000_u128 {
            let ip = IpAddr::from((0xfd00_u128 << 112 | n).to_be_bytes());
            let _ = admission.step_in(ip, now);
        }
        assert!(admission.step_in(new, now).is_none());
        // A class behind that address, and no more.
        let back = (0..1000).filter(|_| admission.step_in(student, now).is_some());
        assert_eq!(back.count(), limits.arrivals_from_one.burst as usize);
        // The same machine over a socket of the other family.
        let later = now + Duration::from_secs(1);
        let mapped = "::ffff:192.0.2.1".parse().unwrap();
        assert!(admission.step_in(mapped, later).is_some());
        // Nor are those known without end.
        for n in 0..5000_u128 {
            let standing = Newcomer {
                ip: IpAddr::from((0xfd01_u128 << 112 | n).to_be_bytes()),
                pace: limits.arrivals_from_one,
                roll: admission.roll.clone(),
            };
            standing.came_in(now);
        }
        assert_eq!(lock(&admission.roll).known.len(), MOST_KNOWN);
    }

    #[test]
    fn one_address_fills_its_own_room_and_no_more() {
        let limits = Limits {
            joining_from_one: 2,
            joining_from_here: 3,
            ..Limits::default()
        };
        let (notices, mut told) = broadcast::channel(8);
        let now = Instant::now();
        let mut admission = Admission::new(&limits, Teller::new(notices), now);
        let greedy: IpAddr = "192.0.2.1".parse().unwrap();
        let other: IpAddr = "192.0.2.2".parse().unwrap();
        let first = admission.step_in(greedy, now).unwrap();
        // The same machine over a socket of the other family.
        let mapped = "::ffff:192.0.2.1".parse().unwrap();
        let _second = admission.step_in(mapped, now).unwrap();
        for _ in 0..100 {
            assert!(admission.step_in(greedy, now).is_none());
        }
        assert_eq!(
            told.try_recv(),
            Ok(Notice::TooManyJoining {
                ip: greedy,
                limit: 2
            })
        );
        assert!(told.try_recv().is_err(), "told of each one");
        let _other = admission.step_in(other, now).unwrap();
        drop(first);
        let _third = admission.step_in(greedy, now).unwrap();
        assert!(admission.step_in(greedy, now).is_none());

        let here = IpAddr::from([127, 0, 0, 1]);
        let many: Vec<_> = (0..4).map(|_| admission.step_in(here, now)).collect();
        assert_eq!(many.iter().flatten().count(), 3);
    }
}
