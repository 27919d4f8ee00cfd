//! Choosing a place on the neck, and typing a call or a reach.

use fifthpeg_core::{Named, Position};
use fifthpeg_lesson::message::Answer;
use fifthpeg_lesson::setup::HostOrder;

use super::deeds::HostDeed;
use super::keys::PickCommand;
use super::layers::{HostAction, Layer};
use super::menus;
use super::state::HostState;
use crate::neck::NeckCursor;

impl HostState {
    pub(super) fn pick_command(&mut self, command: PickCommand) -> Option<HostAction> {
        let Layer::Pick(cursor) = &mut self.layer else {
            return None;
        };
        match command {
            PickCommand::Move(step) => cursor.step(&self.neck, step, self.options.left_handed),
            PickCommand::Back => return self.back(),
            PickCommand::Help => self.layer = Layer::Help(0),
            PickCommand::Call => {
                let cursor = *cursor;
                self.last_cursor = Some(cursor);
                self.layer = Layer::Main;
                let place = Answer::Place(cursor.place());
                return Some(HostAction::Host(HostDeed::Order(HostOrder::CallAt(place))));
            }
        }
        None
    }

    /// The cursor begins inside the reach.
    pub(super) fn first_cursor(&self) -> Option<NeckCursor> {
        let mut cursor = NeckCursor::new(&self.neck)?;
        if let Some(place) = self.reach.first() {
            cursor.put(&self.neck, *place);
        }
        Some(cursor)
    }

    /// A reach that cannot be read or used leaves the line open, to be mended.
    pub(super) fn take_typed_reach(&mut self, text: &str) -> Option<HostAction> {
        match menus::typed_reach(text, &self.neck) {
            Ok(order) => {
                self.layer = Layer::Main;
                Some(HostAction::Host(HostDeed::Order(order)))
            }
            Err(why) => {
                if let Layer::TypeReach(line) = &mut self.layer {
                    line.complain(why);
                }
                None
            }
        }
    }

    /// A line that is neither place nor note stays open, and is not repeated
    /// where others can read it.
    pub(super) fn take_typed_call(&mut self, text: &str) -> Option<HostAction> {
        let place = text.parse::<Position>().map(Answer::Place).ok();
        let place = place.filter(
            |place| matches!(place, Answer::Place(place) if self.neck.pitch_at(*place).is_some()),
        );
        let note = || match text.parse::<Named>() {
            Ok(Named::Pitch(pitch)) => Some(Answer::Pitch(pitch)),
            _ => None,
        };
        let Some(answer) = place.or_else(note) else {
            if let Layer::TypeCall(line) = &mut self.layer {
                line.complain("that is no place of this neck and no note with its octave");
            }
            return None;
        };
        self.layer = Layer::Main;
        Some(HostAction::Host(HostDeed::Order(HostOrder::CallAt(answer))))
    }
}
