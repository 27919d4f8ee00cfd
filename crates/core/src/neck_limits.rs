//! What a neck may have at the most.

/// Most strings (or courses) a neck may have.
pub const MOST_STRINGS: usize = 16;
/// Highest fret number.
pub const MOST_FRETS: u8 = 36;
/// Longest name of a neck, in letters.
pub const LONGEST_NAME: usize = 60;
/// Longest name of a neck, in bytes of UTF-8: what travels to a student.
pub const LONGEST_NAME_BYTES: usize = 128;
/// Shortest scale length, in millimetres.
pub const SHORTEST_SCALE_MM: f64 = 100.0;
/// Longest scale length, in millimetres.
pub const LONGEST_SCALE_MM: f64 = 2000.0;
/// Most further strings in a course.
pub const MOST_IN_COURSE: usize = 3;
/// Furthest a course's further string may be tuned from its first, in semitones.
pub const WIDEST_COURSE: i8 = 24;
