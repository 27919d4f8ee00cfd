//! The ear in the page: samples of the phone's microphone go in, and what was heard
//! comes out on the page's clock. No sample goes anywhere else.

use core::time::Duration;
use std::collections::VecDeque;

use fifthpeg_core::{Neck, Reference};
use fifthpeg_ear::singing::Singer;
use fifthpeg_ear::{Ear, EarSettings, Heard};
use fifthpeg_lesson::Moment;
use fifthpeg_lesson::terminal::{Doubles, HeardNote};

/// A block of samples: when its first was in the air, and how far that may be off.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Block {
    pub(crate) at: Moment,
    pub(crate) uncertainty: Duration,
    /// Samples before it that were not heard.
    pub(crate) lost: u64,
}

/// What listens.
pub(crate) struct PageEar {
    rate_hz: u32,
    ear: Option<Ear>,
    singer: Option<Singer>,
    /// Ids of this ear start here: one made anew counts from nought.
    first_id: u64,
    next_id: u64,
    doubles: Doubles,
    heard: VecDeque<HeardNote>,
}

impl PageEar {
    /// The microphone's rate.
    pub(crate) fn rate_hz(&self) -> u32 {
        self.rate_hz
    }

    /// For a microphone of that rate.
    pub(crate) fn new(rate_hz: u32) -> Self {
        Self {
            rate_hz,
            ear: None,
            singer: None,
            first_id: 0,
            next_id: 0,
            doubles: Doubles::default(),
            heard: VecDeque::new(),
        }
    }

    /// Listens for this neck; whether it can.
    pub(crate) fn tune(&mut self, neck: &Neck, a4_hz: f64) -> bool {
        let Ok(reference) = Reference::new(a4_hz) else {
            return self.ear.is_some();
        };
        let wanted = EarSettings {
            sample_rate_hz: self.rate_hz,
            lowest: neck.lowest(),
            highest: neck.highest(),
            reference,
        };
        if self.ear.as_ref().is_none_or(|ear| ear.settings() != wanted) {
            self.ear = Ear::new(wanted).ok();
            self.first_id = self.next_id;
            self.singer = None;
        }
        self.ear.is_some()
    }

    /// Whether a voice is followed as well.
    pub(crate) fn set_singing(&mut self, singing: bool) {
        match singing {
            false => self.singer = None,
            true if self.singer.is_none() => self.singer = Singer::new(self.rate_hz).ok(),
            true => {}
        }
    }

    /// Whether a tone of the lesson sounds near the microphone just now.
    pub(crate) fn set_own_tone(&mut self, sounds: bool) {
        if let Some(ear) = &mut self.ear {
            ear.set_own_tone(sounds);
        }
    }

    /// Takes samples in.
    pub(crate) fn hear(&mut self, samples: &[f32], block: Block) {
        let rate_hz = f64::from(self.rate_hz);
        if let Some(ear) = &mut self.ear {
            if block.lost > 0 {
                ear.skip(block.lost);
            }
            let first = ear.position() as f64;
            ear.hear(samples);
            while let Some(heard) = ear.poll() {
                let at = |position: f64| moved(block.at, (position - first) / rate_hz);
                let off = |samples: f64| block.uncertainty + seconds(samples / rate_hz);
                let note = note(heard, self.first_id, at, off);
                if let Some(HeardNote::Pluck { id, .. }) = note {
                    self.next_id = id + 1;
                }
                let notes = note.into_iter().flat_map(|note| self.doubles.sift(note));
                self.heard.extend(notes);
            }
        }
        if let Some(singer) = &mut self.singer {
            if block.lost > 0 {
                singer.skip(block.lost);
            }
            let first = singer.position();
            singer.hear(samples);
            while let Some(sung) = singer.poll() {
                let from_first = (sung.from as f64 - first as f64) / rate_hz;
                self.heard.push_back(HeardNote::Sung {
                    frequency_hz: sung.frequency_hz,
                    spread_cents: sung.spread_cents as f32,
                    at: moved(block.at, from_first),
                    lasted: seconds((sung.until - sung.from) as f64 / rate_hz),
                });
            }
        }
    }

    /// The next thing heard.
    pub(crate) fn poll(&mut self) -> Option<HeardNote> {
        self.heard.pop_front()
    }
}

fn seconds(seconds: f64) -> Duration {
    Duration::from_secs_f64(seconds.clamp(0.0, 3600.0))
}

fn moved(at: Moment, by: f64) -> Moment {
    if by >= 0.0 {
        at + seconds(by)
    } else {
        at - seconds(-by)
    }
}

/// What the ear tells, in the lesson's words.
fn note(
    heard: Heard,
    first_id: u64,
    at: impl Fn(f64) -> Moment,
    off: impl Fn(f64) -> Duration,
) -> Option<HeardNote> {
    let id = |id: fifthpeg_ear::PluckId| first_id + id.0;
    Some(match heard {
        Heard::Pluck(pluck) => HeardNote::Pluck {
            id: id(pluck.id),
            pitch: pluck.pitch,
            cents: pluck.cents as f32,
            at: at(pluck.onset),
            uncertainty: off(pluck.onset_uncertainty),
        },
        Heard::Settled(settled) => HeardNote::Settled {
            id: id(settled.id),
            cents: settled.cents as f32,
            spread_cents: settled.spread_cents as f32,
        },
        Heard::Withdrawn { id: of, why } => HeardNote::Withdrawn {
            id: id(of),
            why: why.into(),
        },
        Heard::MayAnswer { id: of, .. } => HeardNote::MayAnswer { id: id(of) },
        Heard::MayNotAnswer { id: of, why } => HeardNote::MayNotAnswer {
            id: id(of),
            why: why.into(),
        },
        Heard::Unsure { onset, why, .. } => HeardNote::Unsure {
            at: at(onset),
            why: why.into(),
        },
        _ => return None,
    })
}
