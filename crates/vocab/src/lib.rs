//! What everybody says to each other, once: messages both ways, what goes into a
//! lesson and comes out of it, marks, rules and their choices. The lesson, the
//! wire, the lesson book and the screens all speak in these types.
//!
//! This crate is pure: no clock, no input or output.

pub mod choice;
pub mod choices;
pub mod event;
pub mod evidence;
pub mod hint;
pub mod input;
pub mod mark;
pub mod message;
pub mod moment;
pub mod pace;
pub mod refusal;
pub mod roles;
pub mod rules;
pub mod setup;
pub mod sung;
pub mod tally;
pub mod words;
pub mod written;

pub use choice::{Choice, Row};
pub use choices::*;
pub use event::LessonEvent;
pub use evidence::{Confusion, Evidence, Outcome, StudentKey, When};
pub use input::{GivenInput, LessonInput};
pub use mark::{Mark, Miss, MissKind};
pub use message::*;
pub use moment::Moment;
pub use rules::{RULES, Rule, Setting};
pub use setup::{HostOrder, LessonSetup};
pub use sung::SungMark;
pub use tally::Tally;
