//! How an answer was marked.

use serde::{Deserialize, Serialize};

pub use crate::choices::{Marking, Side, Telling};

/// How one answer was marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum Mark {
    /// Right.
    Right,
    /// Not right; how much is said depends on [`Telling`].
    Missed(Miss),
}

/// What is said of a miss.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct Miss {
    /// What kind; `None` where only the verdict is told.
    pub kind: Option<MissKind>,
    /// Where the answer lay; `None` where it is not told, or the pitch was right.
    pub side: Option<Side>,
}

/// The kinds of miss.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub enum MissKind {
    /// The right note name, one or more whole octaves away.
    Octave {
        /// How many octaves.
        octaves: u8,
    },
    /// One semitone away: the neighbouring fret.
    Neighbour,
    /// Two semitones away.
    WholeTone,
    /// The very pitch, at another place than the one asked for (exact marking).
    OtherPlace,
    /// The right note name in another octave and at another place (exact
    /// marking).
    OtherPlaceOctave {
        /// How many octaves.
        octaves: u8,
    },
    /// Three semitones or more, not an octave; the interval is told.
    Interval {
        /// Distance in semitones.
        semitones: u8,
    },
    /// Three semitones or more, less than [`FAR`]; the interval is not told yet.
    Further,
    /// [`FAR`] semitones or more, not an octave; the interval is not told yet.
    Far,
}

/// From how many semitones on a miss is far off: a fourth, about as far as from a
/// string to the next (common practice, no source).
pub const FAR: u8 = 5;

impl Mark {
    /// Whether the answer was right.
    pub const fn is_right(self) -> bool {
        matches!(self, Mark::Right)
    }

    /// Whether the answer was missed by [`FAR`] or more.
    pub const fn is_far(self) -> bool {
        matches!(
            self,
            Mark::Missed(Miss {
                kind: Some(MissKind::Interval { semitones: FAR.. } | MissKind::Far),
                ..
            })
        )
    }

    /// The mark with no more in it than `telling` allows before the reveal.
    #[must_use]
    pub fn told(self, telling: Telling) -> Mark {
        let Mark::Missed(miss) = self else {
            return self;
        };
        Mark::Missed(match telling {
            Telling::Verdict => Miss {
                kind: None,
                side: None,
            },
            Telling::Hint => Miss {
                kind: miss.kind.map(|kind| match kind {
                    MissKind::Interval { semitones: FAR.. } => MissKind::Far,
                    MissKind::Interval { .. } => MissKind::Further,
                    other => other,
                }),
                side: miss.side,
            },
            Telling::Interval => miss,
        })
    }
}
