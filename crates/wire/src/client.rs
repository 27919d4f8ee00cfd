//! From student to host.

use crate::answer::{Answer, Source};

wire_choice! {
    /// A frame from student to host, after the hello. The first is `Join`.
    pub enum ClientFrame {
        /// Take me in.
        Join {
            /// The student's name, as typed.
            #[serde(with = "crate::bounded::name")]
            name: String,
            /// The key from an earlier welcome, to get the old place back.
            key: Option<u128>,
            /// The key of the place where it is a new one: made at random by the
            /// student's terminal, which sends the same until this host has
            /// welcomed it, so that asking twice gets one place.
            new_key: u128,
        },
        /// What does your clock say?
        ClockAsk {
            /// When this was sent, in microseconds of the student's clock.
            t1_us: u64,
        },
        /// The call's tone left, or will leave, this terminal's output.
        Sounded {
            /// Which call.
            call: u32,
        },
        /// The student had the call sounded once more (or for the first time,
        /// where calls sound on asking). Where the host's speakers have it,
        /// this asks the host to sound it.
        Hearing {
            /// Which call.
            call: u32,
        },
        /// A place or pitch was sounded while searching.
        Try {
            /// Which call.
            call: u32,
            /// The place or pitch.
            at: Answer,
            /// Where from.
            source: Source,
        },
        /// The student commits.
        Answer {
            /// Which call.
            call: u32,
            /// Counts this student's answers to this call from 1; the same
            /// serial sent again is the same answer.
            serial: u32,
            /// The answer.
            answer: Answer,
            /// Where from.
            source: Source,
            /// From the tone leaving the output to the answer, in microseconds
            /// of the student's clock; nothing if the start is not known.
            response_us: Option<u64>,
            /// How far that may be off either way, in microseconds.
            uncertainty_us: u64,
        },
        /// The friend whose turn it is calls a note.
        Pick {
            /// Which; nothing for a random one.
            at: Option<Answer>,
        },
        /// The caller has the call sounded again for everyone.
        CallerHearAgain {
            /// Which call.
            call: u32,
        },
        /// The caller shows the note.
        CallerReveal {
            /// Which call.
            call: u32,
        },
        /// The caller ends the call.
        CallerClose {
            /// Which call.
            call: u32,
        },
        /// The student leaves for good.
        Leave,
        /// The student sang a note and held it, in a lesson that invites to.
        Sung {
            /// Which call.
            call: u32,
            /// The frequency, in hertz, 20 to 8000.
            frequency_hz: f64,
            /// How far the voice moved about it, in cents either way, 0 to
            /// 1200.
            spread_cents: f32,
        },
        /// Whether the student takes the class key that was offered.
        KeyAnswer {
            /// The public half (Ed25519) of a key that the terminal has made;
            /// nothing to do without.
            public: Option<[u8; 32]>,
        },
    }
}
