//! What host and students say to one another.
//!
//! The tag that a message travels as is its place in its list, so that messages
//! are only ever added at the end; `fifthpeg-wire` keeps bytes of each.

use core::time::Duration;
use fifthpeg_core::bounded::{First, Shown};
use fifthpeg_core::{Pitch, PitchClass, Position};
use serde::{Deserialize, Serialize};

pub use crate::refusal::Refusal;

pub use crate::choices::{Mode, Progress, Sounding, Source, Voice};
use crate::mark::Mark;
use crate::moment::Moment;
pub use crate::rules::Rules;
use crate::sung::SungMark;
use crate::tally::Tally;
use crate::written::{Held, Marks, Name, Places, Ranged, SungHz, SungSpread, ToneHz, hex, micros};

/// A student's number in one lesson, never used again in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct StudentId(pub u32);

/// A call's number in one lesson, counted from 1.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct CallId(pub u32);

/// Proof that a returning terminal is the one that left: made by the host,
/// handed out once in [`Welcome`], given back at the next join.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
pub struct SeatKey(#[serde(with = "hex")] pub u128);

/// What a student commits to, or sounds while searching.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Answer {
    /// A place on the neck.
    Place(Position),
    /// A pitch with its octave.
    Pitch(Pitch),
    /// A note name without octave; only the any-octave marking can mark it.
    Class(PitchClass),
}

/// What a terminal needs to sound a call, and no more: no name, no place.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Tone {
    /// Fundamental, in hertz.
    #[serde(with = "Ranged::<ToneHz>")]
    pub frequency_hz: f64,
    /// Which voice.
    pub voice: Voice,
    /// Seeds the pluck's noise, so that every terminal sounds the same tone.
    pub pluck_seed: u32,
}

/// One call as a student's terminal may know it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct CallNotice {
    /// Which call.
    pub call: CallId,
    /// What to sound; `None` if this terminal is not to sound it.
    pub tone: Option<Tone>,
    /// Where the first hearing starts, on the host's clock. In the past for a
    /// terminal that joins late or comes back.
    pub start: Moment,
    /// Whether the first hearing waits for the student to ask.
    pub on_asking: bool,
    /// This student calls and does not answer.
    pub you_call: bool,
    /// The name of the friend who calls, if one does.
    #[serde(with = "Shown::<Name>")]
    pub caller: Option<String>,
    /// The highest serial of this student's answers to this call that the host
    /// holds already (not nought only when coming back): a terminal that lost
    /// its memory counts on from here.
    pub answers_held: u32,
    /// Whether one of them was right.
    pub found: bool,
    /// What is to be found, and the place if the call is of one: told to the
    /// friend who calls only, who may have had it picked at random.
    pub target: Option<(Pitch, Option<Position>)>,
    /// This student's answers that the host holds, with their marks as far as
    /// they are told.
    #[serde(with = "First::<Held>")]
    pub held: Vec<HeldMark>,
}

/// An answer that the host holds, as its student may know it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct HeldMark {
    /// Its serial.
    pub serial: u32,
    /// What was answered.
    pub answer: Answer,
    /// Its mark, as far as it is told.
    pub mark: Mark,
}

/// A lesson's last call, by which a terminal that comes back knows whether the
/// host still has the calls it holds answers to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub struct LastCall {
    /// Which.
    pub call: CallId,
    /// Where it starts, on the host's clock.
    pub start: Moment,
    /// It is over.
    pub over: bool,
}

/// Sent once a student is in.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Welcome {
    /// The student's number.
    pub student: StudentId,
    /// Gives the seat back after a lost connection.
    pub key: SeatKey,
    /// The name as the lesson keeps it (made different if two were the same).
    #[serde(with = "Shown::<Name>")]
    pub name: String,
    /// The rules.
    pub rules: Rules,
    /// What this student has done so far.
    pub tally: Tally,
    /// The lesson's last call; `None` before the first.
    pub last_call: Option<LastCall>,
}

/// From the host to one student.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum ToStudent {
    /// You are in.
    Welcome(Box<Welcome>),
    /// A rule changed.
    Rules(Box<Rules>),
    /// A note is called.
    Call(CallNotice),
    /// The call sounds again for everyone, at `start` on the host's clock.
    HearAgain {
        /// The call.
        call: CallId,
        /// When it starts, on the host's clock.
        start: Moment,
    },
    /// Your answer was marked. `serial` is the answer's.
    Marked {
        /// The call.
        call: CallId,
        /// The answer's serial.
        serial: u32,
        /// The mark, with no more in it than is told before the reveal.
        mark: Mark,
        /// What this student has done so far.
        tally: Tally,
    },
    /// The note and every place of it; the call takes no more answers.
    Reveal {
        /// The call.
        call: CallId,
        /// The target.
        pitch: Pitch,
        /// Every place of the target on this neck.
        #[serde(with = "First::<Places>")]
        places: Vec<Position>,
        /// This student's answers by serial, with their marks in full.
        #[serde(with = "First::<Marks>")]
        marks: Vec<(u32, Mark)>,
    },
    /// The call is over.
    Closed {
        /// The call.
        call: CallId,
        /// What this student has done so far.
        tally: Tally,
    },
    /// In a lesson of friends: whose turn it is to call next.
    Turn {
        /// The name of the one who calls next.
        #[serde(with = "Shown::<Name>")]
        caller: String,
        /// Whether that is this student.
        yours: bool,
    },
    /// What the one who calls sees of the others: name, and whether found.
    /// Sent in a lesson of friends only, to the caller only.
    Progress {
        /// The call.
        call: CallId,
        /// Everyone who is to answer, in order of joining.
        #[serde(with = "crate::written::friends")]
        students: Vec<(String, Progress)>,
    },
    /// What you asked cannot be done, and why.
    Refused(Refusal),
    /// The lesson is over.
    Ended {
        /// What this student has done so far.
        tally: Tally,
        /// It is over for this student alone: the host took the name off the
        /// roster.
        removed: bool,
    },
    /// The host's speakers are to sound the call once more, because a student
    /// asked: a terminal that listens knows not to take it for an instrument.
    HostSounds {
        /// The call.
        call: CallId,
        /// When it starts, on the host's clock.
        start: Moment,
    },
    /// How near a sung note was, with no more in it than is told before the
    /// reveal.
    Sung {
        /// The call.
        call: CallId,
        /// How near.
        sung: SungMark,
    },
    /// In a lesson of friends: somebody left for good, or was taken off the
    /// roster.
    FriendLeft {
        /// Who.
        #[serde(with = "Shown::<Name>")]
        name: String,
    },
    /// That answer is not taken. Each answer that comes over a connection gets
    /// this or [`ToStudent::Marked`].
    AnswerRefused {
        /// The call.
        call: CallId,
        /// The answer's serial.
        serial: u32,
        /// Why.
        why: Refusal,
    },
    /// The host has said who you are: one who was here before, or is in the
    /// book.
    KnownAs {
        /// Your name from now on.
        #[serde(with = "Shown::<Name>")]
        name: String,
        /// What you have done so far, under both names.
        tally: Tally,
    },
}

/// From one student to the host.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
pub enum FromStudent {
    /// The tone of the call left (or will leave) this terminal's output.
    Sounded {
        /// The call.
        call: CallId,
    },
    /// The student had the call sounded once more (or, when sounding is on
    /// asking, for the first time). With the host's speakers this asks the
    /// host to sound it.
    Hearing {
        /// The call.
        call: CallId,
    },
    /// A place or pitch sounded while searching.
    Try {
        /// The call.
        call: CallId,
        /// What was tried.
        at: Answer,
        /// Where from.
        source: Source,
    },
    /// The student sang a note and held it.
    Sung {
        /// The call.
        call: CallId,
        /// The frequency, in hertz, vibrato averaged out.
        #[serde(with = "Ranged::<SungHz>")]
        frequency_hz: f64,
        /// How far the voice moved about it, in cents either way.
        #[serde(with = "Ranged::<SungSpread>")]
        spread_cents: f32,
    },
    /// The student commits.
    Answer(AnswerNotice),
    /// The friend whose turn it is picks; `None` asks for a random note.
    Pick {
        /// The note or place to call.
        at: Option<Answer>,
    },
    /// The caller has the call sounded again for everyone.
    CallerHearAgain {
        /// The call.
        call: CallId,
    },
    /// The caller reveals.
    CallerReveal {
        /// The call.
        call: CallId,
    },
    /// The caller closes the call.
    CallerClose {
        /// The call.
        call: CallId,
    },
    /// The student leaves for good.
    Leave,
    /// The tone of the call could not be heard from this terminal: its output
    /// makes no sound, or failed.
    NotSounded {
        /// The call.
        call: CallId,
    },
}

/// One answer with what the terminal measured.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct AnswerNotice {
    /// Which call.
    pub call: CallId,
    /// Counts this student's answers to this call from 1, so that an answer
    /// sent again after a lost connection is taken once.
    pub serial: u32,
    /// The answer.
    pub answer: Answer,
    /// Where from.
    pub source: Source,
    /// From the tone leaving the output to the answer, on the student's own
    /// clock; `None` if this terminal never sounded the tone.
    #[serde(with = "micros")]
    pub response: Option<Duration>,
    /// How far `response` may be off either way.
    #[serde(with = "micros")]
    pub uncertainty: Duration,
}

/// What a page for a projector shows.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Hall {
    /// The rules in force.
    pub rules: Rules,
    /// Students who are here.
    pub here: u32,
    /// The open or last call.
    pub call: Option<HallCall>,
    /// Who is to answer and how far each is, where the host has names shown; else
    /// nobody.
    #[serde(with = "crate::written::friends")]
    pub names: Vec<(String, Progress)>,
}

/// A call as it is shown there.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct HallCall {
    /// Its number, from 1.
    pub number: u32,
    /// It takes answers.
    pub open: bool,
    /// How many have found it.
    pub found: u32,
    /// Of how many.
    pub of: u32,
    /// The note, once it is shown.
    pub note: Option<Pitch>,
    /// Every place of it then.
    #[serde(with = "First::<Places>")]
    pub places: Vec<Position>,
}

impl FromStudent {
    /// The call it is about, if it names one.
    pub fn call(&self) -> Option<CallId> {
        match self {
            FromStudent::Sounded { call }
            | FromStudent::Hearing { call }
            | FromStudent::Try { call, .. }
            | FromStudent::Sung { call, .. }
            | FromStudent::CallerHearAgain { call }
            | FromStudent::CallerReveal { call }
            | FromStudent::CallerClose { call }
            | FromStudent::NotSounded { call } => Some(*call),
            FromStudent::Answer(notice) => Some(notice.call),
            FromStudent::Pick { .. } | FromStudent::Leave => None,
        }
    }
}
