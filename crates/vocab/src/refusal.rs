//! Why the lesson would not do something.

use fifthpeg_core::{Pitch, Position};
use serde::{Deserialize, Serialize};

use crate::written::Sentence;

/// Why the lesson would not do something. The text is one sentence that says
/// what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error, Serialize, Deserialize)]
#[non_exhaustive]
pub enum Refusal {
    /// No call is open.
    #[error("no call is open: wait for the next one")]
    NoCall,
    /// The call named is not the open one.
    #[error("that call is over: answer the one that is open now")]
    OldCall,
    /// A call is still open.
    #[error("a call is still open: reveal or close it first")]
    CallOpen,
    /// The student is the caller.
    #[error("you called this note, so the others answer it")]
    CallerAnswers,
    /// Not this student's turn to call.
    #[error("it is not your turn to call: answer, or wait for your turn")]
    NotYourTurn,
    /// Only a host may do this.
    #[error("only the host can do that in this lesson")]
    HostOnly,
    /// The place is not on this neck.
    #[error("there is no place {0} on this neck: give a string and a fret on it, such as 1/4")]
    NoSuchPlace(Position),
    /// The note is outside the reach.
    #[error("that note is outside the reach: pick one inside it, or widen the reach first")]
    OutsideReach,
    /// Exact marking needs a place.
    #[error("this lesson marks the exact place: answer with a string and a fret, such as 1/4")]
    PlaceNeeded,
    /// An octave is needed.
    #[error(
        "say which octave as well, such as F#4, or answer with a string and a fret, such as 1/4"
    )]
    OctaveNeeded,
    /// Too many answers to one call.
    #[error(
        "that is {0} answers to one call, the most this lesson takes: listen again and wait for the reveal"
    )]
    TooManyAnswers(u32),
    /// The roster is full.
    #[error("the lesson is full ({0} students): ask the host to make room")]
    Full(u32),
    /// The name cannot be used.
    #[error("that name cannot be used: give one of 1 to {0} letters, without control signs")]
    BadName(u32),
    /// The key for coming back is not known.
    #[error("this lesson no longer knows you: join it again")]
    UnknownSeat,
    /// No such student.
    #[error("no student of that name or number is here")]
    NoStudent,
    /// Nobody can call.
    #[error("nobody is here to call: wait until a friend joins")]
    NobodyToCall,
    /// The lesson has ended.
    #[error("the lesson has ended")]
    Ended,
    /// The student has answered this call rightly.
    #[error("you have found this one already: wait for the next call")]
    FoundAlready,
    /// An answer to a call that takes no more; it is not kept.
    #[error(
        "that answer came after the note was shown or the call closed, so it does not count: \
         wait for the next call"
    )]
    TooLate,
    /// The reach cannot be used.
    #[error("{0}")]
    Reach(#[serde(with = "Sentence")] String),
    /// An answer to a call of so long ago that its marks are not kept any more.
    #[error(
        "that call is so long over that this lesson does not know any more what came of the \
         answer: look at the report of the lesson"
    )]
    LongOver,
    /// An answer to a call that a host which was killed had not written down.
    #[error(
        "the host was started again and has lost that call, so the answer does not count: wait \
         for the next call"
    )]
    CallLost,
    /// More messages in one call than are taken.
    #[error("you have sent more in this call than this lesson takes: wait for the next one")]
    SaidTooMuch,
    /// As many answers as a terminal keeps wait for the host.
    #[error("{0} answers wait for the host already: wait until it has told what came of them")]
    TooManyWait(u32),
    /// The host took this student out.
    #[error(
        "the host has taken you out of this lesson: ask the host before you come back, and \
             then under another name"
    )]
    TakenOut,
    /// Nobody known has that name.
    #[error("nobody known here is called {0}: the list of those who are known has the names")]
    NobodyKnown(#[serde(with = "Sentence")] String),
    /// Both are here, so they are two.
    #[error(
        "{0} is here as well, over another connection: one of the two has to leave before they \
         can be one person"
    )]
    BothHere(#[serde(with = "Sentence")] String),
    /// Friends, and a host without speakers.
    #[error(
        "among friends the host has no speakers to sound a call: choose every-terminal or on-asking"
    )]
    NoSpeakers,
    /// The lesson cannot begin like this.
    #[error("{0}")]
    Setup(#[serde(with = "Sentence")] String),
    /// Nothing was plucked that could be committed.
    #[error("nothing was heard yet: pluck the note, then answer")]
    NothingHeard,
    /// The pluck heard last has answered already.
    #[error("the note heard last has answered already: pluck the next one")]
    HeardAnswered,
    /// What a key committed was withdrawn by the ear.
    #[error("what was heard was not one clear note, so it did not answer: pluck it again")]
    HeardWithdrawn,
    /// The place named does not sound the pitch heard.
    #[error("{} was heard, which is not at that place: name the place where you played it", .0.ascii_name(fifthpeg_core::Spelling::default()))]
    OtherPitchThanHeard(Pitch),
    /// A pitch that this neck does not have.
    #[error("that note is on no place of this neck: play it on the neck, or check the tuning")]
    HeardOffNeck,
    /// There is no microphone.
    #[error("this terminal does not listen: join with a microphone, or answer on the screen")]
    NotListening,
    /// The terminal has lost the host, or has not found it yet.
    #[error("the host cannot be reached just now: wait until the connection is back")]
    NotConnected,
    /// A page for a projector, where enough are open.
    #[error("{0} pages for a projector are open already: close one that nobody is watching")]
    HallsFull(u32),
}
