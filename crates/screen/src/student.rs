//! The student's screen.

pub mod alone;
pub mod at_lock;
pub mod commands;
pub mod draw;
pub mod feeds;
pub mod host_keys;
pub mod hosting;
mod input;
mod instrument;
pub mod keys;
pub mod layers;
pub mod layout;
mod run;
mod sentences;
pub mod state;

pub use run::{HostSide, run};
