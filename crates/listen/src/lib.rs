//! Listening to one instrument, with no lesson and no network: is the
//! microphone good, is every string in tune, and how late does sound come back.
//!
//! [`mod@bench`] is what is known of the strings, without a screen, a clock or a
//! device; [`works`] holds the devices; [`trims`] keeps what was measured. Plain
//! mode and a screen are the two ways to use them.

pub mod bench;
pub mod hearing;
pub mod microphone;
pub mod trim;
pub mod trims;
pub mod words;
pub mod works;

#[cfg(test)]
mod tests;
