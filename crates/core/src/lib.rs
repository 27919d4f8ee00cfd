//! The geometry of a neck: pitches and their names, tunings, necks, places,
//! reaches and fret distances.
//!
//! Everything here is a pure function of its arguments: no clock, no files, no
//! network, no output. Pitches are whole semitones counted as MIDI note
//! numbers; frets are numbered as in tablature, from the main nut; strings are
//! counted from 1, the one drawn at the top of a tablature.
//!
//! ```
//! use fifthpeg_core::{Neck, Pitch, Position, Reach, ReachStep, Spelling};
//!
//! let neck = Neck::ready("banjo-open-g").expect("it comes with the program");
//! let a4: Pitch = "A4".parse()?;
//! assert_eq!(neck.places(a4)[0], Position::new(1, 7));
//! assert_eq!(neck.pitch_at("5/7".parse()?), Some(a4));
//!
//! let reach = Reach::resolve(&neck, &ReachStep::OctaveLow.into())?;
//! let names: Vec<String> = reach.pitches().iter().map(|p| p.name(Spelling::Sharps)).collect();
//! assert_eq!((names[0].as_str(), names[12].as_str()), ("D3", "D4"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod bounded;
pub mod cause;
pub mod doubt;
pub mod drawing;
pub mod frets;
pub mod heard;
pub mod interval;
pub mod name;
mod naming;
pub mod neck;
pub mod neck_file;
pub mod pitch;
pub mod position;
pub mod reach;
pub mod reach_spec;
pub mod scale;
pub mod spelling;
pub mod svg;
pub mod text;
pub mod tunings;
mod wording;

mod alike;
mod neck_error;
mod neck_limits;
mod neck_text;
mod spec_text;
mod words;

pub use cause::Cause;
pub use doubt::Doubt;
pub use drawing::{DrawnCapo, DrawnDot, DrawnFret, DrawnString, NeckDrawing};
pub use frets::{RULE_OF_18_DIVISOR, fret_ratio, rule_of_18_distance};
pub use heard::HeardNote;
pub use interval::interval_name;
pub use name::{NameError, Named};
pub use neck::{Capo, Neck, NeckDescription, NeckString};
pub use neck_error::NeckError;
pub use neck_file::NeckFileError;
pub use pitch::{Pitch, PitchClass, Reference, ReferenceError, cents_between};
pub use position::{Position, PositionError};
pub use reach::{Reach, ReachError};
pub use reach_spec::{NoteSet, ReachSpec, ReachStep};
pub use scale::Scale;
pub use spec_text::ReachTextError;
pub use spelling::Spelling;
pub use tunings::{ReadyNeck, nearest_ready_name, ready_necks};
