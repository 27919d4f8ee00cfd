//! What a listener tells.

use fifthpeg_core::HeardNote;
use fifthpeg_ear::Room;
use std::time::Instant;

/// What is listened for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ListenFor {
    /// Plucked notes.
    #[default]
    Plucks,
    /// A voice.
    Voice,
    /// Both.
    PlucksAndVoice,
}

impl ListenFor {
    /// Whether plucks are told.
    pub fn plucks(self) -> bool {
        self != ListenFor::Voice
    }

    /// Whether a voice is told.
    pub fn voice(self) -> bool {
        self != ListenFor::Plucks
    }
}

/// One thing that a [`Listener`](crate::Listener) tells. Instants are on this
/// machine's monotonic clock, when the sound was in the air; levels are in dB
/// re full scale.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum Listened {
    /// It listens: at the start, and again after [`Listened::Back`], since the
    /// microphone may be another.
    Started {
        /// What to, in a few words for a screen.
        describe: String,
        /// Samples a second.
        rate_hz: u32,
    },
    /// A pluck, more of one heard before, an onset without a note, or a sung note.
    /// Numbers of plucks count up for as long as the listener lasts.
    Note(HeardNote<Instant>),
    /// A voice is singing this now; about ten a second while it does.
    Singing {
        /// In hertz.
        frequency_hz: f64,
    },
    /// The level now, for a meter; about ten a second.
    Level {
        /// How loud.
        level_db: f64,
    },
    /// The room is being measured; about ten a second.
    Calibrating {
        /// How much of it is done, 0 to 1.
        done: f64,
    },
    /// What the measuring found; [`Room::trouble`] says if anything is wrong.
    Room {
        /// The room.
        room: Room,
    },
    /// The input is gone, or an order could not be followed. A lost input is
    /// tried again by itself.
    Trouble {
        /// What happened and what to do, as one sentence.
        sentence: String,
    },
    /// The lost input is there again.
    Back,
}
