//! A thread that listens: an [`Input`], and an ear on it.
//!
//! Samples go from the input into the ear's own buffers and nowhere else. What
//! comes out is [`Listened`]: pitches, levels and moments on this machine's
//! monotonic clock. The ear counts in sample positions; a [`Positions`] turns
//! them into instants by what the input says of each block.

mod calm;
mod events;
mod positions;
mod work;

pub use events::{ListenFor, Listened};
pub use fifthpeg_ear::{EarDoubt, Room, RoomTrouble};
pub(crate) use positions::Positions;

use crate::{Input, SoundError};
use fifthpeg_core::{Pitch, Reference};
use std::sync::mpsc::{self, Sender};
use std::thread::JoinHandle;
use work::{ListenerOrder, Work};

/// What a [`Listener`] listens for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ListenSettings {
    /// Lowest note of the neck.
    pub lowest: Pitch,
    /// Highest note of the neck.
    pub highest: Pitch,
    /// What the instrument is tuned to.
    pub reference: Reference,
    /// Whether plucks, a voice or both.
    pub what: ListenFor,
}

/// A thread around an input. Dropping it ends it, within a few hundredths of a
/// second unless the sound system is just being asked for a lost device.
#[derive(Debug)]
pub struct Listener {
    orders: Sender<ListenerOrder>,
    thread: Option<JoinHandle<()>>,
}

impl Listener {
    /// Starts listening. The sink is called from the listening thread; while it
    /// takes its time, up to two seconds of sound wait, and no moment suffers.
    ///
    /// # Errors
    /// [`SoundError::Ear`] for settings or a sample rate that the ear cannot
    /// work with.
    pub fn start(
        input: Box<dyn Input>,
        settings: ListenSettings,
        sink: impl FnMut(Listened) + Send + 'static,
    ) -> Result<Listener, SoundError> {
        let work = Work::new(input, settings, Box::new(sink))?;
        let (orders, taken) = mpsc::channel();
        let thread = std::thread::Builder::new()
            .name("listening".to_owned())
            .spawn(move || work.run(&taken))
            .map_err(|error| SoundError::Microphone {
                reason: error.into(),
            })?;
        Ok(Listener {
            orders,
            thread: Some(thread),
        })
    }

    /// Measures the noise of the room for the next three seconds, in which
    /// nobody should play: [`Listened::Calibrating`] on the way, then
    /// [`Listened::Room`], which the ear takes into account from then on.
    pub fn calibrate(&self) {
        self.order(ListenerOrder::Calibrate);
    }

    /// Listens for something else from now on: another neck, another reference.
    /// Settings that the ear cannot work with are told as
    /// [`Listened::Trouble`], and the old ones stay.
    pub fn set(&self, settings: ListenSettings) {
        self.order(ListenerOrder::Set(settings));
    }

    /// Whether a voice is followed as well.
    pub fn set_singing(&self, singing: bool) {
        self.order(ListenerOrder::Singing(singing));
    }

    /// Whether the program's own tones sound near the microphone just now: what
    /// is heard meanwhile is told, but the ear learns nothing from its level.
    pub fn set_own_tone(&self, sounds: bool) {
        self.order(ListenerOrder::OwnTone(sounds));
    }

    /// Ends it, and waits until the input is closed.
    pub fn stop(self) {}

    /// A thread that has ended has nobody left to tell.
    fn order(&self, order: ListenerOrder) {
        let _ = self.orders.send(order);
    }
}

impl Drop for Listener {
    fn drop(&mut self) {
        self.order(ListenerOrder::Stop);
        if let Some(thread) = self.thread.take() {
            // A panic in the sink is the sink's own.
            let _ = thread.join();
        }
    }
}
