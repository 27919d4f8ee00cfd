//! Practice tracks and their answer sheets.

pub mod command;
pub mod html;
pub mod kinds;
pub mod notes;
pub mod page_text;
pub mod practice;
pub mod progress;
pub mod shape;
pub mod sheet;
pub mod source;
pub mod student;
pub mod write;
