//! No microphone: nothing is heard, which is no trouble.

use super::{Argument, Captured, Input, InputKind};
use crate::SoundError;
use std::time::Duration;

pub(super) const KIND: InputKind = InputKind {
    name: "none",
    example: "none",
    summary: "no microphone: answers are given on the screen",
    argument: Argument::Never,
    open: |_| Ok(Box::new(Silence)),
};

#[derive(Debug)]
struct Silence;

impl Input for Silence {
    fn rate_hz(&self) -> u32 {
        48_000
    }

    fn describe(&self) -> String {
        "no microphone".to_owned()
    }

    fn read(
        &mut self,
        into: &mut Vec<f32>,
        wait: Duration,
    ) -> Result<Option<Captured>, SoundError> {
        into.clear();
        std::thread::sleep(wait);
        Ok(None)
    }

    fn reopen(&mut self) -> Result<(), SoundError> {
        Ok(())
    }
}
