//! Diagnostics that a teacher can send to whoever helps: what happened at the edges of the program, to a file
//! that was asked for (`--log`), and nowhere else.
//!
//! Privacy is kept by construction, not by care at each line:
//!
//! * What happened is the event's name, a literal of the program (`info!(name: "link-lost", …)`). Messages
//!   are not written.
//! * What goes with it are fields of the table [`FIELDS`]; any other field is left out.
//! * A value is a number, a truth value, or a few plain signs: see [`Kind`] for errors and states,
//!   [`Shortened`] for addresses.
//! * Only what this program's own edges say is written; the libraries' words are not.
//!
//! Pure crates say nothing: they read no clock, and their drivers see all they do.

mod fields;
mod file;
mod kind;
mod level;
mod line;
mod shortened;

pub use fields::FIELDS;
pub use file::{LogError, MOST_BYTES, RunningLog, start};
pub use kind::{Chain, Kind};
pub use level::Detail;
pub use shortened::Shortened;
