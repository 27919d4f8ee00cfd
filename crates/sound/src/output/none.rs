//! No sound: every tone is accepted and none is heard, which [`Started`] says.

use super::{Argument, Output, OutputKind, Started, not_past};
use crate::{SoundError, ToneSpec};
use std::time::{Duration, Instant};

pub(super) const KIND: OutputKind = OutputKind {
    name: "none",
    example: "none",
    summary: "no sound",
    argument: Argument::Never,
    open: |_| Ok(Box::new(Silent)),
};

/// Accepts what the others accept, so that a lesson runs the same.
#[derive(Debug)]
pub(super) struct Silent;

impl Output for Silent {
    fn play(&mut self, tone: &ToneSpec, at: Instant) -> Result<Started, SoundError> {
        fifthpeg_tone::check_frequency(tone.frequency_hz)?;
        Ok(Started {
            at: not_past(at)?,
            uncertainty: Duration::ZERO,
            audible: false,
        })
    }

    fn describe(&self) -> String {
        "no sound".to_owned()
    }

    fn finish(self: Box<Self>) -> Result<(), SoundError> {
        Ok(())
    }
}
