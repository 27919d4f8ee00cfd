//! The devices: the microphone with its listener, and the output.

use std::time::{Duration, Instant};

use fifthpeg_core::Reference;
use fifthpeg_sound::{
    InputChoice, Level, ListenSettings, Listener, LoopResult, Output, SoundError, ToneSpec, Voice,
    loop_test, open_input, tone_length,
};
use tokio::sync::{mpsc, oneshot};

use super::hearing::{self, Hearing, ToHearing, Tuned};

/// A tone is asked for this far ahead, so that its beginning is not lost.
const AHEAD: Duration = Duration::from_millis(60);
/// The same pluck each time: only the string should change.
const PLUCK_SEED: u32 = 5;

/// A loop test that runs, and what it takes with it.
type Testing = oneshot::Receiver<(Box<dyn Output>, Result<LoopResult, SoundError>)>;

/// The microphone and the output.
pub struct Works {
    choice: InputChoice,
    settings: ListenSettings,
    listener: Option<Listener>,
    to: ToHearing,
    from: mpsc::Receiver<Hearing>,
    output: Option<Box<dyn Output>>,
    level: Level,
    voice: Voice,
    testing: Option<Testing>,
}

impl Works {
    /// Takes the output over; nothing listens yet.
    pub fn new(
        choice: InputChoice,
        settings: ListenSettings,
        (output, level, voice): (Box<dyn Output>, Level, Voice),
    ) -> Self {
        let (to, from) = hearing::channel();
        Self {
            choice,
            settings,
            listener: None,
            to,
            from,
            output: Some(output),
            level,
            voice,
            testing: None,
        }
    }

    /// What the instrument is tuned to.
    pub fn reference(&self) -> Reference {
        self.settings.reference
    }

    /// Begins to listen, if a microphone was asked for.
    ///
    /// # Errors
    /// When it cannot be opened. Everything else still works.
    pub fn listen(&mut self) -> Result<(), SoundError> {
        if self.choice.is_none() {
            return Ok(());
        }
        let input = open_input(&self.choice)?;
        let input = Tuned::new(input, self.settings.reference, self.to.clone())?;
        let to = self.to.clone();
        let sink = move |listened| {
            // A level that finds no room is followed by another.
            let _ = to.try_send(Hearing::Listened(listened));
        };
        self.listener = Some(Listener::start(Box::new(input), self.settings, sink)?);
        Ok(())
    }

    /// Measures the room.
    ///
    /// # Errors
    /// One sentence, when nothing listens.
    pub fn measure_room(&self) -> Result<(), String> {
        let listener = self.listener.as_ref().ok_or(NOTHING_LISTENS)?;
        listener.calibrate();
        Ok(())
    }

    /// Sounds a pitch; when it will have ended.
    ///
    /// # Errors
    /// When the output fails, or the loop is being measured.
    pub fn sound(&mut self, frequency_hz: f64) -> Result<Instant, String> {
        let output = self.output.as_mut().ok_or(MEASURING)?;
        let tone = ToneSpec {
            frequency_hz,
            voice: self.voice,
            pluck_seed: PLUCK_SEED,
            level: self.level,
        };
        let started = output
            .play(&tone, Instant::now() + AHEAD)
            .map_err(|error| error.to_string())?;
        Ok(started.at + tone_length(self.voice))
    }

    /// Begins to measure how late sound comes back. Nothing listens meanwhile.
    ///
    /// # Errors
    /// One sentence, when there is no microphone, or it is being measured already.
    pub fn measure_loop(&mut self) -> Result<(), String> {
        if self.choice.is_none() {
            return Err(NOTHING_LISTENS.to_owned());
        }
        let mut output = self.output.take().ok_or(MEASURING)?;
        self.listener = None;
        let (choice, level) = (self.choice.clone(), self.level);
        let (done, testing) = oneshot::channel();
        self.testing = Some(testing);
        // Its own thread: it waits for sound to come back.
        std::thread::spawn(move || {
            let result = open_input(&choice)
                .and_then(|mut input| loop_test(&mut *output, &mut *input, level));
            // Nobody waits any more once the program ends.
            let _ = done.send((output, result));
        });
        Ok(())
    }

    /// Whether the loop is being measured.
    pub fn is_measuring_loop(&self) -> bool {
        self.testing.is_some()
    }

    /// The next thing from the microphone, or the end of a loop test, after
    /// which it listens again.
    pub async fn next(&mut self) -> FromWorks {
        let Some(testing) = &mut self.testing else {
            return match self.from.recv().await {
                Some(hearing) => FromWorks::Heard(hearing),
                // The other end lives as long as this.
                None => std::future::pending().await,
            };
        };
        let result = match testing.await {
            Ok((output, result)) => {
                self.output = Some(output);
                result.map_err(|error| error.to_string())
            }
            Err(_) => Err("the measuring broke off: start the program again".to_owned()),
        };
        self.testing = None;
        let again = self.listen().map_err(|error| error.to_string());
        FromWorks::Loop(result, again)
    }

    /// Ends it in good order.
    ///
    /// # Errors
    /// When what was sounded could not all be kept.
    pub fn finish(mut self) -> Result<(), SoundError> {
        self.listener = None;
        match self.output.take() {
            Some(output) => output.finish(),
            None => Ok(()),
        }
    }
}

/// What the works have to tell.
#[derive(Debug)]
pub enum FromWorks {
    /// Something from the microphone.
    Heard(Hearing),
    /// What a loop test found, and whether it listens again.
    Loop(Result<LoopResult, String>, Result<(), String>),
}

const NOTHING_LISTENS: &str =
    "nothing listens: start again with --microphone microphone, or see what it says of yours";
const MEASURING: &str = "the delay is being measured: wait until it has ended";
