//! A terminal's work while its proof waits in line, on a thread of its own.

use core::sync::atomic::{AtomicBool, Ordering};
use core::time::Duration;
use std::sync::Arc;
use std::thread;
use std::time::Instant;

use fifthpeg_lock::Puzzle;
use fifthpeg_wire::{Bound as _, Shares};
use tokio::sync::mpsc;

/// Numbers that are tried before it is looked whether to go on.
const AT_A_TIME: u64 = 4096;
/// What is found is told this often: the host has as many to listen to.
const TELL_EACH: Duration = Duration::from_millis(250);

/// Work that goes on until this is dropped.
pub(super) struct Working {
    found: mpsc::Receiver<Vec<u64>>,
    stop: Arc<AtomicBool>,
}

impl Working {
    /// Begins.
    pub(super) fn at(puzzle: Puzzle) -> Self {
        let (tell, found) = mpsc::channel(1);
        let stop = Arc::new(AtomicBool::new(false));
        let stopped = stop.clone();
        // Without a thread it only waits.
        let _ = thread::Builder::new()
            .name("waiting in line".into())
            .spawn(move || work(puzzle, &tell, &stopped));
        Self { found, stop }
    }

    /// The next shares found; never, if there are none any more.
    pub(super) async fn found(&mut self) -> Vec<u64> {
        match self.found.recv().await {
            Some(shares) => shares,
            None => std::future::pending().await,
        }
    }
}

impl Drop for Working {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::Relaxed);
    }
}

fn work(puzzle: Puzzle, tell: &mpsc::Sender<Vec<u64>>, stopped: &AtomicBool) {
    let mut next = 0;
    let mut found = Vec::new();
    let mut told = Instant::now();
    while !stopped.load(Ordering::Relaxed) {
        found.extend(puzzle.shares(next, AT_A_TIME));
        next += AT_A_TIME;
        if found.len() >= Shares::LIMIT.most {
            // As much as can be told: it rests meanwhile.
            found.truncate(Shares::LIMIT.most);
            thread::sleep(TELL_EACH.saturating_sub(told.elapsed()));
        }
        if !found.is_empty() && told.elapsed() >= TELL_EACH {
            if tell.blocking_send(core::mem::take(&mut found)).is_err() {
                return;
            }
            told = Instant::now();
        }
    }
}
