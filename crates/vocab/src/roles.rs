//! Who may say what: one table, which the lesson and the host's door ask, and
//! which the tests hold a real lesson to.
//!
//! What a role may say can still be refused for what it says: an answer to a
//! call that is over, say. What a role may not say is refused whatever it says.

use crate::choices::Mode;
use crate::message::FromStudent;
use crate::refusal::Refusal;
use crate::setup::HostOrder;

/// Who speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Role {
    /// A connection that has not joined.
    AtDoor,
    /// A student of a class.
    InClass,
    /// A friend whose turn it is to call.
    OnTurn,
    /// A friend whose turn it is not.
    OffTurn,
    /// One who left, was taken out, or lost the connection: whatever still
    /// comes over it.
    Out,
}

impl Role {
    /// All of them, in the order of the table's columns.
    pub const ALL: [Role; 5] = [
        Role::AtDoor,
        Role::InClass,
        Role::OnTurn,
        Role::OffTurn,
        Role::Out,
    ];

    /// Who that is, in words.
    pub const fn title(self) -> &'static str {
        match self {
            Role::AtDoor => "at the door",
            Role::InClass => "student in a class",
            Role::OnTurn => "friend on their turn",
            Role::OffTurn => "friend not on their turn",
            Role::Out => "gone or taken out",
        }
    }
}

/// What a terminal says, by kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)] // As the messages: [`FromStudent`], and the two of the door.
pub enum Said {
    Join,
    ClockAsk,
    Sounded,
    NotSounded,
    Hearing,
    Try,
    Sung,
    Answer,
    Pick,
    CallerHearAgain,
    CallerReveal,
    CallerClose,
    Leave,
    KeyAnswer,
    Watch,
}

impl From<&FromStudent> for Said {
    fn from(message: &FromStudent) -> Self {
        match message {
            FromStudent::Sounded { .. } => Said::Sounded,
            FromStudent::NotSounded { .. } => Said::NotSounded,
            FromStudent::Hearing { .. } => Said::Hearing,
            FromStudent::Try { .. } => Said::Try,
            FromStudent::Sung { .. } => Said::Sung,
            FromStudent::Answer(_) => Said::Answer,
            FromStudent::Pick { .. } => Said::Pick,
            FromStudent::CallerHearAgain { .. } => Said::CallerHearAgain,
            FromStudent::CallerReveal { .. } => Said::CallerReveal,
            FromStudent::CallerClose { .. } => Said::CallerClose,
            FromStudent::Leave => Said::Leave,
        }
    }
}

/// What comes of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum May {
    /// Yes.
    Yes,
    /// About a call that somebody else made: else
    /// [`Refusal::CallerAnswers`].
    OfOthers,
    /// About a call of one's own: else [`Refusal::NotYourTurn`].
    OfOwn,
    /// No: [`Refusal::HostOnly`].
    HostOnly,
    /// No: [`Refusal::NotYourTurn`].
    NotYourTurn,
    /// No: the connection is closed, since no terminal says this here.
    HungUp,
    /// No: it is not heard. Nobody is there to be told.
    Unheard,
}

impl May {
    /// In words, for a page.
    pub const fn title(self) -> &'static str {
        match self {
            May::Yes => "yes",
            May::OfOthers => "calls of others",
            May::OfOwn => "their own call",
            May::HostOnly => "refused: host only",
            May::NotYourTurn => "refused: not their turn",
            May::HungUp => "hung up on",
            May::Unheard => "not heard",
        }
    }
}

/// The table: for each kind, what comes of it from each role of [`Role::ALL`].
#[rustfmt::skip] // So that it reads as the table it is.
pub const TABLE: [(Said, [May; 5]); 15] = {
    use May::{HostOnly, HungUp, NotYourTurn, OfOthers, OfOwn, Unheard, Yes};
    [
        //                        at door  in class   on turn      off turn     out
        (Said::Join,             [Yes,     HungUp,    HungUp,      HungUp,      Unheard]),
        (Said::ClockAsk,         [Yes,     Yes,       Yes,         Yes,         Unheard]),
        (Said::Sounded,          [HungUp,  Yes,       Yes,         Yes,         Unheard]),
        (Said::NotSounded,       [HungUp,  Yes,       Yes,         Yes,         Unheard]),
        (Said::Hearing,          [HungUp,  Yes,       Yes,         Yes,         Unheard]),
        (Said::Try,              [HungUp,  Yes,       Yes,         Yes,         Unheard]),
        (Said::Sung,             [HungUp,  Yes,       Yes,         Yes,         Unheard]),
        (Said::Answer,           [HungUp,  Yes,       OfOthers,    OfOthers,    Unheard]),
        (Said::Pick,             [HungUp,  HostOnly,  Yes,         NotYourTurn, Unheard]),
        (Said::CallerHearAgain,  [HungUp,  HostOnly,  OfOwn,       OfOwn,       Unheard]),
        (Said::CallerReveal,     [HungUp,  HostOnly,  OfOwn,       OfOwn,       Unheard]),
        (Said::CallerClose,      [HungUp,  HostOnly,  OfOwn,       OfOwn,       Unheard]),
        (Said::Leave,            [HungUp,  Yes,       Yes,         Yes,         Unheard]),
        (Said::KeyAnswer,        [HungUp,  Yes,       Yes,         Yes,         Unheard]),
        (Said::Watch,            [Yes,     HungUp,    HungUp,      HungUp,      Unheard]),
    ]
};

/// What comes of it when `role` says `said`.
pub fn may(role: Role, said: Said) -> May {
    let row = TABLE.iter().find(|(kind, _)| *kind == said);
    let column = Role::ALL.iter().position(|r| *r == role);
    // A kind or a role that the table lacks may nothing.
    row.zip(column)
        .map_or(May::HungUp, |((_, cells), at)| cells[at])
}

/// Whether the host may order this in a lesson of that mode. What it orders can
/// still be refused: reveal without a call, say.
///
/// # Errors
/// [`Refusal::NotYourTurn`]: among friends the friends call.
pub fn host_may(order: &HostOrder, mode: Mode) -> Result<(), Refusal> {
    match order {
        HostOrder::CallAt(_) | HostOrder::CallPlayed(_) | HostOrder::CallRandom => match mode {
            Mode::Class => Ok(()),
            Mode::Friends => Err(Refusal::NotYourTurn),
        },
        HostOrder::HearAgain
        | HostOrder::Reveal
        | HostOrder::Close
        | HostOrder::PassTurn
        | HostOrder::Set(_)
        | HostOrder::Remove(_)
        | HostOrder::KnownAs { .. }
        | HostOrder::End => Ok(()),
    }
}
