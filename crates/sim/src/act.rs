//! What people do and what goes wrong, one thing at a time. Numbers stand for
//! whichever there is of that many, so that any act can be tried at any time.

use arbitrary::Arbitrary;

/// Most students of a simulated lesson.
pub const MOST_SEATS: u8 = 8;

/// One thing that somebody does, or that goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Arbitrary)]
pub enum Act {
    /// Whoever holds the lesson orders something.
    Host(HostAct),
    /// A student does something at a terminal.
    Student(u8, StudentAct),
    /// Something goes wrong.
    Fault(Fault),
}

/// What whoever holds the lesson orders.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Arbitrary)]
pub enum HostAct {
    /// A note picked from the reach.
    CallRandom,
    /// One of the neck's places.
    CallPlace(u8),
    /// A pitch.
    CallPitch(u8),
    /// Once more for everyone.
    HearAgain,
    /// Show the note.
    Reveal,
    /// End the call.
    Close,
    /// Among friends, the next one calls.
    PassTurn,
    /// One of the ready reaches.
    Reach(u8),
    /// Another marking.
    Marking(u8),
    /// Another sounding.
    Sounding(u8),
    /// Another telling.
    Telling(u8),
    /// Sing first, or no longer.
    SingFirst(bool),
    /// Pick so that it teaches, or plainly at random.
    Teach(bool),
    /// Take one student off the roster.
    Remove(u8),
    /// Says that one student is another of the roster.
    Same(u8),
    /// A key that is stuck: once more for everyone, twice so many times at once.
    StuckKey(u8),
    /// Go on without the lesson book.
    WithoutBook,
}

/// What a student does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Arbitrary)]
pub enum StudentAct {
    /// Starts the program.
    Start,
    /// Kills the program, or the machine's battery does.
    Kill,
    /// Leaves for good.
    Leave,
    /// Hears the call again.
    Hear,
    /// Tries a place.
    Try(u8),
    /// Answers with a place.
    AnswerPlace(u8),
    /// Answers with a pitch.
    AnswerPitch(u8),
    /// Answers with the target, as somebody does who knows.
    AnswerRight,
    /// Plucks a pitch on the instrument, which the microphone hears.
    Pluck(u8),
    /// Plucks the target.
    PluckRight,
    /// Commits to the last pluck with a key.
    AnswerHeard,
    /// Sings, so many quarter tones beside the target.
    Sing(i8),
    /// As the friend whose turn it is: calls a place, or a note at random.
    Pick(Option<u8>),
    /// As the caller: once more for everyone.
    CallerHearAgain,
    /// As the caller: show the note.
    CallerReveal,
    /// As the caller: end the call.
    CallerClose,
}

/// What goes wrong.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Arbitrary)]
pub enum Fault {
    /// A connection is cut; what was on the way is lost, and each end notices
    /// in its own time.
    Cut(u8),
    /// The terminal loses its connection; what it sent before still arrives.
    TerminalLoses(u8),
    /// The host loses a connection; the terminal notices later.
    HostLoses(u8),
    /// Nothing gets through to or from a terminal for so many tenths of a
    /// second.
    Partition(u8, u8),
    /// Nothing gets through to or from anybody.
    PartitionAll(u8),
    /// A terminal is far away for so many tenths of a second.
    Far(u8, u8),
    /// The host is killed, and started again after so many tenths of a second.
    HostKilled(u8),
    /// The disk is slow for so many tenths of a second.
    DiskSlow(u8),
    /// The disk refuses for so many tenths of a second.
    DiskFails(u8),
    /// A terminal's clock jumps ahead by so many hundredths of a second.
    ClockJumps(u8, u8),
    /// A terminal's clock stands still for so many hundredths of a second.
    ClockStands(u8, u8),
}
