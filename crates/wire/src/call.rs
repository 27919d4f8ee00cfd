//! A call as a terminal may know it, and how everyone is doing with it.

use crate::answer::{Answer, Mark};
use crate::rules::Place;

wire_record! {
    /// A note is called. To those who answer it carries what is needed to
    /// sound it and no more: no name, no place.
    pub struct CallNotice {
        /// The call's number in the lesson, from 1.
        pub call: u32,
        /// What to sound; nothing if this terminal is not to sound it.
        pub tone: Option<Tone>,
        /// Where the first hearing starts, in microseconds of the host's clock.
        pub start_us: u64,
        /// The first hearing waits for the student to ask.
        pub on_asking: bool,
        /// This student calls and does not answer.
        pub you_call: bool,
        /// The friend who calls, if one does.
        #[serde(with = "crate::bounded::maybe_name")]
        pub caller: Option<String>,
        /// The highest serial of this student's answers to this call that the
        /// host holds already, nought if it holds none.
        pub answers_held: u32,
        /// One of this student's answers was right.
        pub found: bool,
        /// What is to be found; to the friend who calls only.
        pub target: Option<Target>,
        /// This student's answers that the host holds, with their marks as far as
        /// they are told: for a program that was started again.
        #[serde(with = "crate::bounded::held")]
        pub held: Vec<HeldAnswer>,
    }
}

wire_record! {
    /// One answer that the host holds.
    #[derive(Copy, Eq)]
    pub struct HeldAnswer {
        /// Its serial.
        pub serial: u32,
        /// What was answered.
        pub answer: Answer,
        /// Its mark.
        pub mark: Mark,
    }
}

wire_record! {
    /// The note of a call, for the friend who calls it.
    #[derive(Copy, Eq)]
    pub struct Target {
        /// Its MIDI note number, 0 to 127.
        pub midi: u8,
        /// The place, if the call is of a place.
        pub place: Option<Place>,
    }
}

wire_record! {
    /// What to sound.
    pub struct Tone {
        /// The fundamental, in hertz.
        pub frequency_hz: f64,
        /// Which voice.
        pub voice: Voice,
        /// Seeds the pluck's noise.
        pub pluck_seed: u32,
    }
}

wire_choice! {
    /// The voice a tone is sounded in.
    #[derive(Copy, Eq)]
    pub enum Voice {
        /// A plucked string on a skin head.
        Banjo,
        /// A plucked string on a wooden body.
        Guitar,
        /// A nearly pure tone.
        Plain,
    }
}

wire_record! {
    /// How one student is doing with the open call.
    pub struct StudentProgress {
        /// Who.
        #[serde(with = "crate::bounded::name")]
        pub name: String,
        /// How far.
        pub progress: Progress,
    }
}

wire_choice! {
    /// How far a student is with the open call.
    #[derive(Copy, Eq)]
    pub enum Progress {
        /// Nothing yet.
        Silent,
        /// Trying places, or hearing again.
        Searching,
        /// Answered, not right so far.
        Missed,
        /// Found it.
        Found,
        /// The connection is lost.
        Away,
    }
}
