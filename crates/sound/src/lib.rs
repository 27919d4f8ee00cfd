//! The outputs that play a tone (`fifthpeg_tone`), and the inputs that hear what is
//! played on the instrument.
//!
//! An
//! [`Output`] plays a tone at an instant and says when it really started.
//! Outputs are a table, [`OUTPUTS`]: a new one is one file in `output/` and one
//! line in the table.
//!
//! An [`Input`] hears, and says when each sample was in the air; inputs are a
//! table as well, [`INPUTS`]. A [`Listener`] is a thread with an ear on an input.
//! What is heard stays in memory, and only as long as the ear needs it.
//!
//! Samples are mono `f32`, full scale 1.0. No sample of a tone, nor of several
//! tones together, ever passes [`CEILING`].
//!
//! ```
//! use fifthpeg_sound::{Level, OutputChoice, ToneSpec, Voice, open_or_silent};
//! use std::time::{Duration, Instant};
//!
//! let choice: OutputChoice = "none".parse()?;
//! let (mut output, to_tell) = open_or_silent(&choice);
//! assert_eq!(to_tell, None);
//! let tone = ToneSpec {
//!     frequency_hz: 146.83,
//!     voice: Voice::Banjo,
//!     pluck_seed: 7,
//!     level: Level::default(),
//! };
//! let at = Instant::now() + Duration::from_millis(250);
//! let started = output.play(&tone, at)?;
//! assert_eq!(started.at, at);
//! output.finish()?;
//! # Ok::<(), fifthpeg_sound::SoundError>(())
//! ```

mod choice;
mod devices;
mod error;
pub mod input;
mod listener;
mod loop_test;
pub mod output;
mod quiet;
mod speaker;
mod system;
mod timeline;
pub mod track;

pub use choice::{Choice, Kind, Kinds};
pub use error::SoundError;
pub use fifthpeg_tone::{
    FREQUENCIES_HZ, Level, LevelError, SAMPLE_RATES_HZ, TONE_CEILING, ToneError, ToneSpec, Voice,
    render, tone_length,
};
pub use input::{Captured, INPUTS, Input, InputChoice, InputKind, input_names, open_input};
pub use listener::{EarDoubt, ListenFor, ListenSettings, Listened, Listener, Room, RoomTrouble};
pub use loop_test::{LOOP_TEST_TAKES, LoopResult, loop_test};
pub use output::{
    MAX_AHEAD, OUTPUTS, Output, OutputChoice, OutputKind, Started, TRIMS_MS, Trim, Trimmed, open,
    open_or_silent,
};
pub use speaker::Speaker;
pub use timeline::{CEILING, MAX_TONES};
