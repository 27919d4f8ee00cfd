//! How to get in, on the host's screen.

use crossterm::event::{KeyCode, KeyEvent, KeyEventKind};
use fifthpeg_host::Invite;

use super::deeds::HostDeed;
use super::joining::Joining;
use super::layers::{HostAction, Layer};
use super::state::HostState;
use crate::door::DoorShown;
use crate::parts::Message;

impl HostState {
    /// The same screen with who gets in.
    #[must_use]
    pub fn with_door(mut self, door: DoorShown) -> Self {
        self.door = Some(door);
        self
    }

    /// Says in full how to join, with as many addresses as there are.
    pub(super) fn say_joining(&mut self) -> Option<HostAction> {
        self.message = Some(Message::news(self.joining_in_full()));
        Some(HostAction::Host(HostDeed::Joining))
    }

    pub(super) fn joining_in_full(&self) -> String {
        match &self.door {
            Some(door) => format!("{}. {}", self.joining, door.in_full()),
            None => format!("{}.", self.joining),
        }
    }

    /// Shows how a phone gets in, beside what is said of terminals.
    pub fn show_joining(&mut self, invite: &Invite) {
        let said = self.joining_in_full();
        self.message = None;
        self.layer = Layer::Joining(Joining::of(invite, &said));
    }

    /// Says that there is no page.
    pub fn say_no_page(&mut self) {
        let said = self.joining_in_full();
        let text = format!(
            "{}. There is no page for phones: this program was built without it.",
            said.trim_end_matches('.')
        );
        self.message = Some(Message::news(text));
    }

    /// Takes a key while it is shown.
    pub(super) fn joining_key(&mut self, event: &KeyEvent) -> Option<HostAction> {
        match event.code {
            _ if event.kind == KeyEventKind::Release => None,
            KeyCode::Char('w') => Some(HostAction::Host(HostDeed::NewPageWords)),
            _ => {
                self.layer = Layer::Main;
                None
            }
        }
    }
}
