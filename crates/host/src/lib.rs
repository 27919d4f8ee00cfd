//! The host of a lesson: takes students in over the network and drives the
//! lesson.
//!
//! One task owns the [`fifthpeg_lesson::Lesson`]; nothing else touches it. Each
//! connection has two tasks of its own, one for each way, and a bounded queue
//! towards its student. A student who does not read fast enough is dropped when that queue is full, and
//! comes back by itself, so nobody ever waits for anybody.
//!
//! ```text
//! accept ─▶ connection ─┐                       ┌─▶ queue ─▶ writing ─▶ student
//! accept ─▶ connection ─┼─▶ bounded queue ─▶ lesson task
//!           orders ─────┘                       └─▶ speakers, view, events
//! ```
//!
//! Where there is a lesson book, everything the lesson takes in and all that
//! comes of it is written there by a thread of its own, and what promises a
//! student something is held until it is. What of this needs no socket, thread
//! or clock is [`engine`].

mod accept;
mod admission;
pub mod alone;
mod bind;
mod book_keeping;
mod book_state;
pub mod bounds;
mod browsers;
mod class_keys;
mod config;
mod connection;
mod connections;
mod diary;
pub mod engine;
mod entering;
mod error;
mod hall;
mod handshake_queue;
mod invite;
mod keys;
mod known;
mod lesson_task;
mod lock;
mod notice;
mod pages;
mod recalling;
mod running;
mod shared;
mod throttled_stream;
mod to_task;
mod view_pacing;
mod writing;
mod written;

pub use book_state::{BookState, without_book};
pub use bounds::Counter;
pub use config::{Certificate, HostConfig, Limits, Lock, RateLimit, any_address};
pub use engine::BURST;
pub use error::{HostError, OrderError};
pub use invite::Invite;
pub use known::{KnownPerson, could_be};
pub use lock::made_passphrase;
pub use notice::Notice;
pub use running::{Host, Prepared, prepare, start};
pub use written::{HostBook, OnReport};
