//! The room's noise, measured while nobody plays.

use std::fmt;
use std::time::Duration;

/// How long a room is listened to.
pub const ROOM_SPAN: Duration = Duration::from_secs(3);

/// The noise of a room, as the microphone gives it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Room {
    /// Level of the noise, in dB re full scale (a full-scale sine is -3.01 dB).
    pub noise_db: f64,
    /// Loudest short moment (about 20 ms), in dB re full scale.
    pub loudest_db: f64,
    /// Largest sample, 1 being full scale.
    pub peak: f64,
}

/// What is wrong with a room, or with the microphone in it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum RoomTrouble {
    /// The noise is so loud that soft notes are lost in it.
    TooLoud,
    /// Nothing at all comes from the microphone.
    Silent,
    /// The input is overdriven.
    Clipping,
    /// Somebody played or spoke meanwhile.
    SomethingSounded,
}

impl fmt::Display for RoomTrouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            RoomTrouble::TooLoud => {
                "the room is so loud that soft notes are lost in it: move the microphone nearer to the instrument, or turn its level down"
            }
            RoomTrouble::Silent => {
                "nothing at all comes from the microphone: see that it is plugged in and not muted"
            }
            RoomTrouble::Clipping => {
                "the microphone is overdriven: turn its level down, then measure the room again"
            }
            RoomTrouble::SomethingSounded => {
                "something sounded while the room was measured: keep still for three seconds, and measure it again"
            }
        })
    }
}

impl Room {
    /// What is wrong, if anything is.
    pub fn trouble(&self) -> Option<RoomTrouble> {
        if self.peak < 1e-5 {
            Some(RoomTrouble::Silent)
        } else if self.peak >= 0.98 {
            Some(RoomTrouble::Clipping)
        } else if self.loudest_db > self.noise_db + 15.0 && self.loudest_db > -60.0 {
            Some(RoomTrouble::SomethingSounded)
        } else if self.noise_db > -30.0 {
            Some(RoomTrouble::TooLoud)
        } else {
            None
        }
    }
}

/// Measures a room for [`ROOM_SPAN`].
#[derive(Debug, Clone)]
pub struct RoomListener {
    wanted: u64,
    heard: u64,
    block: usize,
    block_at: usize,
    block_power: f64,
    powers: Vec<f64>,
    peak: f64,
}

impl RoomListener {
    /// Starts measuring a room, at some samples a second.
    pub fn new(sample_rate_hz: u32) -> RoomListener {
        let rate = f64::from(sample_rate_hz.max(1));
        let block = ((rate * 0.02) as usize).max(1);
        let wanted = (rate * ROOM_SPAN.as_secs_f64()) as u64;
        RoomListener {
            wanted,
            heard: 0,
            block,
            block_at: 0,
            block_power: 0.0,
            powers: Vec::with_capacity(wanted as usize / block + 1),
            peak: 0.0,
        }
    }

    /// Takes in mono samples, any number of them.
    pub fn hear(&mut self, samples: &[f32]) {
        for &sample in samples {
            if self.heard >= self.wanted {
                return;
            }
            self.heard += 1;
            let sample = if sample.is_finite() {
                f64::from(sample)
            } else {
                0.0
            };
            self.peak = self.peak.max(sample.abs());
            self.block_power += sample * sample;
            self.block_at += 1;
            if self.block_at == self.block {
                self.powers.push(self.block_power / self.block as f64);
                self.block_at = 0;
                self.block_power = 0.0;
            }
        }
    }

    /// How much of the measuring is done, 0 to 1.
    pub fn progress(&self) -> f64 {
        self.heard as f64 / self.wanted.max(1) as f64
    }

    /// The room, once it was listened to for [`ROOM_SPAN`].
    pub fn done(&self) -> Option<Room> {
        if self.heard < self.wanted {
            return None;
        }
        let mut sorted = self.powers.clone();
        sorted.sort_by(f64::total_cmp);
        let median = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
        let loudest = sorted.last().copied().unwrap_or(0.0);
        Some(Room {
            noise_db: decibels(median),
            loudest_db: decibels(loudest),
            peak: self.peak,
        })
    }
}

/// Mean square to dB re full scale, no lower than -120.
pub(crate) fn decibels(power: f64) -> f64 {
    10.0 * power.max(1e-12).log10()
}
