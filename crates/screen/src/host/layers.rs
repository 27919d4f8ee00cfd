//! What can lie over the host's screen, and what it can want done.

use fifthpeg_lesson::message::StudentId;
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_vocab::Rule;

use super::joining::Joining;
use crate::line_edit::LineEdit;
use crate::menu::Menu;
use crate::neck::NeckCursor;

/// What the screen wants done.
#[derive(Debug, Clone, PartialEq)]
pub enum HostAction {
    /// Give this order to the lesson.
    Order(HostOrder),
    /// Listen to the microphone, or no longer.
    Listen(bool),
    /// Measure the noise of the room.
    Calibrate,
    /// Go on without the lesson book.
    WithoutBook,
    /// Go on in a new lesson book.
    NewBook,
    /// Something about who is who, or class keys.
    People(People),
    /// Show how a phone gets in.
    Joining,
    /// Make new words for pages.
    NewPageWords,
}

/// What is asked for or ordered about who is who, and class keys.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum People {
    /// The list of those who are known, to say who somebody is.
    AskWho,
    /// The list of those who are here, to offer a class key.
    AskKeys,
    /// This student is who has that name.
    KnownAs(StudentId, String),
    /// Offer this student a class key.
    OfferKey(StudentId),
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
    /// An order.
    Order(HostOrder),
    /// Another list.
    Open(List),
    /// Type a reach of one's own.
    TypeReach,
    /// Go on without the lesson book.
    WithoutBook,
    /// Go on in a new lesson book.
    NewBook,
    /// Something about who is who, or class keys.
    People(People),
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
