//! The ear as a whole.

use crate::{EarError, EarSettings, Heard, Room};

/// Listens to one instrument.
#[derive(Debug)]
pub struct Ear {
    settings: EarSettings,
    room: Option<Room>,
    position: u64,
    power: f64,
}

impl Ear {
    /// An ear for a neck.
    ///
    /// # Errors
    /// [`EarError`] for settings no ear can work with.
    pub fn new(settings: EarSettings) -> Result<Ear, EarError> {
        Ok(Ear {
            settings: settings.checked()?,
            room: None,
            position: 0,
            power: 0.0,
        })
    }

    /// What the ear was made for.
    pub fn settings(&self) -> EarSettings {
        self.settings
    }

    /// Takes in mono samples, any number of them. Allocates nothing.
    pub fn hear(&mut self, samples: &[f32]) {
        for &sample in samples {
            self.position += 1;
            self.power += 0.001 * (f64::from(sample * sample) - self.power);
        }
    }

    /// The next thing to tell, in order of deciding.
    pub fn poll(&mut self) -> Option<Heard> {
        None
    }

    /// Samples heard so far, those skipped included.
    pub fn position(&self) -> u64 {
        self.position
    }

    /// Short-term level, in dB re full scale.
    pub fn level_db(&self) -> f64 {
        crate::room::decibels(self.power)
    }

    /// Takes the measured noise of the room into account.
    pub fn set_room(&mut self, room: Room) {
        self.room = Some(room);
    }

    /// Samples were lost: positions move on, and what was heard before is
    /// forgotten.
    pub fn skip(&mut self, samples: u64) {
        self.position += samples;
    }
}
