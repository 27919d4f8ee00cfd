//! The choices of a lesson's rules, and of what goes with them: each once, with
//! its table.

use crate::choice::{Choice, Row, row, written_by_table};
use crate::evidence::{Confusion, Outcome};

/// Who calls.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Mode {
    /// The host calls, everyone else answers.
    #[default]
    Class,
    /// The students take turns to call; the caller does not answer.
    Friends,
}

impl Choice for Mode {
    const WHAT: &'static str = "kind of lesson";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Class,   0, "class",   "the host calls",       "the host calls, everyone else answers"),
        row(Self::Friends, 1, "friends", "friends call in turn", "the students call in turn; whoever calls does not answer"),
    ];
}

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

impl Choice for Marking {
    const WHAT: &'static str = "marking";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::SamePitch,  0, "same-pitch",  "same pitch, any place", "the same pitch, anywhere on the neck"),
        row(Self::ExactPlace, 1, "exact-place", "the exact place",       "the very place that was called"),
        row(Self::AnyOctave,  2, "any-octave",  "any octave",            "the right note in any octave"),
    ];
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

impl Choice for Telling {
    const WHAT: &'static str = "way of telling";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Verdict,  0, "verdict",  "right or not",                     "only right or not"),
        row(Self::Hint,     1, "hint",     "low or high, and roughly how far", "also low or high, and roughly how far"),
        row(Self::Interval, 2, "interval", "the interval by name",             "also the interval, which gives the note away"),
    ];
}

/// Who sounds a call.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Sounding {
    /// Every terminal, all at one instant.
    #[default]
    EveryTerminal,
    /// The host's speakers alone.
    HostSpeakers,
    /// Each terminal when its student asks; the first asking is the free hearing.
    OnAsking,
}

impl Choice for Sounding {
    const WHAT: &'static str = "way of sounding";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::EveryTerminal, 0, "every-terminal", "every terminal",           "every terminal, all at one instant"),
        row(Self::HostSpeakers,  1, "host-speakers",  "the host's speakers",      "the host's speakers alone"),
        row(Self::OnAsking,      2, "on-asking",      "each terminal when asked", "each terminal when its student asks"),
    ];
}

/// The voice a tone is sounded in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Voice {
    /// A plucked string on a skin head.
    #[default]
    Banjo,
    /// A plucked string on a wooden body.
    Guitar,
    /// A nearly pure tone.
    Plain,
}

impl Choice for Voice {
    const WHAT: &'static str = "voice";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Banjo,  0, "banjo",  "banjo",  "a plucked string on a skin head"),
        row(Self::Guitar, 1, "guitar", "guitar", "a plucked string on a wooden body"),
        row(Self::Plain,  2, "plain",  "plain",  "a nearly pure tone"),
    ];
}

/// How a note is picked when none is chosen by hand. It is no rule of the
/// lesson that students are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Picking {
    /// Plainly at random.
    #[default]
    Random,
    /// By what those who are here find and miss.
    Teaching,
}

impl Choice for Picking {
    const WHAT: &'static str = "way of picking";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Random,   0, "random",   "at random",          "plainly at random"),
        row(Self::Teaching, 1, "teaching", "so that it teaches", "by what those who are here find and miss"),
    ];
}

/// Where a try or an answer came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Source {
    /// The screen or the keyboard.
    #[default]
    Screen,
    /// The instrument, as the microphone heard it.
    Instrument,
}

impl Choice for Source {
    const WHAT: &'static str = "place where an answer comes from";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Screen,     0, "screen",     "on the screen",     "the screen or the keyboard"),
        row(Self::Instrument, 1, "instrument", "on the instrument", "the instrument, as the microphone heard it"),
    ];
}

/// Where the note of a call came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Picked {
    /// Picked plainly at random ([`Picking::Random`]).
    Random,
    /// Picked so that it teaches ([`Picking::Teaching`]).
    Teaching,
    /// Chosen by the host by hand.
    Hand,
    /// Played by the host on an instrument.
    Instrument,
    /// Chosen by the friend who called; with or without an instrument is not
    /// told.
    Friend,
}

impl Choice for Picked {
    const WHAT: &'static str = "way a note was picked";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Random,     0, "random",     "at random",          "plainly at random"),
        row(Self::Teaching,   1, "teaching",   "so that it teaches", "by what those who were here had found and missed"),
        row(Self::Hand,       2, "hand",       "by hand",            "chosen by the host by hand"),
        row(Self::Instrument, 3, "instrument", "on the instrument",  "played by the host on an instrument"),
        row(Self::Friend,     4, "friend",     "by a friend",        "chosen by the friend who called"),
    ];
}

/// Where an answer lay beside the target.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Side {
    /// The answer was lower than the target.
    Low,
    /// The answer was higher than the target.
    High,
}

impl Choice for Side {
    const WHAT: &'static str = "side";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Low,  0, "low",  "low",  "the answer was lower than the target"),
        row(Self::High, 1, "high", "high", "the answer was higher than the target"),
    ];
}

/// How far a student is with the open call.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Progress {
    /// Nothing yet.
    Silent,
    /// Trying places, or hearing again.
    Searching,
    /// Answered, not right so far.
    Missed,
    /// Found it.
    Found,
    /// Connection lost.
    Away,
    /// Nothing yet, and the tone did not sound at this student's terminal.
    NoSound,
}

impl Choice for Progress {
    const WHAT: &'static str = "progress";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Silent,    0, "silent",    "silent",    "nothing yet"),
        row(Self::Searching, 1, "searching", "searching", "trying places, or hearing again"),
        row(Self::Missed,    2, "missed",    "not yet",   "answered, not right so far"),
        row(Self::Found,     3, "found",     "found",     "found it"),
        row(Self::Away,      4, "away",      "away",      "the connection is lost"),
        row(Self::NoSound,   5, "no-sound",  "no sound",  "nothing yet, and the tone did not sound at the terminal"),
    ];
}

/// How far a call has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum CallStage {
    /// Taking answers.
    Open,
    /// The note is shown; answers no longer count.
    Revealed,
    /// Over.
    Closed,
}

impl Choice for CallStage {
    const WHAT: &'static str = "stage of a call";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Open,     0, "open",     "open",     "taking answers"),
        row(Self::Revealed, 1, "revealed", "revealed", "the note is shown; answers no longer count"),
        row(Self::Closed,   2, "closed",   "closed",   "over"),
    ];
}

/// How a student went.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Leaving {
    /// The connection was lost; the seat is kept.
    Lost,
    /// The student left; the seat is kept as long as nobody needs it.
    Left,
    /// The host took the student off the roster.
    Removed,
    /// The student's terminal did not take its messages; the seat is kept.
    FellBehind,
    /// The student was long gone and a newcomer needed the room.
    MadeRoom,
}

impl Choice for Leaving {
    const WHAT: &'static str = "way of leaving";
    #[rustfmt::skip] // So that it reads as the table it is.
    const ALL: &'static [Row<Self>] = &[
        row(Self::Lost,       0, "lost",        "connection lost", "the connection was lost; the seat is kept"),
        row(Self::Left,       1, "left",        "left",            "left; the seat is kept as long as nobody needs it"),
        row(Self::Removed,    2, "removed",     "taken out",       "taken off the roster by the host"),
        row(Self::FellBehind, 3, "fell-behind", "fell behind",     "the terminal did not take its messages; the seat is kept"),
        row(Self::MadeRoom,   4, "made-room",   "made room",       "long gone when a newcomer needed the room"),
    ];
}

written_by_table!(
    Mode, Marking, Telling, Sounding, Voice, Picking, Source, Picked, Side, Progress, CallStage,
    Leaving, Outcome, Confusion
);

impl From<Picking> for Picked {
    fn from(picking: Picking) -> Self {
        match picking {
            Picking::Random => Picked::Random,
            Picking::Teaching => Picked::Teaching,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reads_back<C: Choice + core::fmt::Debug>() {
        for (tag, row) in (0..).zip(C::ALL) {
            assert_eq!(row.tag, tag, "{row:?}");
            assert_eq!(C::from_word(row.word), Ok(row.value));
            assert_eq!(row.value.row(), row);
            assert!(!row.meaning.is_empty() && !row.label.is_empty());
        }
    }

    #[test]
    fn every_table_reads_back() {
        reads_back::<Mode>();
        reads_back::<Marking>();
        reads_back::<Telling>();
        reads_back::<Sounding>();
        reads_back::<Voice>();
        reads_back::<Picking>();
        reads_back::<Picked>();
        reads_back::<Source>();
        reads_back::<Side>();
        reads_back::<Progress>();
        reads_back::<CallStage>();
        reads_back::<Leaving>();
        reads_back::<Outcome>();
        reads_back::<Confusion>();
    }

    #[test]
    fn a_wrong_word_is_told_the_right_ones() {
        assert_eq!(
            Voice::from_word("oboe"),
            Err("\"oboe\" is no voice: choose banjo, guitar or plain".to_owned())
        );
    }
}
