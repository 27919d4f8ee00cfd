//! The sound thread: makes and plays tones, and says when each started.

use std::sync::mpsc::{Receiver, SyncSender, sync_channel};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use fifthpeg_lesson::terminal::{SoundId, SoundOrder};
use fifthpeg_sound::{Level, Output, SoundError, Started, ToneSpec, tone_length};
use tokio::sync::mpsc;

/// Tones that may wait to be made. Whoever tries faster than this hears the
/// earlier ones only.
pub(crate) const WAITING: usize = 32;

/// What came of one tone.
#[derive(Debug)]
pub(crate) struct Sounded {
    pub(crate) id: SoundId,
    /// How long it lasts once started.
    pub(crate) length: Duration,
    pub(crate) started: Result<Started, SoundError>,
}

struct Job {
    id: SoundId,
    tone: ToneSpec,
    at: Instant,
}

/// A running sound thread.
pub(crate) struct Speaker {
    jobs: SyncSender<Job>,
    thread: JoinHandle<Result<(), SoundError>>,
    level: Level,
}

impl Speaker {
    /// Starts the thread; what comes of each tone arrives at `reports`.
    pub(crate) fn start(
        output: Box<dyn Output>,
        level: Level,
        reports: mpsc::UnboundedSender<Sounded>,
    ) -> std::io::Result<Self> {
        let (jobs, waiting) = sync_channel(WAITING);
        let thread = std::thread::Builder::new()
            .name("sound".into())
            .spawn(move || play_all(output, waiting, reports))?;
        Ok(Self {
            jobs,
            thread,
            level,
        })
    }

    /// Has a tone sounded at `at`. Never waits.
    ///
    /// # Errors
    /// If so many tones wait to be made that this one is left out, or the
    /// thread is gone: nothing more is reported of it.
    pub(crate) fn sound(&self, order: &SoundOrder, at: Instant) -> Result<(), SoundError> {
        let tone = ToneSpec {
            frequency_hz: order.tone.frequency_hz,
            voice: order.tone.voice,
            pluck_seed: order.tone.pluck_seed,
            level: self.level,
        };
        let job = Job {
            id: order.id,
            tone,
            at,
        };
        // Full means that the student tries faster than tones can be made; a
        // tone late by that much would only confuse.
        self.jobs
            .try_send(job)
            .map_err(|_| SoundError::TooManyTones)
    }

    /// Plays what is queued and closes the output. Blocks.
    pub(crate) fn finish(self) -> Result<(), SoundError> {
        drop(self.jobs);
        // A panic in an output loses sound, and nothing else.
        self.thread.join().unwrap_or(Ok(()))
    }
}

fn play_all(
    mut output: Box<dyn Output>,
    jobs: Receiver<Job>,
    reports: mpsc::UnboundedSender<Sounded>,
) -> Result<(), SoundError> {
    for Job { id, tone, at } in jobs {
        let length = tone_length(tone.voice);
        let started = output.play(&tone, at);
        // While the terminal is closing nobody needs to know.
        let _ = reports.send(Sounded {
            id,
            length,
            started,
        });
    }
    output.finish()
}
