//! The student's screen.

pub mod draw;
pub mod keys;
pub mod layout;
mod run;
mod sentences;
pub mod state;

pub use run::run;
