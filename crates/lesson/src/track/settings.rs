//! What a track is asked to be, and why it cannot be.

use core::ops::RangeInclusive;
use core::time::Duration;

use fifthpeg_core::{Pitch, Spelling};
use fifthpeg_vocab::choice::{Choice, Row, row};

use crate::message::Voice;

/// Gaps a track may have. The longest pattern and a second hearing fit a track
/// of [`MAX_CALLS`] into what a sound file can hold.
pub const GAPS: RangeInclusive<Duration> = Duration::from_secs(3)..=Duration::from_secs(60);

/// The most calls of one track.
pub const MAX_CALLS: u16 = 500;

/// How long a track is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TrackLength {
    /// That many calls, from 1 to [`MAX_CALLS`].
    Calls(u16),
    /// As many whole calls as fit, up to [`MAX_CALLS`].
    Within(Duration),
}

/// What the second voice plays once the time to search is over.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum AnswerPattern {
    /// Nothing: the note again is the only answer.
    None,
    /// The open string that the note is found on, then the note: which string
    /// it was can be heard, and how far up.
    #[default]
    OpenString,
    /// The same string fret by fret, from open up to the note: the steps can be
    /// counted, and are the frets.
    Climb,
}

impl Choice for AnswerPattern {
    const WHAT: &'static str = "answer pattern";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::OpenString, 0, "open-string", "the open string", "the open string that the note is found on, then the note"),
        row(Self::Climb,      1, "climb",       "fret by fret",    "that string fret by fret, from open up to the note"),
        row(Self::None,       2, "none",        "the note again",  "nothing but the note again"),
    ];
}

/// What a track is asked to be.
#[derive(Debug, Clone, PartialEq)]
pub struct TrackSettings {
    /// How long it is.
    pub length: TrackLength,
    /// From a call to its answer, in whole milliseconds, within [`GAPS`].
    pub gap: Duration,
    /// Whether the call sounds again halfway through the gap.
    pub second_hearing: bool,
    /// The voice of calls.
    pub voice: Voice,
    /// What is played as the answer.
    pub answer: AnswerPattern,
    /// The voice of answers.
    pub answer_voice: Voice,
    /// Whether the open strings sound first, the lowest first, to tune to.
    pub strings_first: bool,
}

impl Default for TrackSettings {
    /// Twenty calls, eight seconds each, answered on a guitar.
    fn default() -> Self {
        Self {
            length: TrackLength::Calls(20),
            gap: Duration::from_secs(8),
            second_hearing: false,
            voice: Voice::Banjo,
            answer: AnswerPattern::OpenString,
            answer_voice: Voice::Guitar,
            strings_first: false,
        }
    }
}

/// Why a track cannot be planned.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TrackError {
    /// No call, or too many.
    #[error("{calls} is no number of calls for a track: choose 1 to {MAX_CALLS}")]
    Calls {
        /// What was asked for.
        calls: u16,
    },
    /// Not one call fits.
    #[error("not one call fits into this time: allow {} s or more", needed.as_secs_f64().ceil())]
    TooShort {
        /// What the shortest track lasts.
        needed: Duration,
    },
    /// A gap outside [`GAPS`].
    #[error(
        "a gap of {} s is no time to search in: choose {} to {} s",
        gap.as_secs_f64(), GAPS.start().as_secs(), GAPS.end().as_secs()
    )]
    Gap {
        /// What was asked for.
        gap: Duration,
    },
    /// A weighted note that is not in reach.
    #[error(
        "{} is not in reach: widen the reach, or leave that note out",
        pitch.ascii_name(Spelling::Sharps)
    )]
    OutsideReach {
        /// The note.
        pitch: Pitch,
    },
    /// A weight that is none.
    #[error(
        "a weight of {weight} for {} cannot be used: give nought or more",
        pitch.ascii_name(Spelling::Sharps)
    )]
    Weight {
        /// The note.
        pitch: Pitch,
        /// Its weight.
        weight: f64,
    },
    /// Fewer than two notes to pick from.
    #[error("a track of one note leaves nothing to search for: give two notes or more")]
    OneNote,
}
