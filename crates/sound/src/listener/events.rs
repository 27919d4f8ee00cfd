//! What a listener tells.

use fifthpeg_core::Pitch;
use fifthpeg_ear::{EarDoubt, Room};
use std::time::{Duration, Instant};

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
    /// A pluck whose pitch is decided.
    Pluck {
        /// Names this pluck in what comes later; counts up for as long as the
        /// listener lasts.
        id: u64,
        /// The note.
        pitch: Pitch,
        /// How far the note lies from it, in cents, roughly.
        cents: f64,
        /// How loud it was.
        level_db: f64,
        /// When the string was let go.
        at: Instant,
        /// It was within this of `at`.
        uncertainty: Duration,
    },
    /// Where a pluck's intonation has settled.
    Settled {
        /// Which pluck.
        id: u64,
        /// How far from its pitch, in cents.
        cents: f64,
        /// How far its partials disagree, in cents (one standard deviation).
        spread_cents: f64,
    },
    /// What was taken for a pluck was none after all.
    Withdrawn {
        /// Which pluck.
        id: u64,
        /// Why.
        why: EarDoubt,
    },
    /// A pluck that may count towards an answer. After each pluck comes exactly one
    /// of this, [`Listened::MayNotAnswer`] and [`Listened::Withdrawn`], unless the
    /// microphone is lost.
    MayAnswer {
        /// Which pluck.
        id: u64,
    },
    /// A pluck that stands as a try, and may not count towards an answer.
    MayNotAnswer {
        /// Which pluck.
        id: u64,
        /// Why.
        why: EarDoubt,
    },
    /// An onset for which no note is named.
    Unsure {
        /// When.
        at: Instant,
        /// Why no note is named.
        why: EarDoubt,
        /// How loud it was.
        level_db: f64,
    },
    /// A voice is singing this now; about ten a second while it does.
    Singing {
        /// In hertz.
        frequency_hz: f64,
    },
    /// A sung note that was held.
    Sung {
        /// Its frequency, vibrato averaged out, in hertz.
        frequency_hz: f64,
        /// How far it moved, in cents (one standard deviation).
        spread_cents: f64,
        /// When it began.
        at: Instant,
        /// How long it was held.
        lasted: Duration,
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
