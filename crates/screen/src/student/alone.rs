//! What who is alone has on the student's screen besides: the key that calls
//! the next note, the reveal, the reach that is suggested, the end.

use super::commands::StudentCommand;
use super::host_keys::{ALONE_KEYS, NEXT_KEYS};
use super::keys::without_leaving;
use super::layers::{Alone, StudentAction};
use super::state::StudentState;
use crate::keys::Binding;
use crate::parts::Message;
use crate::words;

/// The foot: the two or three keys that matter now, then those of who is alone.
pub fn foot(state: &StudentState) -> Vec<Binding<StudentCommand>> {
    let may_call = state.may_call_next();
    let table = if may_call { NEXT_KEYS } else { state.table() };
    let mut foot = without_leaving(table);
    let rest = foot.split_off(foot.len().min(if may_call { 1 } else { 3 }));
    foot.extend(ALONE_KEYS);
    foot.extend(rest);
    foot
}

impl StudentState {
    /// How the lesson goes on, for who is alone in it.
    pub fn alone(&self) -> Option<Alone> {
        self.hosting.as_ref().and_then(|hosting| hosting.alone)
    }

    /// Whether who is alone may call the next note now.
    pub fn may_call_next(&self) -> bool {
        let joined = self.view.welcome.is_some();
        self.alone().is_some() && joined && self.view.open_call().is_none() && !self.is_over()
    }

    /// Lets the next note come by itself, or no longer.
    pub(super) fn turn_pace(&mut self) -> Option<StudentAction> {
        let alone = self.hosting.as_mut()?.alone.as_mut()?;
        alone.by_itself = !alone.by_itself;
        let seconds = alone.gap.as_secs_f64();
        let by_itself = alone.by_itself;
        self.message = Some(Message::news(if by_itself {
            format!("The next note comes by itself, {seconds} s after one is shown.")
        } else {
            "The next note waits for a key.".to_owned()
        }));
        Some(StudentAction::ByItself(by_itself))
    }

    /// What is suggested for the reach, where nothing else is told.
    pub(super) fn suggested(&self, width: usize) -> Option<Message> {
        let hosting = self.hosting.as_ref().filter(|h| h.alone.is_some())?;
        let suggestion = hosting.view.suggestion.filter(|s| s.is_change())?;
        let whole = format!("{suggestion} Key: e.");
        Some(Message::news(if whole.chars().count() <= width {
            whole
        } else {
            words::short_suggestion(&suggestion)
        }))
    }
}

/// What to do while no note is called.
pub fn between_calls(state: &StudentState, alone: Alone) -> String {
    if state.view.call.is_none() {
        "Ready? Enter calls the first note.".to_owned()
    } else if alone.by_itself {
        "The next note comes by itself; Enter calls it at once.".to_owned()
    } else {
        "Enter calls the next note.".to_owned()
    }
}
