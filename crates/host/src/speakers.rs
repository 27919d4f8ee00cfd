//! The host's speakers: a thread of their own, so that making a tone never
//! holds up the lesson.

use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::thread::JoinHandle;
use std::time::Instant;

use fifthpeg_lesson::message::Tone;
use fifthpeg_sound::{Level, Output, SoundError, ToneSpec};
use tokio::sync::broadcast;

use crate::Notice;

/// Tones that may wait to be made.
const WAITING: usize = 8;

/// A running output thread.
pub(crate) struct Speakers {
    queue: SyncSender<(ToneSpec, Instant)>,
    thread: JoinHandle<Result<(), SoundError>>,
    level: Level,
}

impl Speakers {
    /// Starts the thread.
    pub(crate) fn start(
        output: Box<dyn Output>,
        level: Level,
        notices: broadcast::Sender<Notice>,
    ) -> std::io::Result<Self> {
        let (queue, tones) = sync_channel(WAITING);
        let thread = std::thread::Builder::new()
            .name("speakers".into())
            .spawn(move || play_all(output, tones, notices))?;
        Ok(Self {
            queue,
            thread,
            level,
        })
    }

    /// Sounds `tone` at `at`; what cannot be queued is left out, and said so.
    pub(crate) fn sound(&self, tone: &Tone, at: Instant) -> Result<(), Notice> {
        let spec = ToneSpec {
            frequency_hz: tone.frequency_hz,
            voice: tone.voice,
            pluck_seed: tone.pluck_seed,
            level: self.level,
        };
        self.queue.try_send((spec, at)).map_err(|e| {
            Notice::Speakers(match e {
                TrySendError::Full(_) => "too many tones at once".into(),
                TrySendError::Disconnected(_) => "the output has stopped".into(),
            })
        })
    }

    /// Plays what is queued, closes the output. Blocks.
    pub(crate) fn finish(self) -> Result<(), SoundError> {
        drop(self.queue);
        // A panic in an output is that output's fault and loses only sound.
        self.thread.join().unwrap_or(Ok(()))
    }
}

fn play_all(
    mut output: Box<dyn Output>,
    tones: Receiver<(ToneSpec, Instant)>,
    notices: broadcast::Sender<Notice>,
) -> Result<(), SoundError> {
    for (spec, at) in tones {
        if let Err(e) = output.play(&spec, at) {
            // Nobody may be listening for notices; then there is nobody to tell.
            let _ = notices.send(Notice::Speakers(e.to_string()));
        }
    }
    output.finish()
}
