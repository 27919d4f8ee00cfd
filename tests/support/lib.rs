//! Helpers shared by the tests that run the real program.

pub mod answer_audit;
pub mod clock_trial;
pub mod forwarder;
mod hall;
pub mod machines;
pub mod net;
pub mod peers;
pub mod phones;
pub mod process;
pub mod program;
pub mod pty;
mod python;
mod skip;

pub use hall::Hall;
pub use process::{PLACES, Process, SETTINGS, TIMEOUT};
pub use program::{
    Outcome, host, host_with, join, join_with, program, run, temporary, three_weeks,
};
pub use python::{empty_folder, python_with, run_script, table_rows};
pub use skip::skip;
