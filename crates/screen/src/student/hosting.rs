//! What the friend who hosts has on the student's screen besides: how the
//! others join, the rules, the turn, the roster, the end.

use fifthpeg_core::Neck;
use fifthpeg_lesson::setup::HostOrder;

use fifthpeg_host::{Invite, KnownPerson};

use super::commands::HostingCommand;
use super::layers::{Hosting, Layer, StudentAction};
use super::state::StudentState;
use crate::host::deeds::{Came, HostDeed, People};
use crate::host::joining::Joining;
use crate::host::layers::MenuChoice;
use crate::host::menus;
use crate::host::people;
use crate::line_edit::LineEdit;
use crate::parts::Message;

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
        let order = |order| Some(StudentAction::Host(HostDeed::Order(order)));
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
            HostingCommand::WhoIs => {
                return Some(StudentAction::Host(HostDeed::People(People::AskWho)));
            }
            HostingCommand::Key => {
                return Some(StudentAction::Host(HostDeed::People(People::AskKeys)));
            }
            HostingCommand::Joining => {
                self.message = Some(Message::news(&hosting.joining_in_full));
                return Some(StudentAction::Host(HostDeed::Joining));
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

    /// Shows how a phone gets in, beside what is said of terminals.
    pub fn show_joining(&mut self, invite: &Invite) {
        if let Some(hosting) = &self.hosting {
            self.layer = Layer::Joining(Joining::of(invite, &hosting.joining_in_full));
            self.message = None;
        }
    }

    /// Takes a line of one of the host's lists.
    pub(super) fn take_choice(&mut self, choice: MenuChoice) -> Option<StudentAction> {
        self.layer = Layer::Main;
        let hosting = self.hosting.as_ref()?;
        match choice {
            MenuChoice::Do(deed) => return Some(StudentAction::Host(deed)),
            MenuChoice::Open(list) => {
                if let Some(menu) = menus::open(list, &hosting.view) {
                    self.layer = Layer::HostList(menu);
                }
            }
            MenuChoice::TypeReach => {
                self.layer = Layer::TypeReach(LineEdit::default());
            }
            MenuChoice::WhoIs(id) => match people::who_is(&hosting.view, &hosting.known, id) {
                Some(menu) => self.layer = Layer::HostList(menu),
                None => self.message = Some(Message::news(fifthpeg_front::NOBODY_KNOWN)),
            },
            MenuChoice::Back => {}
        }
        None
    }

    /// Takes what came of something that whoever hosts can do.
    pub fn take_came(&mut self, came: Came) {
        match came {
            Came::Known(asked, known) => self.show_people(&asked, known),
            Came::Invite(Some(invite)) => self.show_joining(&invite),
            // It stays at what is said of terminals.
            Came::Invite(None) => {}
            Came::Done(told) => self.message = told,
            Came::Failed(why) => self.message = Some(why),
        }
    }

    fn show_people(&mut self, asked: &People, known: Vec<KnownPerson>) {
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
                Some(StudentAction::Host(HostDeed::Order(order)))
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
