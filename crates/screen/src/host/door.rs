//! How to get in, on the host's screen.

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
    pub(super) fn say_joining(&mut self) {
        let mut text = format!("{}.", self.joining);
        if let Some(door) = &self.door {
            text = format!("{text} {}", door.in_full());
        }
        self.message = Some(Message::news(text));
    }
}
