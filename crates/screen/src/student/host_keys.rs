//! The keys that the friend who hosts has on the student's screen besides, and
//! those of who is alone.

use super::commands::HostingCommand::{
    self, ByItself, End, Next, Reach, Reveal, Rules, WithoutBook,
};
use super::commands::StudentCommand::{self, Host};
use super::layers::Hosting;
use crate::keys::{Binding, CTRL_C, ENTER, Key, PAGE_DOWN, SPACE, row};
use crate::rows;

/// The keys of the friend who hosts, before all others.
pub const HOSTING_KEYS: &[Binding<StudentCommand>] = &[
    row(
        &[Key::Char('e')],
        "change the reach that notes are called from",
        "reach",
        Host(HostingCommand::Reach),
    ),
    row(
        &[Key::Char('q'), CTRL_C],
        "end the lesson for everyone (asks first)",
        "end",
        Host(HostingCommand::End),
    ),
    row(
        &[Key::Char('p')],
        "let the next friend call; after a reveal: close the call",
        "pass",
        Host(HostingCommand::Pass),
    ),
    row(
        &[Key::Char('s')],
        "change marking, sounding, telling or voice",
        "rules",
        Host(HostingCommand::Rules),
    ),
    row(
        &[Key::Char('d')],
        "remove a friend from the lesson (asks first)",
        "remove",
        Host(HostingCommand::Remove),
    ),
    row(
        &[Key::Char('w')],
        "say who somebody is, of those who are known",
        "",
        Host(HostingCommand::WhoIs),
    ),
    row(
        &[Key::Char('g')],
        "give a class key, for a friend's own machine",
        "",
        Host(HostingCommand::Key),
    ),
    row(
        &[Key::Char('j')],
        "say how to join",
        "how to join",
        Host(HostingCommand::Joining),
    ),
    row(
        &[Key::Char('r')],
        "reveal the note, whoever called it",
        "",
        Host(HostingCommand::Reveal),
    ),
    row(
        &[Key::Char('x')],
        "close the call, whoever called it",
        "",
        Host(HostingCommand::Close),
    ),
    rows::without_book(Host(HostingCommand::WithoutBook)),
];

/// The keys of who is alone, before all others.
pub const ALONE_KEYS: &[Binding<StudentCommand>] = &[
    rows::reveal(Host(Reveal)),
    rows::end(Host(End)),
    rows::reach(Host(Reach)),
    row(
        &[Key::Char('s')],
        "change marking, telling, voice or picking",
        "rules",
        Host(Rules),
    ),
    row(
        &[Key::Char('p')],
        "let the next note come by itself after a pause, or no longer",
        "by itself",
        Host(ByItself),
    ),
    rows::without_book(Host(WithoutBook)),
];

/// The keys while no note is called, before those for everyone. The foot
/// switch calls the next note with whichever key it sends.
pub const NEXT_KEYS: &[Binding<StudentCommand>] = &[
    row(
        &[ENTER, PAGE_DOWN, SPACE],
        "call the next note (Space, PageDown too)",
        "next note",
        Host(Next),
    ),
    row(
        &[Key::Char('h')],
        "hear the note again",
        "hear again",
        StudentCommand::Hear,
    ),
    rows::help(StudentCommand::Help),
];

impl Hosting {
    /// The keys besides a student's.
    pub fn keys(&self) -> &'static [Binding<StudentCommand>] {
        match self.alone {
            Some(_) => ALONE_KEYS,
            None => HOSTING_KEYS,
        }
    }
}
