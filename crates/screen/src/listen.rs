//! The screen of `fifthpeg listen`: tuning, and trying the microphone out.

pub mod run;
pub mod state;

mod draw;
#[cfg(test)]
mod tests;
