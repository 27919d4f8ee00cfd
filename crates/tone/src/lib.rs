//! The tone: a plucked string by physical modelling. [`render`] turns a
//! [`ToneSpec`] into samples and touches nothing else: no device, file, thread
//! or clock.
//!
//! Samples are mono `f32`, full scale 1.0. No sample of a tone ever passes
//! [`TONE_CEILING`].

mod error;
mod synth;
mod tone;

pub use error::ToneError;
pub use fifthpeg_vocab::Voice;
pub use synth::{SAMPLE_RATES_HZ, check_frequency, render, sounded, tone_length};
pub use tone::{FREQUENCIES_HZ, Level, LevelError, TONE_CEILING, ToneSpec};
