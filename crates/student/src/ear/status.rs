//! What a screen shows of a microphone.

use std::time::Instant;

use fifthpeg_core::{Doubt, HeardNote, Pitch};
use fifthpeg_sound::Listened;

/// Whether the microphone listens.
#[derive(Debug, Clone, PartialEq)]
pub enum EarState {
    /// It does not: not asked for, or put off.
    Off,
    /// It will, once there is a neck to listen for.
    Waiting,
    /// It is being opened.
    Opening,
    /// It listens.
    Listening,
    /// It measures the room's noise, and is so far, from 0 to 1.
    Calibrating(f64),
    /// It cannot, and why, as one sentence. It is tried again by itself.
    Lost(String),
}

/// The last thing heard that is worth telling.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LastHeard {
    /// One plucked note.
    Pluck {
        /// Its number, from the ear.
        id: u64,
        /// What it was.
        pitch: Pitch,
        /// How far from that pitch, in cents: rough at first, then settled.
        cents: f32,
    },
    /// An onset that is not counted, and why.
    Unsure(Doubt),
    /// A sung note, held.
    Sung {
        /// Its frequency, in hertz.
        frequency_hz: f64,
    },
}

/// What the last measuring of the room found.
#[derive(Debug, Clone, PartialEq)]
pub struct RoomNews {
    /// Counts the measurings.
    pub number: u32,
    /// The room's noise, in dB of full scale.
    pub noise_db: f64,
    /// What is wrong with it, as one sentence.
    pub trouble: Option<String>,
}

/// What a screen shows of a microphone.
#[derive(Debug, Clone, PartialEq)]
pub struct EarStatus {
    /// Whether it listens.
    pub state: EarState,
    /// What it is, once it is open.
    pub device: Option<String>,
    /// Its level, in dB of full scale, about ten times a second.
    pub level_db: Option<f64>,
    /// The last thing heard, and when.
    pub last: Option<(LastHeard, Instant)>,
    /// How many onsets in a row a player would call a pluck and no note could be
    /// named for.
    pub unsure_in_a_row: u8,
    /// The frequency being sung, in hertz, and when it was.
    pub singing: Option<(f64, Instant)>,
    /// What the last measuring of the room found.
    pub room: Option<RoomNews>,
}

impl EarStatus {
    /// Nothing heard yet.
    pub fn new(wanted: bool) -> Self {
        Self {
            state: if wanted {
                EarState::Waiting
            } else {
                EarState::Off
            },
            device: None,
            level_db: None,
            last: None,
            unsure_in_a_row: 0,
            singing: None,
            room: None,
        }
    }

    /// Takes in one thing heard.
    pub(super) fn take(&mut self, heard: &Listened) {
        let now = Instant::now();
        match heard {
            Listened::Started { describe, .. } => {
                self.device = Some(describe.clone());
                self.state = EarState::Listening;
            }
            Listened::Back => self.state = EarState::Listening,
            Listened::Trouble { sentence } => {
                self.state = EarState::Lost(sentence.clone());
                self.level_db = None;
                self.singing = None;
            }
            Listened::Note(HeardNote::Pluck {
                id, pitch, cents, ..
            }) => {
                let pluck = LastHeard::Pluck {
                    id: *id,
                    pitch: *pitch,
                    cents: *cents,
                };
                self.last = Some((pluck, now));
                self.unsure_in_a_row = 0;
            }
            Listened::Note(HeardNote::Settled { id, cents, .. }) => {
                if let Some((
                    LastHeard::Pluck {
                        id: last, cents: c, ..
                    },
                    _,
                )) = &mut self.last
                    && last == id
                {
                    *c = *cents;
                }
            }
            Listened::Note(HeardNote::Withdrawn { id, why }) => {
                if let Some((LastHeard::Pluck { id: last, .. }, _)) = self.last
                    && last == *id
                {
                    self.unsure(*why, now);
                }
            }
            Listened::Note(HeardNote::Unsure { why, .. }) => self.unsure(*why, now),
            Listened::Singing { frequency_hz } => self.singing = Some((*frequency_hz, now)),
            Listened::Note(HeardNote::Sung { frequency_hz, .. }) => {
                self.singing = None;
                let sung = LastHeard::Sung {
                    frequency_hz: *frequency_hz,
                };
                self.last = Some((sung, now));
            }
            Listened::Level { level_db } => {
                self.level_db = Some(level_db.round());
                // An order that could not be followed is trouble as well, and
                // does not end the listening.
                if matches!(self.state, EarState::Lost(_)) {
                    self.state = EarState::Listening;
                }
            }
            Listened::Calibrating { done } => self.state = EarState::Calibrating(*done),
            Listened::Room { room } => {
                self.state = EarState::Listening;
                let number = self.room.as_ref().map_or(0, |room| room.number) + 1;
                self.room = Some(RoomNews {
                    number,
                    noise_db: room.noise_db,
                    trouble: room.trouble().map(|trouble| trouble.to_string()),
                });
            }
            _ => {}
        }
    }

    fn unsure(&mut self, why: Doubt, now: Instant) {
        self.last = Some((LastHeard::Unsure(why), now));
        if why.is_pluck_like() {
            self.unsure_in_a_row = self.unsure_in_a_row.saturating_add(1);
        }
    }
}
