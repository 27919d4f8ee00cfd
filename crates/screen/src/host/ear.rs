//! The host's instrument on the screen: how the microphone fares, and the note
//! that it offers.

use fifthpeg_core::Pitch;
use fifthpeg_sound::Listened;
use fifthpeg_student::ear::{EarState, EarStatus};

use super::state::HostState;
use crate::ear_line::ear_news;

impl HostState {
    /// Takes how the microphone fares now; trouble and what the room is like
    /// are told.
    pub fn set_ear(&mut self, ear: EarStatus) {
        if let Some(told) = ear_news(self.ear.as_ref(), &ear) {
            self.message = Some(told);
        }
        if ear.state == EarState::Off {
            self.offers.clear();
        }
        self.ear = Some(ear);
    }

    /// Takes what the microphone heard. Notes are offered between calls only.
    pub fn take_heard(&mut self, heard: &Listened) {
        if self.offers.take(heard, self.view.open_call().is_none()) {
            // What was told of the note before no longer holds.
            self.message = None;
        }
    }

    /// The note played on the instrument, while it can be called.
    pub fn offered(&self) -> Option<Pitch> {
        let offer = self.offers.standing();
        let offer = offer.filter(|_| self.view.open_call().is_none());
        offer.map(|offer| offer.pitch)
    }

    /// Whether what is played must not be seen here: others look on.
    pub fn is_offer_hidden(&self) -> bool {
        self.hidden
    }

    /// Why no note that was played can be called.
    pub(super) fn why_nothing_heard(&self) -> &'static str {
        match &self.ear {
            None => {
                "Enter calls a note played on your instrument: start with --microphone for that."
            }
            Some(ear) if ear.state == EarState::Off => {
                "The microphone is off: i turns it on, then play a note and press Enter."
            }
            Some(_) if self.view.open_call().is_some() => {
                "A call is open: reveal or close it before the next."
            }
            Some(_) => "No note has been heard yet: play one, then press Enter to call it.",
        }
    }
}
