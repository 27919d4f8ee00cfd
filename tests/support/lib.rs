//! Helpers shared by the tests that run the real program.

pub mod net;
pub mod process;
pub mod program;
pub mod pty;

pub use process::{Process, TIMEOUT};
pub use program::{Outcome, host, host_with, join, program, run, temporary};
