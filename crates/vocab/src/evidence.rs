//! What is known of students across lessons: one record for each student and call.

use core::time::Duration;

use fifthpeg_core::Pitch;
use serde::{Deserialize, Serialize};

use crate::choice::{Choice, Row, row};
use crate::mark::MissKind;

/// Who, across lessons. The lesson book gives these numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct StudentKey(#[serde(with = "crate::written::hex")] pub u128);

/// A point in time across lessons: whole seconds since an origin that is the
/// same for every record (the lesson book's is 1970-01-01, UTC).
#[derive(
    Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize, Deserialize,
)]
pub struct When(pub i64);

impl When {
    /// Seconds in a day.
    const DAY: f64 = 86_400.0;

    /// Days from `earlier` to `self`, nought if `earlier` is later.
    pub fn days_since(self, earlier: When) -> f64 {
        self.0.saturating_sub(earlier.0).max(0) as f64 / Self::DAY
    }

    /// This point moved on; at most to the end of the scale.
    #[must_use]
    pub fn after(self, time: Duration) -> When {
        let seconds = i64::try_from(time.as_secs()).unwrap_or(i64::MAX);
        When(self.0.saturating_add(seconds))
    }
}

/// What became of a call for one student.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Outcome {
    /// The first answer was right.
    FoundFirst,
    /// A later answer was right.
    FoundLater,
    /// Searched or answered, and did not find it.
    NotFound,
    /// No answer, no try, no hearing asked for. It says nothing of the ear, so
    /// the model learns nothing from it; it is kept for the teacher's glance.
    Silent,
}

impl Choice for Outcome {
    const WHAT: &'static str = "outcome";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::FoundFirst, 0, "found-first", "found at the first answer", "the first answer was right"),
        row(Self::FoundLater, 1, "found-later", "found later",               "a later answer was right"),
        row(Self::NotFound,   2, "not-found",   "not found",                 "searched or answered, and did not find it"),
        row(Self::Silent,     3, "silent",      "silent",                    "no answer, no try, no hearing asked for"),
    ];
}

/// What an answer was taken for: the kinds of confusion.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Confusion {
    /// The right name in another octave.
    Octave,
    /// A semitone away.
    Neighbour,
    /// A whole tone away.
    WholeTone,
    /// Further away.
    Further,
}

impl Choice for Confusion {
    const WHAT: &'static str = "kind of confusion";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Octave,    0, "octave",     "an octave away",    "the right name in another octave"),
        row(Self::Neighbour, 1, "semitone",   "a semitone away",   "a semitone away"),
        row(Self::WholeTone, 2, "whole-tone", "a whole tone away", "a whole tone away"),
        row(Self::Further,   3, "further",    "further away",      "further away"),
    ];
}

impl Confusion {
    /// Every kind.
    pub const ALL: [Confusion; 4] = [
        Confusion::Octave,
        Confusion::Neighbour,
        Confusion::WholeTone,
        Confusion::Further,
    ];

    /// The kind of a miss; `None` where the pitch was right and only the place
    /// was not, which is no matter of the ear.
    pub fn of(miss: MissKind) -> Option<Confusion> {
        match miss {
            MissKind::Octave { .. } | MissKind::OtherPlaceOctave { .. } => Some(Confusion::Octave),
            MissKind::Neighbour => Some(Confusion::Neighbour),
            MissKind::WholeTone => Some(Confusion::WholeTone),
            MissKind::Interval { .. } | MissKind::Further | MissKind::Far => {
                Some(Confusion::Further)
            }
            MissKind::OtherPlace => None,
        }
    }

    /// The place in [`Confusion::ALL`].
    pub const fn index(self) -> usize {
        self as usize
    }
}

/// One student's part in one call.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Evidence {
    /// Who.
    pub student: StudentKey,
    /// The target.
    pub pitch: Pitch,
    /// How many notes the reach held.
    pub reach_size: u16,
    /// What became of it.
    pub outcome: Outcome,
    /// Hearings asked for beyond the free one, before the first answer or, if
    /// that is not known, in all.
    pub hearings: u32,
    /// Tries, likewise.
    pub tries: u32,
    /// Response time of the first answer, if known.
    pub response: Option<Duration>,
    /// What the first wrong answer was taken for.
    pub miss: Option<Confusion>,
    /// When the call was made.
    pub when: When,
}
