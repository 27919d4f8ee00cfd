//! What counts as right, what a miss says, and how an answer was marked.

/// What counts as right.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Marking {
    /// The same pitch, anywhere on the neck.
    #[default]
    SamePitch,
    /// The very place the caller picked.
    ExactPlace,
    /// The right note in any octave.
    AnyOctave,
}

/// How much a miss says before the reveal. Everything is said at the reveal.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Telling {
    /// Only right or not.
    Verdict,
    /// Also whether low or high, and whether an octave, a neighbour, a whole
    /// tone or further away.
    #[default]
    Hint,
    /// Also the interval by name, which gives the note away.
    Interval,
}

/// How one answer was marked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Mark {
    /// Right.
    Right,
    /// Not right; how much is said depends on [`Telling`].
    Missed(Miss),
}

/// What is said of a miss.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Miss {
    /// What kind; `None` where only the verdict is told.
    pub kind: Option<MissKind>,
    /// Where the answer lay; `None` where it is not told, or the pitch was right.
    pub side: Option<Side>,
}

/// Where an answer lay beside the target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// The answer was lower than the target.
    Low,
    /// The answer was higher than the target.
    High,
}

/// The kinds of miss.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
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
    /// Three semitones or more, not an octave; the interval is not told yet.
    Further,
}

impl Mark {
    /// Whether the answer was right.
    pub const fn is_right(self) -> bool {
        matches!(self, Mark::Right)
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
                    MissKind::Interval { .. } => MissKind::Further,
                    other => other,
                }),
                side: miss.side,
            },
            Telling::Interval => miss,
        })
    }
}
