//! A strum is told by its company: each of its strings may sound alone for a
//! moment, but the next comes sooner than any roll's.
//!
//! A note that is cut off so soon by another, louder note is part of a strum.
//! A neighbour's softer note changes nothing for the player's; nor is the pick that
//! touches the string, or a tremolo, more than one note. What comes so soon after
//! another onset must be surer to be one string alone (`ear`).

use crate::settle::Settling;

/// The next string of a strum comes sooner than this, in seconds: a roll as fast would
/// have twelve notes a second.
pub(crate) const SOON_S: f64 = 0.085;
/// Its name is waited for so long, in seconds.
pub(crate) const WAIT_S: f64 = 0.065;

/// Whether a note goes with a strum, now that another was named.
pub(crate) fn is_followed(note: &Settling, by: &Settling, rate_hz: f64) -> bool {
    note.cut_soon(rate_hz) == Some(by.onset.at as i64)
        && by.level_db > note.level_db
        && by.pitch != note.pitch
}
