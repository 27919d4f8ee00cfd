//! The devices: the microphone with its listener, and the output.

use std::time::{Duration, Instant};

use fifthpeg_core::Reference;
use fifthpeg_sound::{
    InputChoice, LOOP_TEST_TAKES, Level, ListenSettings, Listener, LoopResult, Output, SoundError,
    ToneSpec, Trim, Voice, loop_test, open_input, tone_length,
};
use tokio::sync::{mpsc, oneshot};

use super::hearing::{self, Hearing, ToHearing, Tuned};
use super::trim::TrimBench;

/// A tone is asked for this far ahead, so that its beginning is not lost.
const AHEAD: Duration = Duration::from_millis(60);
/// The same pluck each time: only the string should change.
const PLUCK_SEED: u32 = 5;

/// A loop test that runs.
struct Testing {
    began: Instant,
    /// What comes of it, and what it took with it.
    done: oneshot::Receiver<(Box<dyn Output>, Result<LoopResult, SoundError>)>,
}

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
    /// The microphone, being opened again.
    opening: Option<oneshot::Receiver<Result<Listener, SoundError>>>,
    /// The output's trim.
    trim: TrimBench,
}

impl Works {
    /// Takes the output over; nothing listens yet.
    pub fn new(
        choice: InputChoice,
        settings: ListenSettings,
        (output, level, voice): (Box<dyn Output>, Level, Voice),
        trim: TrimBench,
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
            opening: None,
            trim,
        }
    }

    /// The output's trim, to look at.
    pub fn trim(&self) -> &TrimBench {
        &self.trim
    }

    /// Takes what a loop test found; the trim that would put it right, if there is
    /// something to put right.
    pub fn found(&mut self, found: &LoopResult) -> Option<Trim> {
        self.trim.measured(found.delay_ms, found.uncertainty)
    }

    /// Changes the output's trim.
    ///
    /// # Errors
    /// What `change` gives.
    pub fn change_trim(
        &mut self,
        change: impl FnOnce(&mut TrimBench) -> Result<(), String>,
    ) -> Result<(), String> {
        let output = self.output.as_mut().ok_or(MEASURING)?;
        change(&mut self.trim)?;
        output.set_trim(self.trim.trim());
        Ok(())
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
        self.listener = Some(opened(&self.choice, self.settings, &self.to)?);
        Ok(())
    }

    /// Begins to open the microphone again, which may take a second or more.
    fn listen_again(&mut self) {
        let (choice, settings, to) = (self.choice.clone(), self.settings, self.to.clone());
        let (done, opening) = oneshot::channel();
        self.opening = Some(opening);
        std::thread::spawn(move || {
            // Without a taker the listener is dropped, which ends it.
            let _ = done.send(opened(&choice, settings, &to));
        });
    }

    /// Measures the room.
    ///
    /// # Errors
    /// One sentence, when nothing listens.
    pub fn measure_room(&self) -> Result<(), String> {
        if self.testing.is_some() || self.opening.is_some() {
            return Err(MEASURING.to_owned());
        }
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
        if self.opening.is_some() {
            return Err(MEASURING.to_owned());
        }
        let mut output = self.output.take().ok_or(MEASURING)?;
        let listener = self.listener.take();
        let (choice, level) = (self.choice.clone(), self.level);
        let (done, testing) = oneshot::channel();
        self.testing = Some(Testing {
            began: Instant::now(),
            done: testing,
        });
        // Its own thread: it waits for sound to come back, and before that for the
        // listener to let the microphone go.
        std::thread::spawn(move || {
            drop(listener);
            let result = open_input(&choice)
                .and_then(|mut input| loop_test(&mut *output, &mut *input, level));
            // Nobody waits any more once the program ends.
            let _ = done.send((output, result));
        });
        Ok(())
    }

    /// How far the measuring of the loop is, from 0 to 1; `None` if it is not
    /// being measured.
    pub fn measuring(&self, now: Instant) -> Option<f32> {
        let testing = self.testing.as_ref()?;
        let passed = now.saturating_duration_since(testing.began);
        Some((passed.as_secs_f32() / LOOP_TEST_TAKES.as_secs_f32()).min(1.0))
    }

    /// Whether the loop is being measured, or the microphone opened again after
    /// that.
    pub fn is_busy(&self) -> bool {
        self.testing.is_some() || self.opening.is_some()
    }

    /// The next thing from the microphone, or the end of a loop test, after
    /// which it listens again. Never holds its caller up: what takes time runs on
    /// threads of its own.
    pub async fn next(&mut self) -> FromWorks {
        if let Some(testing) = &mut self.testing {
            let result = match (&mut testing.done).await {
                Ok((output, result)) => {
                    self.output = Some(output);
                    result.map_err(|error| error.to_string())
                }
                Err(_) => Err(BROKE_OFF.to_owned()),
            };
            self.testing = None;
            self.listen_again();
            return FromWorks::Loop(result);
        }
        if let Some(opening) = &mut self.opening {
            let opened = match opening.await {
                Ok(Ok(listener)) => {
                    self.listener = Some(listener);
                    Ok(())
                }
                Ok(Err(why)) => Err(why.to_string()),
                Err(_) => Err(BROKE_OFF.to_owned()),
            };
            self.opening = None;
            return FromWorks::ListensAgain(opened);
        }
        match self.from.recv().await {
            Some(hearing) => FromWorks::Heard(hearing),
            // The other end lives as long as this.
            None => std::future::pending().await,
        }
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
    /// What a loop test found.
    Loop(Result<LoopResult, String>),
    /// It listens again after a loop test, or does not.
    ListensAgain(Result<(), String>),
}

fn opened(
    choice: &InputChoice,
    settings: ListenSettings,
    to: &ToHearing,
) -> Result<Listener, SoundError> {
    let input = open_input(choice)?;
    let input = Tuned::new(input, settings.reference, to.clone())?;
    let to = to.clone();
    let sink = move |listened| {
        // A level that finds no room is followed by another.
        let _ = to.try_send(Hearing::Listened(listened));
    };
    Listener::start(Box::new(input), settings, sink)
}

const BROKE_OFF: &str = "the measuring broke off: start the program again";

const NOTHING_LISTENS: &str =
    "nothing listens: start again with --microphone, or see what it says of yours";
const MEASURING: &str = "the delay is being measured: wait until it has ended";
