//! Keeps a sound device open: a lost one is opened anew by a thread of its own.

use super::stream::RunningStream;
use crate::SoundError;
use fifthpeg_core::Cause;
use fifthpeg_log::Chain;
use std::sync::mpsc::{self, RecvTimeoutError};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};
use tracing::{info, warn};

/// How often the device is looked at.
const LOOK_EVERY: Duration = Duration::from_millis(250);
/// How often a lost device is tried again.
const TRY_EVERY: Duration = Duration::from_secs(2);

/// A device, kept open until this is dropped.
pub(super) struct Keeper {
    state: Arc<Mutex<State>>,
    /// What it was when last open.
    described: Arc<Mutex<Description>>,
    /// Hanging up ends the thread.
    _stop: mpsc::Sender<()>,
}

struct Description {
    name: String,
    rate_hz: u32,
}

enum State {
    Open(RunningStream),
    Lost {
        reason: Cause,
    },
    /// Nobody wants it any more.
    Closed,
}

impl Keeper {
    pub(super) fn open(name: &str) -> Result<Keeper, SoundError> {
        let open = RunningStream::open(name.to_owned())?;
        let described = Arc::new(Mutex::new(describe(&open)));
        let state = Arc::new(Mutex::new(State::Open(open)));
        let (stop, stopped) = mpsc::channel();
        let watch = Watch {
            name: name.to_owned(),
            state: Arc::clone(&state),
            described: Arc::clone(&described),
        };
        std::thread::Builder::new()
            .name("sound keeping".to_owned())
            .spawn(move || watch.keep(&stopped))
            .map_err(|error| SoundError::Device {
                reason: error.into(),
            })?;
        Ok(Keeper {
            state,
            described,
            _stop: stop,
        })
    }

    /// Does something with the device, if it is there.
    pub(super) fn with<T>(&self, act: impl FnOnce(&RunningStream) -> T) -> Result<T, SoundError> {
        let lost = |reason| Err(SoundError::DeviceLost { reason });
        match &*lock(&self.state) {
            State::Open(open) => match open.lost() {
                None => Ok(act(open)),
                Some(reason) => lost(reason),
            },
            State::Lost { reason } => lost(reason.clone()),
            State::Closed => lost("it is closed".into()),
        }
    }

    pub(super) fn describe(&self) -> String {
        let described = lock(&self.described);
        format!("sound device {}, {} Hz", described.name, described.rate_hz)
    }

    pub(super) fn name(&self) -> String {
        lock(&self.described).name.clone()
    }
}

impl Drop for Keeper {
    fn drop(&mut self) {
        // Closed here and now: the thread may be busy with opening.
        let state = std::mem::replace(&mut *lock(&self.state), State::Closed);
        drop(state);
    }
}

struct Watch {
    name: String,
    state: Arc<Mutex<State>>,
    described: Arc<Mutex<Description>>,
}

impl Watch {
    fn keep(self, stopped: &mpsc::Receiver<()>) {
        let mut tried: Option<Instant> = None;
        while stopped.recv_timeout(LOOK_EVERY) == Err(RecvTimeoutError::Timeout) {
            if !self.lost() {
                tried = None;
            } else if tried.is_none_or(|at| at.elapsed() >= TRY_EVERY) {
                if let Ok(open) = RunningStream::open(self.name.clone()) {
                    self.back(open);
                }
                tried = Some(Instant::now());
            }
        }
    }

    /// Whether the device is lost. A dead stream is let go at once: it may hold
    /// what the new one needs.
    fn lost(&self) -> bool {
        let mut state = lock(&self.state);
        let reason = match &*state {
            State::Open(open) => open.lost(),
            State::Lost { .. } => return true,
            State::Closed => return false,
        };
        let Some(reason) = reason else { return false };
        warn!(name: "output-lost", error = %Chain(&*reason));
        let dead = std::mem::replace(&mut *state, State::Lost { reason });
        drop(state);
        drop(dead);
        true
    }

    fn back(&self, open: RunningStream) {
        let described = describe(&open);
        let mut state = lock(&self.state);
        if matches!(*state, State::Lost { .. }) {
            info!(name: "output-back", rate_hz = open.rate_hz);
            *state = State::Open(open);
            *lock(&self.described) = described;
        }
    }
}

fn describe(open: &RunningStream) -> Description {
    Description {
        name: open.name.clone(),
        rate_hz: open.rate_hz,
    }
}

/// A panic elsewhere leaves a device or none, not broken promises: go on.
fn lock<T>(shared: &Mutex<T>) -> MutexGuard<'_, T> {
    shared.lock().unwrap_or_else(PoisonError::into_inner)
}
