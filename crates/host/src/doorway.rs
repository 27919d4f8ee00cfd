//! Who stands in the doorway: connections that have not joined yet.

use core::time::Duration;
use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use tokio::sync::broadcast;
use tokio::time::Instant;

use crate::{Limits, Notice};

/// How long nothing more is told of a crowd once it has been told of.
const QUIET: Duration = Duration::from_secs(10);

/// How many of each address have not joined yet.
///
/// Addresses are counted one by one. All machines of a hall may share an IPv6
/// prefix, so counting by prefix would take a whole class for one machine.
#[derive(Debug)]
pub(crate) struct Doorway {
    standing: Arc<Mutex<HashMap<IpAddr, usize>>>,
    from_one: usize,
    from_here: usize,
    notices: broadcast::Sender<Notice>,
    told: Option<Instant>,
}

/// One connection that has not joined yet; dropped once it has, or has gone.
#[derive(Debug)]
pub(crate) struct Standing {
    ip: IpAddr,
    all: Arc<Mutex<HashMap<IpAddr, usize>>>,
}

impl Doorway {
    pub(crate) fn new(limits: &Limits, notices: broadcast::Sender<Notice>) -> Self {
        Self {
            standing: Arc::default(),
            from_one: limits.joining_from_one.max(1),
            from_here: limits.joining_from_here.max(1),
            notices,
            told: None,
        }
    }

    /// Lets a connection stand in the doorway, unless too many from there do.
    pub(crate) fn step_in(&mut self, ip: IpAddr, now: Instant) -> Option<Standing> {
        // The same machine, whichever family it was heard over.
        let ip = ip.to_canonical();
        let limit = if ip.is_loopback() {
            self.from_here
        } else {
            self.from_one
        };
        let mut all = lock(&self.standing);
        let standing = all.entry(ip).or_default();
        if *standing >= limit {
            drop(all);
            self.tell(Notice::TooManyJoining { ip, limit }, now);
            return None;
        }
        *standing += 1;
        drop(all);
        Some(Standing {
            ip,
            all: self.standing.clone(),
        })
    }

    /// Tells of a crowd, but not of every one in it.
    pub(crate) fn tell(&mut self, notice: Notice, now: Instant) {
        if self.told.is_none_or(|told| now >= told + QUIET) {
            self.told = Some(now);
            // Nobody may be listening.
            let _ = self.notices.send(notice);
        }
    }
}

impl Drop for Standing {
    fn drop(&mut self) {
        let mut all = lock(&self.all);
        if let Some(standing) = all.get_mut(&self.ip) {
            *standing -= 1;
            if *standing == 0 {
                all.remove(&self.ip);
            }
        }
    }
}

/// Counting cannot fail half-way, so a panic elsewhere leaves it whole.
fn lock(all: &Mutex<HashMap<IpAddr, usize>>) -> MutexGuard<'_, HashMap<IpAddr, usize>> {
    all.lock().unwrap_or_else(PoisonError::into_inner)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_address_fills_its_own_room_and_no_more() {
        let limits = Limits {
            joining_from_one: 2,
            joining_from_here: 3,
            ..Limits::default()
        };
        let (notices, mut told) = broadcast::channel(8);
        let mut doorway = Doorway::new(&limits, notices);
        let now = Instant::now();
        let greedy: IpAddr = "192.0.2.1".parse().unwrap();
        let other: IpAddr = "192.0.2.2".parse().unwrap();
        let first = doorway.step_in(greedy, now).unwrap();
        // The same machine over a socket of the other family.
        let mapped = "::ffff:192.0.2.1".parse().unwrap();
        let _second = doorway.step_in(mapped, now).unwrap();
        for _ in 0..100 {
            assert!(doorway.step_in(greedy, now).is_none());
        }
        assert_eq!(
            told.try_recv(),
            Ok(Notice::TooManyJoining {
                ip: greedy,
                limit: 2
            })
        );
        assert!(told.try_recv().is_err(), "told of each one");
        let _other = doorway.step_in(other, now).unwrap();
        drop(first);
        let _third = doorway.step_in(greedy, now).unwrap();
        // Later it is told of again.
        assert!(doorway.step_in(greedy, now + QUIET).is_none());
        assert!(told.try_recv().is_ok());

        let here = IpAddr::from([127, 0, 0, 1]);
        let many: Vec<_> = (0..4).map(|_| doorway.step_in(here, now)).collect();
        assert_eq!(many.iter().flatten().count(), 3);
    }
}
