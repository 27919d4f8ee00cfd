//! A lesson's rules and its neck.

use crate::call::Voice;

wire_record! {
    /// What everyone should know of a lesson's rules.
    pub struct Rules {
        /// The lesson's name, as announced.
        #[serde(with = "crate::bounded::name")]
        pub lesson: String,
        /// Class or friends.
        pub mode: Mode,
        /// The neck in everyone's hands.
        pub neck: Neck,
        /// Where calls are picked from, in the text form of a reach, such as
        /// `two-open` or `strings=1,2 frets=0-5`.
        #[serde(with = "crate::bounded::reach")]
        pub reach: String,
        /// What counts as right.
        pub marking: Marking,
        /// How much a miss says before the reveal.
        pub telling: Telling,
        /// Who sounds a call.
        pub sounding: Sounding,
        /// The voice of calls and tries.
        pub voice: Voice,
        /// The frequency of A4, in hertz, 390 to 470.
        pub a4_hz: f64,
        /// Accidentals are written as flats.
        pub flats: bool,
        /// Students are invited to sing a note before they search for it.
        pub sing_first: bool,
    }
}

wire_choice! {
    /// Who calls.
    #[derive(Copy, Eq)]
    pub enum Mode {
        /// The host.
        Class,
        /// The students in turn.
        Friends,
    }
}

wire_choice! {
    /// What counts as right.
    #[derive(Copy, Eq)]
    pub enum Marking {
        /// The same pitch, anywhere.
        SamePitch,
        /// The very place picked.
        ExactPlace,
        /// The right note in any octave.
        AnyOctave,
    }
}

wire_choice! {
    /// How much a miss says before the reveal.
    #[derive(Copy, Eq)]
    pub enum Telling {
        /// Right or not.
        Verdict,
        /// Also low or high, and roughly how far.
        Hint,
        /// Also the interval.
        Interval,
    }
}

wire_choice! {
    /// Who sounds a call.
    #[derive(Copy, Eq)]
    pub enum Sounding {
        /// Every terminal, all at one instant.
        EveryTerminal,
        /// The host's speakers alone.
        HostSpeakers,
        /// Each terminal when its student asks.
        OnAsking,
    }
}

wire_record! {
    /// A neck.
    pub struct Neck {
        /// What it is called.
        #[serde(with = "crate::bounded::name")]
        pub name: String,
        /// Its strings; the first is string 1.
        #[serde(with = "crate::bounded::strings")]
        pub strings: Vec<NeckString>,
        /// From nut to bridge, in millimetres.
        pub scale_length_mm: f64,
        /// The capo, if one is on.
        pub capo: Option<Capo>,
    }
}

wire_record! {
    /// One string, or one course of strings stopped together.
    pub struct NeckString {
        /// The open pitch, as a MIDI note number, 0 to 127.
        pub open_midi: u8,
        /// The fret where its own nut or peg sits; 0 for the main nut.
        pub first_fret: u8,
        /// Its last fret, numbered from the main nut.
        pub last_fret: u8,
        /// The further strings of the course, each in semitones above this one.
        #[serde(with = "crate::bounded::course")]
        pub course: Vec<i8>,
    }
}

wire_record! {
    /// A capo.
    pub struct Capo {
        /// The fret it sits at.
        pub fret: u8,
        /// The fret of the short string's own capo, numbered from the main nut.
        pub short: Option<u8>,
    }
}

wire_record! {
    /// A place on the neck.
    #[derive(Copy, Eq)]
    pub struct Place {
        /// The string, from 1.
        pub string: u8,
        /// The fret, numbered from the main nut; 0 is open.
        pub fret: u8,
    }
}
