//! What can lie over the host's screen, and what it can want done.

use fifthpeg_lesson::message::StudentId;
use fifthpeg_vocab::Rule;

use super::deeds::HostDeed;
use super::joining::Joining;
use crate::line_edit::LineEdit;
use crate::menu::Menu;
use crate::neck::NeckCursor;

/// What the screen wants done.
#[derive(Debug, Clone, PartialEq)]
pub enum HostAction {
    /// Something that whoever hosts can do.
    Host(HostDeed),
    /// Listen to the microphone, or no longer.
    Listen(bool),
    /// Measure the noise of the room.
    Calibrate,
}

/// A list that opens from another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum List {
    /// A rule's choices.
    Rule(&'static Rule),
    /// Whether to remove this student.
    Remove(StudentId),
}

/// What a line of a menu stands for.
#[derive(Debug, Clone, PartialEq)]
pub enum MenuChoice {
    /// Something to do.
    Do(HostDeed),
    /// Another list.
    Open(List),
    /// Type a reach of one's own.
    TypeReach,
    /// The list of whom this student could be.
    WhoIs(StudentId),
    /// Nothing: go back.
    Back,
}

/// What lies over the main screen.
#[derive(Debug, Clone, PartialEq)]
pub enum Layer {
    /// The caution about loudness, where something can sound.
    Caution,
    /// Nothing.
    Main,
    /// A place to call is being chosen.
    Pick(NeckCursor),
    /// A list.
    Menu(Menu<MenuChoice>),
    /// A reach is being typed.
    TypeReach(LineEdit),
    /// A note to call is being typed, unseen because the target is hidden.
    TypeCall(LineEdit),
    /// The keys of a lesson.
    Keys,
    /// Help, from this line on.
    Help(usize),
    /// How a phone gets in.
    Joining(Joining),
}

/// Which list is shown where there is room for one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pane {
    /// The roster.
    Students,
    /// The answers, by student.
    Answers,
}
