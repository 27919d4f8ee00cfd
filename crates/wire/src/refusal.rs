//! Why the lesson would not do something.

use crate::rules::Place;

wire_choice! {
    /// Why the lesson would not do what a student asked. The student's program
    /// has the words.
    pub enum Refusal {
        /// No call is open.
        NoCall,
        /// The call named is not the open one.
        OldCall,
        /// A call is still open.
        CallOpen,
        /// The caller does not answer.
        CallerAnswers,
        /// It is not this student's turn to call.
        NotYourTurn,
        /// Only a host may do this.
        HostOnly,
        /// There is no such place on this neck.
        NoSuchPlace {
            /// The place.
            place: Place,
        },
        /// The note is outside the reach.
        OutsideReach,
        /// Exact marking needs a place.
        PlaceNeeded,
        /// The marking needs an octave.
        OctaveNeeded,
        /// Too many answers to one call.
        TooManyAnswers {
            /// The most that are taken.
            most: u32,
        },
        /// The lesson is full.
        Full {
            /// The most students it takes.
            most: u32,
        },
        /// The name cannot be used.
        BadName {
            /// The most letters of a name.
            most: u32,
        },
        /// The key is not known: join without it.
        UnknownPlace,
        /// No such student.
        NoStudent,
        /// Nobody is there to call.
        NobodyToCall,
        /// The lesson has ended.
        Ended,
        /// Found already.
        FoundAlready,
        /// That answer came when its call took no more; it is not kept.
        TooLate,
        /// Anything else, in words.
        Other {
            /// One sentence that says what to do.
            #[serde(with = "crate::bounded::text")]
            text: String,
        },
        /// The call answered is so long over that what came of it is not kept
        /// any more.
        LongOver,
        /// The host was started again and does not know the call.
        CallLost,
        /// This student has said more in one call than is taken.
        SaidTooMuch,
    }
}
