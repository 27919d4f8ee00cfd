//! Listening to one instrument, with no lesson and no network: is the
//! microphone good, is every string in tune, and how late does sound come back.
//!
//! [`mod@bench`] is what is known of the strings, without a screen, a clock or a
//! device; [`works`] holds the devices; [`plain`] and [`screen`] are the two
//! ways to use them.

pub mod bench;
pub mod hearing;
pub mod microphone;
pub mod plain;
pub mod screen;
pub mod show;
pub mod trim;
pub mod words;
pub mod works;

mod draw;

#[cfg(test)]
mod tests;
