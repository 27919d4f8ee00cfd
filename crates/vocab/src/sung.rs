//! Singing a note before searching for it: how near a sung note is.
//!
//! Voices sit where they sit, so every octave of the target counts as sung;
//! which one it was is told and kept. A note counts as sung within
//! [`SUNG_WITHIN_CENTS`] of the target or an octave of it. How much is said of
//! a note further away follows [`Telling`], as it does for an answer: the exact
//! distance from a note that somebody hums gives the target away.

use serde::{Deserialize, Serialize};

use crate::choices::Telling;
pub use crate::written::SUNG_RANGE_HZ;
use crate::written::{Ranged, SungCents};

/// How near a sung note must be to count, in cents either way: a quarter tone,
/// half-way to the neighbouring note.
pub const SUNG_WITHIN_CENTS: f64 = 50.0;

/// How far [`Telling::Hint`] tells the distance, in cents either way: what an
/// answer a whole tone away would be told, and half a semitone more.
pub const HINT_CENTS: f64 = 250.0;

/// How near a sung note was.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub struct SungMark {
    /// Octaves above the target that the nearest octave of it lies; negative
    /// below.
    pub octaves: i8,
    /// Cents above that octave of the target, -600 to 600; negative below.
    #[serde(with = "Ranged::<SungCents>")]
    pub cents: f32,
    /// Whether that is all. If not, the note lay further away than is told:
    /// `cents` then says the side and the most that is told, or nothing where
    /// it is nought.
    pub exact: bool,
}

impl SungMark {
    /// How near `sung_hz` is to `target_hz` or its octaves; `None` unless both
    /// are in [`SUNG_RANGE_HZ`].
    pub fn of(sung_hz: f64, target_hz: f64) -> Option<Self> {
        if !SUNG_RANGE_HZ.contains(&sung_hz) || !SUNG_RANGE_HZ.contains(&target_hz) {
            return None;
        }
        let octaves_up = (sung_hz / target_hz).log2();
        let nearest = octaves_up.round();
        Some(Self {
            // Within the range there are fewer than nine octaves.
            octaves: nearest as i8,
            cents: ((octaves_up - nearest) * 1200.0) as f32,
            exact: true,
        })
    }

    /// Whether the note counts as sung.
    pub fn is_it(self) -> bool {
        self.exact && f64::from(self.cents).abs() <= SUNG_WITHIN_CENTS
    }

    /// The mark with no more in it than `telling` allows before the reveal.
    #[must_use]
    pub fn told(self, telling: Telling) -> Self {
        let most = match telling {
            Telling::Interval => return self,
            Telling::Hint => HINT_CENTS,
            Telling::Verdict => SUNG_WITHIN_CENTS,
        };
        if f64::from(self.cents).abs() <= most {
            return self;
        }
        let side = match telling {
            Telling::Hint => HINT_CENTS.copysign(f64::from(self.cents)) as f32,
            _ => 0.0,
        };
        Self {
            octaves: 0,
            cents: side,
            exact: false,
        }
    }
}
