//! From host to student.

use crate::answer::{Mark, SungMark};
use crate::call::{CallNotice, StudentProgress};
use crate::refusal::Refusal;
use crate::rules::{Place, Rules};

wire_choice! {
    /// A frame from host to student, after the hello.
    pub enum HostFrame {
        /// You are in.
        Welcome {
            /// With all you need to know.
            welcome: Box<Welcome>,
        },
        /// A rule changed.
        Rules {
            /// The rules from now on.
            rules: Box<Rules>,
        },
        /// The answer to `ClockAsk`.
        ClockAnswer {
            /// As asked, in microseconds of the student's clock.
            t1_us: u64,
            /// When the asking arrived, in microseconds of the host's clock.
            t2_us: u64,
            /// When this was sent, in microseconds of the host's clock.
            t3_us: u64,
        },
        /// A note is called, or was called before you came.
        Call {
            /// The call.
            notice: CallNotice,
        },
        /// The call sounds again for everyone.
        HearAgain {
            /// Which call.
            call: u32,
            /// When, in microseconds of the host's clock.
            start_us: u64,
        },
        /// Your answer was marked, and is held.
        Marked {
            /// Which call.
            call: u32,
            /// The answer's serial.
            serial: u32,
            /// Its mark.
            mark: Mark,
            /// What you have done so far.
            tally: Tally,
        },
        /// The note and every place of it.
        Reveal {
            /// Which call.
            call: u32,
            /// The note, as a MIDI note number, 0 to 127.
            midi: u8,
            /// Every place of it on this neck.
            #[serde(with = "crate::bounded::places")]
            places: Vec<Place>,
            /// Your answers' marks, told in full.
            #[serde(with = "crate::bounded::marks")]
            marks: Vec<NumberedMark>,
        },
        /// The call is over.
        Closed {
            /// Which call.
            call: u32,
            /// What you have done so far.
            tally: Tally,
        },
        /// In a lesson of friends: whose turn it is to call.
        Turn {
            /// Who calls next.
            #[serde(with = "crate::bounded::name")]
            caller: String,
            /// It is you.
            yours: bool,
        },
        /// In a lesson of friends, to the caller only: how the others do.
        Progress {
            /// Which call.
            call: u32,
            /// The others.
            #[serde(with = "crate::bounded::progress")]
            students: Vec<StudentProgress>,
        },
        /// What you asked cannot be done.
        Refused {
            /// Why.
            refusal: Refusal,
        },
        /// The lesson is over.
        Ended {
            /// What you have done in it.
            tally: Tally,
            /// It is over for you alone: the host took you off the roster.
            removed: bool,
        },
        /// The host's speakers are to sound the call once more, because a
        /// student asked.
        HostSounds {
            /// Which call.
            call: u32,
            /// When, in microseconds of the host's clock.
            start_us: u64,
        },
        /// How near the note you sang was.
        Sung {
            /// Which call.
            call: u32,
            /// How near.
            sung: SungMark,
        },
        /// In a lesson of friends: somebody left for good.
        FriendLeft {
            /// Who.
            #[serde(with = "crate::bounded::name")]
            name: String,
        },
        /// The answer of that call and serial is not taken. Each answer that
        /// comes over a connection gets this or `Marked`.
        AnswerRefused {
            /// Which call.
            call: u32,
            /// The answer's serial.
            serial: u32,
            /// Why.
            why: Refusal,
        },
        /// The host has said who you are: one who was here before, or is in the
        /// lesson book.
        KnownAs {
            /// Your name from now on.
            #[serde(with = "crate::bounded::name")]
            name: String,
            /// What you have done so far, under both names.
            tally: Tally,
        },
        /// In a locked lesson: you are offered a class key, which lets this
        /// machine in without the passphrase.
        KeyOffered {
            /// The class it is for.
            #[serde(with = "crate::bounded::name")]
            class: String,
            /// Your name in it.
            #[serde(with = "crate::bounded::name")]
            name: String,
            /// The public key (Ed25519) by which the host proves itself to
            /// whoever comes with a class key.
            host: [u8; 32],
        },
        /// The class key is in the lesson book: it holds from the next lesson
        /// on.
        KeyKept,
    }
}

wire_record! {
    /// Sent once a student is in.
    pub struct Welcome {
        /// The student's number in the lesson.
        pub student: u32,
        /// Gives the place back after a lost connection. Kept to oneself.
        pub key: u128,
        /// The name as the lesson keeps it.
        #[serde(with = "crate::bounded::name")]
        pub name: String,
        /// The rules.
        pub rules: Rules,
        /// What this student has done so far.
        pub tally: Tally,
        /// The lesson's last call, nothing before the first. A terminal that
        /// comes back with answers to a later one, or to another of the same
        /// number, knows that the host has lost that call.
        pub last_call: Option<LastCall>,
    }
}

wire_record! {
    /// Which call is a lesson's last.
    #[derive(Copy, Eq)]
    pub struct LastCall {
        /// Its number.
        pub call: u32,
        /// Where it starts, in microseconds of the host's clock.
        pub start_us: u64,
        /// It is over.
        pub over: bool,
    }
}

wire_record! {
    /// The mark of the answer with that serial.
    #[derive(Copy, Eq)]
    pub struct NumberedMark {
        /// The answer's serial.
        pub serial: u32,
        /// Its mark.
        pub mark: Mark,
    }
}

wire_record! {
    /// What a student has done so far in a lesson.
    #[derive(Copy, Eq)]
    pub struct Tally {
        /// Calls the student was there for and did not make.
        pub calls: u32,
        /// Of these, found.
        pub found: u32,
        /// Of these, found with the first answer.
        pub found_first: u32,
        /// Hearings beyond the free ones.
        pub hearings: u32,
        /// Places and pitches tried.
        pub tries: u32,
        /// Found calls that were answered on the instrument.
        pub played: u32,
        /// Calls that were sung, in any octave.
        pub sung: u32,
        /// The median of the response times of found calls, in microseconds.
        pub median_us: Option<u64>,
    }
}
