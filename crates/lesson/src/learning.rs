//! What each student hears, and picks made of it: pure, no clock; time is
//! given. `docs/picking.md` at the top of the project explains it for people.
//!
//! [`gather::Gatherer`] makes records of a lesson's events.
//! [`Model`] is made from [`Evidence`] alone and can be made again at any time
//! from the records of the lesson book. [`teaching::pick`] picks by it,
//! [`suggest::suggest`] says whether the reach fits, [`help::who_needs_help`]
//! who needs the teacher, [`practice::percent_missed`] how often each note comes
//! in practice alone. None of them decides: the plain random pick stays,
//! and the reach is the teacher's.

pub mod belief;
pub mod beta;
pub mod confusion;
pub mod evidence;
pub mod figures;
pub mod gather;
pub mod help;
pub mod model;
pub mod moments;
pub mod practice;
pub mod suggest;
pub mod teaching;

pub use evidence::{Confusion, Evidence, Grade, Outcome, StudentKey, When, grade_of};
pub use model::{Estimate, Model, StudentModel};
pub use suggest::{Suggestion, suggest};
pub use teaching::{Pick, Weighing};
