//! Reports made of the book: a lesson, a student over time, a class.
//!
//! [`ask::Ask`] finds what is asked for, [`overview::Overview`] holds every
//! figure of it, and [`page`], [`text`] and [`tables`] say it: as a page that
//! needs nothing but itself, for a terminal, as CSV and as JSON. A report about
//! one student names no other, and holds none of the teacher's notes.

pub mod ask;
pub mod asked;
pub mod dates;
pub mod figures;
pub mod notes;
pub mod outlook;
pub mod overview;
pub mod page;
pub mod pictures;
pub mod stats;
pub mod tables;
pub mod text;
pub mod words;
