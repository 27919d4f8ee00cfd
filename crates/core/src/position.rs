//! A place on the neck: a string and a fret.

use std::fmt;
use std::str::FromStr;

use serde::de::Error as _;
use serde::{Deserialize, Deserializer, Serialize};

use crate::words;

/// A string and a fret. Sorted by string, then fret.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(into = "(u8, u8)")]
pub struct Position {
    /// The string, counted from 1.
    pub string: u8,
    /// The fret as tablature numbers it, from the main nut; 0 is open.
    pub fret: u8,
}

impl Position {
    /// The place at a string (from 1) and a fret (0 is open).
    pub const fn new(string: u8, fret: u8) -> Position {
        Position { string, fret }
    }
}

/// What a peer sends has no string of number nought; the lesson book keeps what
/// was asked, whether there is such a place or not.
impl<'de> Deserialize<'de> for Position {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let trusted = d.is_human_readable();
        match <(u8, u8)>::deserialize(d)? {
            (0, _) if !trusted => Err(D::Error::custom("a string of number nought")),
            (string, fret) => Ok(Position { string, fret }),
        }
    }
}

impl From<Position> for (u8, u8) {
    fn from(at: Position) -> (u8, u8) {
        (at.string, at.fret)
    }
}

impl fmt::Display for Position {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.string, self.fret)
    }
}

impl FromStr for Position {
    type Err = PositionError;

    fn from_str(text: &str) -> Result<Self, PositionError> {
        parse(text).ok_or_else(|| PositionError {
            text: words::shortened(text),
        })
    }
}

fn parse(text: &str) -> Option<Position> {
    let (string, fret) = text.split_once('/')?;
    let (string, fret) = (number(string)?, number(fret)?);
    (string > 0).then_some(Position { string, fret })
}

/// Digits only: `u8`'s own parser would take a leading plus.
fn number(text: &str) -> Option<u8> {
    let text = text.trim();
    if text.bytes().all(|b| b.is_ascii_digit()) {
        text.parse().ok()
    } else {
        None
    }
}

/// What names no string and fret.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error(
    "\"{text}\" is no place on a neck: write string/fret, such as 2/1, with fret 0 for an open string"
)]
pub struct PositionError {
    /// What was written.
    pub text: String,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_round_trips() {
        for string in 1..=255 {
            for fret in [0, 1, 9, 22, 255] {
                let position = Position::new(string, fret);
                assert_eq!(position.to_string().parse(), Ok(position));
            }
        }
        assert_eq!(" 2 / 1 ".parse(), Ok(Position::new(2, 1)));
    }

    #[test]
    fn nonsense_is_refused() {
        for text in [
            "", "2", "/", "2/", "/1", "0/3", "2/1/3", "+2/1", "2/-1", "2/256", "two/one", "2/1x",
        ] {
            assert!(text.parse::<Position>().is_err(), "{text}");
        }
    }
}
