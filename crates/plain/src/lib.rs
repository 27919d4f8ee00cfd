//! Plain mode: lines in, lines out, for a screen reader, a pipe or a script.
//! Everything that the screens can do is reachable here.

pub mod alone;
pub mod describe;
pub mod desk;
pub mod door;
pub mod ear_report;
pub mod host;
pub mod host_lines;
mod host_report;
mod hush;
pub mod input;
pub mod listen;
pub mod page;
pub mod people;
pub mod rules;
pub mod say;
pub mod student;
pub mod student_lines;
pub mod student_report;
pub mod table;
pub mod wait;
