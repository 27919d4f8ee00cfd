//! A student's terminal on the network: finds a lesson, keeps its seat in it
//! through lost connections, sounds tones and reports when they started.
//!
//! What a terminal knows and does is [`fifthpeg_lesson::terminal::Terminal`], which
//! reads no clock and opens no socket. This crate drives it:
//!
//! ```text
//! network task ── finds, connects, joins, comes back ──┐
//! sound thread ── plays, says when it started ─────────┼─▶ driver ─▶ view
//! ear ─────────── hears plucks from a microphone ──────┤
//! orders ──────── from a screen or plain mode ─────────┘
//! ```

mod at_lock;
pub mod bounds;
mod class_keys;
mod config;
mod diary;
mod driver;
pub mod ear;
mod entry;
mod error;
mod find;
mod hosts;
pub mod instrument;
mod key_talk;
mod lock_keys;
mod messages;
mod network;
mod resolver;
mod running;
mod seat;
mod session;
mod status;
mod suspend;
mod task;

pub use class_keys::{class_key_names, forget_class_keys};
pub use config::{StudentConfig, Target, UNWRITTEN_PATIENCE};
pub use entry::{Entry, Wanted};
pub use error::StudentError;
pub use find::{find_lessons, resolve_address};
pub use key_talk::KeyTalk;
pub use running::{Student, start};
pub use status::{LOOKS_LONG, NOT_FOUND, Status};
