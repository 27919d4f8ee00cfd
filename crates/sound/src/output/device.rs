//! A sound device.

use super::{Argument, Output, OutputKind};
use crate::SoundError;

pub(super) const KIND: OutputKind = OutputKind {
    name: "device",
    example: "device or device:NAME",
    summary: "the sound device, or the one of that name",
    argument: Argument::Optional,
    open: |name| -> Result<Box<dyn Output>, SoundError> {
        let _ = name;
        Err(SoundError::NoDevice)
    },
};
