//! The screens: one for the host, one for students, both made of the same
//! pieces.
//!
//! A screen is a state, a `draw` that only reads it, and `handle_key` and
//! `handle_mouse` that change it and may hand out an action. None of these
//! touches a terminal or the network, so tests run them "before, keys, after".
//! The `run` functions join them to a real terminal and a real lesson.

pub mod door;
pub mod ear_line;
pub mod guard;
pub mod help;
pub mod host;
pub mod input;
pub mod keys;
pub mod line_edit;
pub mod listen;
pub mod menu;
pub mod neck;
pub mod options;
pub mod parts;
pub mod rows;
pub mod student;
pub mod theme;
pub mod words;

pub use options::{Colour, ScreenEnd, ScreenError, ScreenOptions};

#[cfg(test)]
mod tests;
