//! Whose browsers were given the page.

use std::collections::VecDeque;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};

/// Machines that were given the page lately. Their browsers open connections to spare
/// and say nothing over them, which is no news.
#[derive(Debug, Default)]
pub(crate) struct Browsers(Mutex<VecDeque<IpAddr>>);

impl Browsers {
    /// More than a class; one that is forgotten costs a line of news.
    const MOST: usize = 256;

    /// One more.
    pub(crate) fn note(&self, ip: IpAddr) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        all.retain(|known| *known != ip);
        all.truncate(Self::MOST - 1);
        all.push_front(ip);
    }

    /// Whether a browser is there.
    pub(crate) fn knows(&self, ip: IpAddr) -> bool {
        self.0
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .contains(&ip)
    }
}
