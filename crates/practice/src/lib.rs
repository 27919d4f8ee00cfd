//! Practice between lessons: tracks with their answer sheets, and homework for
//! each student of a class.
//!
//! ```text
//! typed, or the lesson book through track::student -> track::source
//!     -> Practice::of (lesson::track) -> track::write -> sound::track, html, page_text
//! lesson book -> track::student (what is missed) -> track::practice
//!     -> homework: a folder with track, answer sheets, report, start page
//! ```

pub mod homework;
pub mod track;
