//! What everybody says to each other, once: messages both ways, what goes into a
//! lesson and comes out of it, marks, rules and their choices. The lesson, the
//! wire, the lesson book and the screens all speak in these types.
//!
//! This crate is pure: no clock, no input or output.

pub mod event;
pub mod evidence;
pub mod input;
pub mod mark;
pub mod message;
pub mod moment;
pub mod refusal;
pub mod roles;
pub mod setup;
pub mod stage;
pub mod sung;
pub mod tally;
pub mod words;

pub use event::{Leaving, LessonEvent};
pub use evidence::{Confusion, Evidence, Outcome, StudentKey, When};
pub use input::{GivenInput, LessonInput};
pub use mark::{Mark, Marking, Miss, MissKind, Side, Telling};
pub use message::*;
pub use moment::Moment;
pub use setup::{HostOrder, LessonSetup, Picked, Picking};
pub use stage::CallStage;
pub use sung::SungMark;
pub use tally::Tally;
