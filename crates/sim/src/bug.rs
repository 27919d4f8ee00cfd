//! Bugs that can be planted, so that it shows whether the simulation would
//! catch them. They are planted beside the program, not in it: what goes in and
//! out of its parts is spoilt on the way, as if the part were wrong.

/// One bug.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bug {
    /// Answers are confirmed before they are stored.
    ConfirmsEarly,
    /// An answer sent again after a lost connection counts as a new one.
    CountsTwice,
    /// The host's clock is converted wrongly.
    ConvertsClockWrongly,
    /// Answers are not sent again after a lost connection.
    LosesResend,
    /// What belongs to an earlier call than the one a terminal shows is dropped, at
    /// both ends: the answer is not sent again, and its mark not taken.
    ForgetsEarlierCalls,
    /// A call's target is told to those who are to find it.
    TellsTarget,
    /// A miss says more than the lesson tells before the reveal.
    TellsTooMuch,
    /// A connection's end is not told to the lesson.
    ForgetsDisconnect,
    /// A batch is said to be stored and is not.
    DropsBatch,
    /// The book's word that something is stored gets lost.
    ForgetsReport,
    /// Response times contain the way over the network.
    TimesNetwork,
    /// What waits for a student who does not read has no end.
    QueuesWithoutEnd,
    /// An input of the lesson is not written down.
    LogsTooLittle,
    /// What the book says of one student is taken for what it says of another.
    TellsOfAnother,
    /// Who a student is across lessons is not written down.
    ForgetsWho,
    /// Leaving forgets the seat, so that who comes back is somebody else.
    ForgetsPlace,
    /// The key that has a lesson go on by itself again after a kill does nothing.
    SleepsAfterKill,
    /// Something depends on more than the seed.
    UsesOtherChance,
}

impl Bug {
    /// All of them.
    pub const ALL: [Bug; 18] = [
        Bug::ConfirmsEarly,
        Bug::CountsTwice,
        Bug::ConvertsClockWrongly,
        Bug::LosesResend,
        Bug::ForgetsEarlierCalls,
        Bug::TellsTarget,
        Bug::TellsTooMuch,
        Bug::ForgetsDisconnect,
        Bug::DropsBatch,
        Bug::ForgetsReport,
        Bug::TimesNetwork,
        Bug::QueuesWithoutEnd,
        Bug::LogsTooLittle,
        Bug::TellsOfAnother,
        Bug::ForgetsWho,
        Bug::ForgetsPlace,
        Bug::SleepsAfterKill,
        Bug::UsesOtherChance,
    ];
}
