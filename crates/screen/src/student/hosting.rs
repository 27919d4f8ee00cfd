//! What the friend who hosts has on the student's screen besides: how the
//! others join, the rules, the turn, the roster, the end.

use std::sync::Arc;

use fifthpeg_core::Neck;
use fifthpeg_host::{BookState, KnownPerson};
use fifthpeg_lesson::setup::HostOrder;
use fifthpeg_lesson::view::LessonView;

use super::alone::{ALONE_KEYS, Alone};
use super::keys::StudentCommand::{self, Host};
use super::state::{Layer, StudentAction, StudentState};
use crate::host::layers::MenuChoice;
use crate::host::menus;
use crate::host::people::{self, Came, People};
use crate::keys::{Binding, CTRL_C, Key, row};
use crate::line_edit::LineEdit;
use crate::parts::Message;
use crate::rows;

/// How many friends are so few that how to join stays in sight.
const FEW: usize = 3;

/// The lesson as the friend who hosts sees it.
#[derive(Debug, Clone, PartialEq)]
pub struct Hosting {
    /// The lesson as it is now. Nothing of it is drawn but the roster and the
    /// rules, because this friend searches as well.
    pub view: Arc<LessonView>,
    /// How to join, and who gets in: a line each.
    pub joining: String,
    /// The same in full.
    pub joining_in_full: String,
    /// How it stands with the lesson book.
    pub book: BookState,
    /// Whom it knows in this class, as asked for last.
    pub known: Vec<KnownPerson>,
    /// Nobody else is in the lesson, nor can be.
    pub alone: Option<Alone>,
}

impl Hosting {
    /// The keys besides a student's.
    pub fn keys(&self) -> &'static [Binding<StudentCommand>] {
        match self.alone {
            Some(_) => ALONE_KEYS,
            None => HOSTING_KEYS,
        }
    }

    /// Whether so few are here that more are likely to come.
    pub fn is_quiet(&self) -> bool {
        let here = self.view.students.iter().filter(|s| s.connected);
        self.alone.is_none() && here.count() < FEW
    }
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

impl StudentState {
    /// The same screen for the friend who hosts.
    #[must_use]
    pub fn with_hosting(self, hosting: Hosting) -> Self {
        Self {
            hosting: Some(hosting),
            ..self
        }
    }

    /// Rows that say how to join, where they are shown.
    pub fn joining_rows(&self) -> u16 {
        let hosting = self.hosting.as_ref().filter(|_| self.shows_joining());
        let lines = hosting.map_or(0, |hosting| hosting.joining.lines().count());
        u16::try_from(lines).unwrap_or(0)
    }

    /// Whether the lines that say how to join are shown.
    pub fn shows_joining(&self) -> bool {
        self.hosting.as_ref().is_some_and(Hosting::is_quiet) && !self.is_over()
    }

    /// Does what a key of the friend who hosts stands for.
    pub(super) fn host_command(&mut self, command: HostingCommand) -> Option<StudentAction> {
        let hosting = self.hosting.as_ref()?;
        let order = |order| Some(StudentAction::Host(order));
        let menu = match command {
            HostingCommand::Reach => menus::reach(&hosting.view),
            HostingCommand::Rules if hosting.alone.is_some() => menus::rules_alone(&hosting.view),
            HostingCommand::Rules => menus::rules(&hosting.view),
            HostingCommand::End if hosting.alone.is_some() => menus::end_alone(),
            HostingCommand::End => menus::end(),
            HostingCommand::Next => return order(HostOrder::CallRandom),
            HostingCommand::ByItself => return self.turn_pace(),
            HostingCommand::Remove => {
                let me = self.view.welcome.as_ref().map(|welcome| welcome.student);
                match menus::roster(&hosting.view, me) {
                    Some(menu) => menu,
                    None => {
                        self.message = Some(Message::trouble("Nobody else is here to remove."));
                        return None;
                    }
                }
            }
            HostingCommand::WhoIs => return Some(StudentAction::People(People::AskWho)),
            HostingCommand::Key => return Some(StudentAction::People(People::AskKeys)),
            HostingCommand::Joining => {
                self.message = Some(Message::news(&hosting.joining_in_full));
                return None;
            }
            HostingCommand::WithoutBook if hosting.book.is_kept() => {
                menus::leave_book(&hosting.book)
            }
            HostingCommand::WithoutBook => {
                self.message = Some(Message::news(menus::NOT_WRITTEN));
                return None;
            }
            HostingCommand::Pass => return order(HostOrder::PassTurn),
            HostingCommand::Reveal => return order(HostOrder::Reveal),
            HostingCommand::Close => return order(HostOrder::Close),
        };
        self.layer = Layer::HostList(menu);
        None
    }

    /// Takes a line of one of the host's lists.
    pub(super) fn take_choice(&mut self, choice: MenuChoice) -> Option<StudentAction> {
        self.layer = Layer::Main;
        let hosting = self.hosting.as_ref()?;
        match choice {
            MenuChoice::Order(order) => return Some(StudentAction::Host(order)),
            MenuChoice::Open(list) => {
                if let Some(menu) = menus::open(list, &hosting.view) {
                    self.layer = Layer::HostList(menu);
                }
            }
            MenuChoice::TypeReach => {
                self.layer = Layer::TypeReach(LineEdit::default());
            }
            MenuChoice::WithoutBook => return Some(StudentAction::WithoutBook),
            MenuChoice::NewBook => return Some(StudentAction::NewBook),
            MenuChoice::People(people) => return Some(StudentAction::People(people)),
            MenuChoice::WhoIs(id) => match people::who_is(&hosting.view, &hosting.known, id) {
                Some(menu) => self.layer = Layer::HostList(menu),
                None => self.message = Some(Message::news(fifthpeg_front::NOBODY_KNOWN)),
            },
            MenuChoice::Back => {}
        }
        None
    }

    /// Takes what came of something about people.
    pub fn take_people(&mut self, asked: &People, came: Came) {
        let known = match came {
            Came::Known(known) => known,
            Came::Told(told) => {
                self.message = told;
                return;
            }
        };
        let me = self.view.welcome.as_ref().map(|welcome| welcome.student);
        let Some(hosting) = &mut self.hosting else {
            return;
        };
        hosting.known = known;
        let (menu, none) = match asked {
            People::AskKeys => (
                people::keys(&hosting.view, &hosting.known, me),
                fifthpeg_front::NOBODY_HERE,
            ),
            _ => (people::who(&hosting.view, me), fifthpeg_front::NOBODY_KNOWN),
        };
        match menu {
            Some(menu) => self.layer = Layer::HostList(menu),
            None => self.message = Some(Message::news(none)),
        }
    }

    /// A reach that cannot be read or used leaves the line open, to be mended.
    pub(super) fn take_typed_reach(&mut self, text: &str) -> Option<StudentAction> {
        let neck: &Neck = self.view.neck.as_ref()?;
        match menus::typed_reach(text, neck) {
            Ok(order) => {
                self.layer = Layer::Main;
                self.message = None;
                Some(StudentAction::Host(order))
            }
            Err(why) => {
                if let Layer::TypeReach(line) = &mut self.layer {
                    line.complain(why);
                }
                None
            }
        }
    }
}
