//! Homework: a folder for each student of a class.

pub mod names;
pub mod start;
pub mod start_page;
pub mod start_text;
pub mod student;
