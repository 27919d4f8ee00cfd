//! How to get in, on the host's screen.

use super::layers::HostAction;
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
        Some(HostAction::Joining)
    }

    pub(super) fn joining_in_full(&self) -> String {
        match &self.door {
            Some(door) => format!("{}. {}", self.joining, door.in_full()),
            None => format!("{}.", self.joining),
        }
    }
}
