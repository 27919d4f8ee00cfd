//! The lesson book: every lesson in one file, nothing confirmed lost.
//!
//! A host opens the [`Book`], begins or resumes a lesson, and gives it to the
//! [`Writer`] with everything the lesson takes in and puts out. A message that
//! confirms something leaves the host only when the batch it came from is
//! stored. Reports and the choice of what to practise ask the [`Reader`].
//!
//! The file is an SQLite database in WAL mode. What a lesson took in is kept
//! until it has ended, so that it can be made again after the host was killed;
//! what came of it is kept in tables for reading. The book reads no clock:
//! times of day come from the caller, as UTC in milliseconds since 1970.

pub mod class_keys;
pub mod error;
pub mod exchange;
pub mod ids;
pub mod lessons;
pub mod location;
pub mod maintenance;
pub mod notes;
pub mod open;
pub mod people;
pub mod reader;
pub mod record;
pub mod schema;
pub mod stored;
pub mod transactions;
pub mod writer;

mod columns;
mod from_rows;
mod keys;
mod lock;
mod log;
mod names;
mod origin;
mod rules;
mod seal;
mod tables;
mod taken_as;
mod to_rows;
mod watch;

pub use class_keys::{KeyHeld, KeyHolder};
pub use error::BookError;
pub use error::BookLost;
pub use exchange::TakenIn;
pub use ids::{LessonId, NoteId, PersonId};
pub use lessons::{OpenLesson, Resumed, RunningLesson};
pub use location::default_location;
pub use maintenance::Holdings;
pub use notes::Note;
pub use open::Book;
pub use people::Removed;
pub use reader::{PersonCall, PersonStanding, Reader, Recall, Recalled, Whose};
pub use record::Batch;
pub use taken_as::TakenAs;
pub use transactions::Transactions;
pub use writer::{BatchNumber, Outlives, Writer, WriterEvent};
