//! What comes from the microphone: everything a listener tells, and what the
//! tuner reads besides.

use std::time::Duration;

use fifthpeg_core::Reference;
use fifthpeg_ear::EarDoubt;
use fifthpeg_ear::tuner::{Reading, Tuner};
use fifthpeg_sound::{Captured, Input, Listened, SoundError};
use tokio::sync::mpsc;

/// What may wait to be taken; about two seconds' worth.
const WAITING: usize = 128;

/// One thing from the microphone.
#[derive(Debug, Clone, PartialEq)]
pub enum Hearing {
    /// What the listener tells.
    Listened(Listened),
    /// What the tuner reads now: a string, or nothing, perhaps with a reason.
    Tuner(Option<Reading>, Option<EarDoubt>),
}

/// Where what was heard goes.
pub type ToHearing = mpsc::Sender<Hearing>;

/// The way from the listening thread to the screen.
pub fn channel() -> (ToHearing, mpsc::Receiver<Hearing>) {
    mpsc::channel(WAITING)
}

/// An input whose sound a tuner hears on its way to the listener.
pub struct Tuned {
    input: Box<dyn Input>,
    reference: Reference,
    tuner: Tuner,
    to: ToHearing,
    told: (Option<Reading>, Option<EarDoubt>),
}

impl Tuned {
    /// Puts a tuner on an input.
    ///
    /// # Errors
    /// When the input's rate is none that the tuner can work with.
    pub fn new(
        input: Box<dyn Input>,
        reference: Reference,
        to: ToHearing,
    ) -> Result<Self, SoundError> {
        Ok(Self {
            tuner: Tuner::new(input.rate_hz(), reference)?,
            input,
            reference,
            to,
            told: (None, None),
        })
    }
}

impl Input for Tuned {
    fn rate_hz(&self) -> u32 {
        self.input.rate_hz()
    }

    fn describe(&self) -> String {
        self.input.describe()
    }

    fn read(
        &mut self,
        into: &mut Vec<f32>,
        wait: Duration,
    ) -> Result<Option<Captured>, SoundError> {
        let captured = self.input.read(into, wait)?;
        if let Some(captured) = captured {
            if captured.lost_frames > 0 {
                self.tuner.skip(captured.lost_frames);
            }
            self.tuner.hear(into);
            let now = (self.tuner.reading(), self.tuner.doubt());
            if now != self.told {
                self.told = now;
                // One that finds no room is followed by another.
                let _ = self.to.try_send(Hearing::Tuner(now.0, now.1));
            }
        }
        Ok(captured)
    }

    fn reopen(&mut self) -> Result<(), SoundError> {
        self.input.reopen()?;
        self.tuner = Tuner::new(self.input.rate_hz(), self.reference)?;
        Ok(())
    }
}
