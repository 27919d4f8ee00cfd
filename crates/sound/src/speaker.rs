//! A thread that makes and plays tones, so that making one holds nothing else up.

use std::sync::mpsc::{SyncSender, TrySendError, sync_channel};
use std::thread::{Builder, JoinHandle};
use std::time::Instant;

use crate::{Level, Output, SoundError, Started, ToneSpec};

/// A tone that waits to be made, for whom it is told what came of it.
type Job<T> = (T, ToneSpec, Instant);

/// A running sound thread.
pub struct Speaker<T> {
    jobs: SyncSender<Job<T>>,
    thread: JoinHandle<Result<(), SoundError>>,
    level: Level,
}

impl<T: Send + 'static> Speaker<T> {
    /// Starts the thread, in which so many tones may wait, and `played` is told what
    /// came of each.
    ///
    /// # Errors
    /// What the system says, if it gives no thread.
    pub fn start(
        (mut output, level): (Box<dyn Output>, Level),
        waiting: usize,
        mut played: impl FnMut(T, ToneSpec, Result<Started, SoundError>) + Send + 'static,
    ) -> std::io::Result<Self> {
        let (jobs, todo) = sync_channel::<Job<T>>(waiting);
        let thread = Builder::new().name("sound".into()).spawn(move || {
            for (of, tone, at) in todo {
                let started = output.play(&tone, at);
                played(of, tone, started);
            }
            output.finish()
        })?;
        Ok(Self {
            jobs,
            thread,
            level,
        })
    }

    /// How loud it is.
    pub fn level(&self) -> Level {
        self.level
    }

    /// Has a tone sounded at `at`. Never waits.
    ///
    /// # Errors
    /// If so many wait to be made that this one is left out, or the thread is gone:
    /// nothing is told of it.
    pub fn sound(&self, of: T, tone: ToneSpec, at: Instant) -> Result<(), TrySendError<Job<T>>> {
        self.jobs.try_send((of, tone, at))
    }

    /// Plays what is queued and closes the output. Blocks.
    ///
    /// # Errors
    /// When what was played could not all be kept.
    pub fn finish(self) -> Result<(), SoundError> {
        drop(self.jobs);
        // A panic in an output loses sound, and nothing else.
        self.thread.join().unwrap_or(Ok(()))
    }
}
