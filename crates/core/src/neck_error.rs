//! Why a neck cannot be.

use crate::neck_limits::{
    LONGEST_NAME, LONGEST_NAME_BYTES, LONGEST_SCALE_MM, MOST_FRETS, MOST_IN_COURSE, MOST_STRINGS,
    SHORTEST_SCALE_MM, WIDEST_COURSE,
};

/// What is wrong with the description of a neck.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum NeckError {
    /// The name is empty, too long, or holds signs that may not be shown.
    #[error(
        "a neck needs a name of 1 to {LONGEST_NAME} letters ({LONGEST_NAME_BYTES} bytes) in one \
         line, without invisible signs, such as \"my banjo\""
    )]
    Name,
    /// No strings, or too many.
    #[error("a neck has 1 to {MOST_STRINGS} strings, not {count}: list each string or course once")]
    StringCount {
        /// How many were described.
        count: usize,
    },
    /// The scale length is no length a neck has.
    #[error(
        "a scale length of {mm} mm fits no neck: measure from the nut to the bridge, \
         {SHORTEST_SCALE_MM} to {LONGEST_SCALE_MM} mm"
    )]
    ScaleLength {
        /// What was given, in millimetres.
        mm: f64,
    },
    /// The last fret of a string does not come after its first, or is too far.
    #[error(
        "string {string} ends at fret {last_fret}: its last fret must be from {least} to {MOST_FRETS}"
    )]
    LastFret {
        /// Which string, from 1.
        string: u8,
        /// What was given.
        last_fret: u8,
        /// The lowest last fret that this string may have.
        least: u8,
    },
    /// The last fret would sound above MIDI 127.
    #[error(
        "string {string} would sound higher than G9 at fret {last_fret}: lower its open pitch or give fewer frets"
    )]
    TooHigh {
        /// Which string, from 1.
        string: u8,
        /// Its last fret.
        last_fret: u8,
    },
    /// Too many strings in a course, or one tuned too far from the first.
    #[error(
        "the course of string {string} cannot be: it has up to {MOST_IN_COURSE} further strings, \
         each within {WIDEST_COURSE} semitones of the first"
    )]
    Course {
        /// Which string, from 1.
        string: u8,
    },
    /// A capo that stops no string.
    #[error("a capo at fret 0 stops nothing: give the fret it sits at, or leave the capo out")]
    CapoNowhere,
    /// A capo that leaves no fret to play.
    #[error(
        "a capo at fret {fret} leaves string {string} nothing to play: put it at fret {most} or lower"
    )]
    CapoTooHigh {
        /// Where it was put.
        fret: u8,
        /// The string that ends first.
        string: u8,
        /// The highest fret it may sit at.
        most: u8,
    },
    /// The short string's own capo lies at or behind its peg.
    #[error(
        "the short string's own capo cannot sit at fret {fret}: string {string} begins at fret {first_fret}"
    )]
    ShortCapoBehindPeg {
        /// Where it was put.
        fret: u8,
        /// Which string, from 1.
        string: u8,
        /// The fret its peg or nut sits at.
        first_fret: u8,
    },
    /// A short string's capo on a neck without short strings.
    #[error("\"{name}\" has no short string to capo on its own: give the main capo's fret only")]
    NoShortString {
        /// The neck's name.
        name: String,
    },
}
