//! Practice tracks: what sounds when, from a seed, a reach and settings. Pure
//! planning; sound and files are made elsewhere.
//!
//! One call of a track, from its start:
//!
//! ```text
//! call ....... (again) ....... answer pattern, if any . note ... next call
//! |<- gap / 2 ->|
//! |<----------- gap ---------->|                        |<-REST->|
//! ```
//!
//! One note sounds at a time: each is damped where the next begins. Every time
//! is a whole number of milliseconds, so that files of any kind can hold it.
//!
//! ```
//! use fifthpeg_core::{Neck, Reach, ReachStep};
//! use fifthpeg_lesson::track::{TrackPlan, TrackSettings};
//!
//! let neck = Neck::ready("banjo-open-g").expect("it comes with the program");
//! let reach = Reach::resolve(&neck, &ReachStep::OctaveLow.into())?;
//! let plan = TrackPlan::new(&neck, &reach, &TrackSettings::default(), 7, &[])?;
//! assert_eq!(plan.calls.len(), 20);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod pattern;
mod plan;
mod settings;

pub use pattern::easiest_place;
pub use plan::{Cue, LEAD_IN, REST, TrackCall, TrackPart, TrackPlan};
pub use settings::{AnswerPattern, GAPS, MAX_CALLS, TrackError, TrackLength, TrackSettings};
