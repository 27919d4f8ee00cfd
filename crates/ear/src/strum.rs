//! A strum is told by its company: each of its strings may sound alone for a
//! moment, but the next comes sooner than any roll's.
//!
//! A note that is cut off so soon by another, louder note is part of a strum. So are
//! both where one of them turns out to be several notes, unless the other is louder.
//! A neighbour's softer note changes nothing for the player's; nor is the pick that
//! touches the string, or a tremolo, more than one note. What comes so soon after
//! another onset must be surer to be one string alone (`ear`).

use crate::cut::THROUGH_DB;
use crate::decide::Decision;
use crate::settle::Settling;

/// The next string of a strum comes sooner than this, in seconds: a roll as fast would
/// have twelve notes a second.
pub(crate) const SOON_S: f64 = 0.085;
/// What becomes of it is waited for so much longer than it is heard, in seconds.
pub(crate) const WAIT_S: f64 = 0.005;
/// but not longer than this after its onset: who listens wants to know.
pub(crate) const LONGEST_WAIT_S: f64 = 0.34;

/// What comes next is as loud if it is not softer than this, in dB.
const AS_LOUD_DB: f64 = 0.5;

/// Whether a note goes with a strum, now that another was named.
pub(crate) fn is_followed(note: &Settling, by: &Settling, rate_hz: f64) -> bool {
    note.cut_soon(rate_hz) == Some(by.onset.at as i64)
        && by.level_db > note.level_db
        && by.pitch != note.pitch
}

/// A note turned out to be several: so are those that it goes with, be they named or
/// still decided on.
pub(crate) fn is_several(
    i: usize,
    settling: &mut [Settling],
    decisions: &mut [Decision],
    rate_hz: f64,
) {
    let note = settling[i];
    let cut = note.cut_soon(rate_hz);
    for other in settling.iter_mut().filter(|other| other.busy) {
        let next = cut == Some(other.onset.at as i64);
        let before = other.cut_soon(rate_hz) == Some(note.onset.at as i64);
        let louder_by_db = other.level_db - note.level_db;
        other.strummed |= next && louder_by_db < THROUGH_DB || before && louder_by_db < AS_LOUD_DB;
    }
    for next in decisions.iter_mut().filter(|next| next.busy) {
        if cut == Some(next.onset.at as i64) {
            next.after_several_db = note.level_db;
        }
    }
}

#[cfg(test)]
mod tests {
    use fifthpeg_core::Pitch;

    use super::*;
    use crate::decide::Named;
    use crate::workspace::Workspace;

    const RATE_HZ: f64 = 1000.0;

    /// A note at a moment, so loud and cut off then, in milliseconds.
    fn note(at: f64, level_db: f64, cut: i64) -> Settling {
        let mut note = Settling::default();
        (note.busy, note.level_db, note.onset.at) = (true, level_db, at);
        note.cut(cut, 9.0);
        note
    }

    #[test]
    fn what_goes_with_several_notes_is_part_of_them_unless_it_is_louder_or_far_apart() {
        let several = note(100.0, -20.0, 150);
        for (other, goes_with) in [
            // What comes next, as loud or far louder.
            (note(150.0, -17.0, i64::MAX), true),
            (note(150.0, -15.0, i64::MAX), false),
            // What it cut off, as loud, louder, and longer ago.
            (note(50.0, -20.0, 100), true),
            (note(50.0, -18.0, 100), false),
            (note(10.0, -20.0, 100), false),
            // What neither cuts off the other.
            (note(50.0, -20.0, 90), false),
        ] {
            let mut settling = [several, other];
            is_several(0, &mut settling, &mut [], RATE_HZ);
            assert_eq!(settling[1].strummed, goes_with, "{other:?}");
        }
    }

    #[test]
    fn what_is_still_decided_on_is_told_what_it_follows() {
        let workspace = Workspace::new(12_000.0, 50, 84, 440.0);
        let mut next = [Decision::new(&workspace, 40)];
        next[0].busy = true;
        next[0].onset.at = 150.0;
        is_several(0, &mut [note(100.0, -20.0, 150)], &mut next, RATE_HZ);
        assert_eq!(next[0].after_several_db, -20.0);
        let begun = |level_db| {
            Settling::begin(None, Pitch::A4, Named::default(), &next[0], level_db).strummed
        };
        assert!(begun(-19.0));
        assert!(!begun(-15.0));
    }
}
