//! Answers and how they were marked.

use crate::rules::Place;

wire_choice! {
    /// What a student commits to, or sounds while searching.
    #[derive(Copy, Eq)]
    pub enum Answer {
        /// A place on the neck.
        Place {
            /// The place.
            place: Place,
        },
        /// A pitch with its octave.
        Pitch {
            /// Its MIDI note number, 0 to 127; A4 is 69.
            midi: u8,
        },
        /// A note name without octave.
        Class {
            /// 0 for C up to 11 for B.
            number: u8,
        },
    }
}

wire_choice! {
    /// Where a try or an answer came from.
    #[derive(Copy, Eq)]
    pub enum Source {
        /// The screen or the keyboard.
        Screen,
        /// The instrument, as a microphone heard it.
        Instrument,
    }
}

wire_record! {
    /// How near a sung note was.
    #[derive(Copy)]
    pub struct SungMark {
        /// Octaves above the target that the nearest octave of it lies;
        /// negative below.
        pub octaves: i8,
        /// Cents above that octave of the target, -600 to 600; negative below.
        pub cents: f32,
        /// That is all. If not, the note lay further away than is told: the
        /// cents then say the side, and nothing where they are nought.
        pub exact: bool,
    }
}

wire_choice! {
    /// How one answer was marked.
    #[derive(Copy, Eq)]
    pub enum Mark {
        /// Right.
        Right,
        /// Not right.
        Missed {
            /// What kind of miss; nothing where that is not told.
            kind: Option<MissKind>,
            /// Where the answer lay; nothing where that is not told, or the
            /// pitch was right.
            side: Option<Side>,
        },
    }
}

wire_choice! {
    /// Where an answer lay beside the target.
    #[derive(Copy, Eq)]
    pub enum Side {
        /// The answer was lower.
        Low,
        /// The answer was higher.
        High,
    }
}

wire_choice! {
    /// The kinds of miss.
    #[derive(Copy, Eq)]
    pub enum MissKind {
        /// The right note name, whole octaves away.
        Octave {
            /// How many octaves.
            octaves: u8,
        },
        /// One semitone away.
        Neighbour,
        /// Two semitones away.
        WholeTone,
        /// The very pitch, at another place than the one asked for.
        OtherPlace,
        /// The right note name in another octave and at another place.
        OtherPlaceOctave {
            /// How many octaves.
            octaves: u8,
        },
        /// Three semitones or more, not an octave.
        Interval {
            /// The distance in semitones.
            semitones: u8,
        },
        /// Three semitones or more, not an octave; how many is not told.
        Further,
    }
}
