//! What keys of the student's screen do.

use crate::neck::cursor::Step;

/// What keys do on the student's screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StudentCommand {
    /// Sound the place under the cursor.
    Try,
    /// Answer with the place under the cursor; as the one whose turn it is,
    /// call it.
    Commit,
    /// Answer with the note heard from the instrument; as the one whose turn
    /// it is, call it.
    Heard,
    /// Give the keys back to the cursor.
    LetGo,
    /// To the next or the one before of the places of the note heard.
    OtherPlace(bool),
    /// The note was played at the place under the cursor.
    ThisPlace,
    /// Listen to the instrument, or no longer.
    Listen,
    /// Measure the noise of the room.
    Quiet,
    /// Hear the call again.
    Hear,
    /// Answer by typing a note name.
    TypeName,
    /// Move the cursor.
    Move(Step),
    /// Show or hide note names.
    Names,
    /// Caller: any note.
    CallAny,
    /// Caller: show the note.
    Reveal,
    /// Caller: end the call.
    Close,
    /// Leave the lesson, or the screen once the lesson is over.
    Leave,
    /// Only the friend who hosts.
    Host(HostingCommand),
    /// Help.
    Help,
}

/// What the keys of the friend who hosts do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HostingCommand {
    /// Choose a reach.
    Reach,
    /// Choose another rule.
    Rules,
    /// Let the next friend call.
    Pass,
    /// Remove somebody.
    Remove,
    /// Say who somebody is.
    WhoIs,
    /// Offer somebody a class key.
    Key,
    /// Say how to join.
    Joining,
    /// Show the note, whoever called it.
    Reveal,
    /// End the call, whoever called it.
    Close,
    /// Go on without the lesson book.
    WithoutBook,
    /// End the lesson.
    End,
    /// Alone: call the next note.
    Next,
    /// Alone: let the next note come by itself, or no longer.
    ByItself,
}
