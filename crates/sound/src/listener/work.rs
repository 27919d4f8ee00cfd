//! The listening thread's work.

use super::ListenSettings;
use super::calm::Calm;
use super::events::Listened;
use super::positions::Positions;
use crate::{Input, SoundError};
use fifthpeg_core::HeardNote;
use fifthpeg_ear::singing::Singer;
use fifthpeg_ear::{Ear, EarSettings, Heard, PluckId, Room, RoomListener};
use fifthpeg_log::Chain;
use std::sync::mpsc::{Receiver, TryRecvError};
use std::time::{Duration, Instant};
use tracing::{debug, info, warn};

/// How long a read waits at most, so that orders are taken promptly.
const WAIT: Duration = Duration::from_millis(25);
/// How often levels and progress are told.
const TELL_EVERY: Duration = Duration::from_millis(100);
/// How often a lost input is tried again.
const TRY_EVERY: Duration = Duration::from_secs(2);

/// What the thread is asked.
#[derive(Debug)]
pub(super) enum ListenerOrder {
    Calibrate,
    Set(ListenSettings),
    Singing(bool),
    OwnTone(bool),
    Stop,
}

/// Where what was heard goes.
pub(super) type Sink = Box<dyn FnMut(Listened) + Send>;

pub(super) struct Work {
    input: Box<dyn Input>,
    settings: ListenSettings,
    sink: Sink,
    ear: Ear,
    /// Ids of this ear start here: an ear made anew counts from zero.
    first_id: u64,
    next_id: u64,
    /// The ear's position zero, among the input's frames.
    ear_began: u64,
    /// The frame after the last one heard.
    heard_to: u64,
    positions: Positions,
    room: Option<Room>,
    measuring: Option<RoomListener>,
    told_at: Instant,
    /// A voice is followed by order, whatever the settings say.
    singing: bool,
    /// Tones of the program's own sound near the microphone.
    own_tone: bool,
    /// The voice's ear, while one is followed, and its position zero.
    singer: Option<(Singer, u64)>,
    calm: Calm,
    /// Since when the input is lost, or was last tried.
    lost_at: Option<Instant>,
}

impl Work {
    pub(super) fn new(
        input: Box<dyn Input>,
        settings: ListenSettings,
        sink: Sink,
    ) -> Result<Work, SoundError> {
        let rate_hz = input.rate_hz();
        Ok(Work {
            ear: ear(settings, rate_hz)?,
            positions: Positions::new(rate_hz),
            input,
            settings,
            sink,
            first_id: 0,
            next_id: 0,
            ear_began: 0,
            heard_to: 0,
            room: None,
            measuring: None,
            told_at: Instant::now(),
            singing: false,
            own_tone: false,
            singer: None,
            calm: Calm::default(),
            lost_at: None,
        })
    }

    pub(super) fn run(mut self, orders: &Receiver<ListenerOrder>) {
        self.tell_started();
        self.follow_voice();
        let mut block = Vec::with_capacity(self.input.rate_hz() as usize / 2);
        loop {
            match orders.try_recv() {
                Ok(ListenerOrder::Stop) | Err(TryRecvError::Disconnected) => return,
                Ok(order) => {
                    self.follow(order);
                    continue;
                }
                Err(TryRecvError::Empty) => {}
            }
            if let Some(lost_at) = self.lost_at {
                std::thread::sleep(WAIT);
                if lost_at.elapsed() >= TRY_EVERY {
                    self.try_again();
                }
                continue;
            }
            match self.input.read(&mut block, WAIT) {
                Ok(Some(captured)) => {
                    if captured.lost_frames > 0 {
                        self.ear.skip(captured.lost_frames);
                        if let Some((singer, _)) = &mut self.singer {
                            singer.skip(captured.lost_frames);
                        }
                    }
                    self.positions.block(captured);
                    self.heard_to = captured.first_frame + block.len() as u64;
                    self.hear(&block);
                }
                Ok(None) => {}
                Err(error) => self.lost(&error),
            }
        }
    }

    fn tell(&mut self, listened: Listened) {
        (self.sink)(listened);
    }

    fn tell_started(&mut self) {
        let started = Listened::Started {
            describe: self.input.describe(),
            rate_hz: self.input.rate_hz(),
        };
        info!(name: "input-listens", rate_hz = self.input.rate_hz());
        self.tell(started);
    }

    fn follow(&mut self, order: ListenerOrder) {
        match order {
            // A lost input cannot be measured, and may come back at another rate.
            ListenerOrder::Calibrate if self.lost_at.is_some() => {}
            ListenerOrder::Calibrate => {
                self.measuring = Some(RoomListener::new(self.input.rate_hz()));
                self.tell(Listened::Calibrating { done: 0.0 });
            }
            ListenerOrder::Set(settings) => {
                if let Err(error) = self.listen_for(settings) {
                    warn!(name: "input-not-set", error = %Chain(&error));
                    self.tell(Listened::Trouble {
                        sentence: error.to_string(),
                    });
                }
            }
            ListenerOrder::Singing(singing) => {
                self.singing = singing;
                self.follow_voice();
            }
            ListenerOrder::OwnTone(sounds) => {
                self.own_tone = sounds;
                self.ear.set_own_tone(sounds);
            }
            ListenerOrder::Stop => {}
        }
    }

    /// Makes the ear anew: for other settings, or for an input opened anew.
    fn listen_for(&mut self, settings: ListenSettings) -> Result<(), SoundError> {
        self.ear = ear(settings, self.input.rate_hz())?;
        self.ear.set_own_tone(self.own_tone);
        self.settings = settings;
        if let Some(room) = self.room {
            self.ear.set_room(room);
        }
        self.first_id = self.next_id;
        self.ear_began = self.heard_to;
        self.singer = None;
        self.follow_voice();
        Ok(())
    }

    /// Makes or drops the voice's ear, as wanted.
    fn follow_voice(&mut self) {
        if !(self.singing || self.settings.what.voice()) {
            self.singer = None;
        } else if self.singer.is_none() {
            // The plucks' ear has taken this rate already, and so does this one.
            self.singer = Singer::new(self.input.rate_hz())
                .ok()
                .map(|singer| (singer, self.heard_to));
        }
    }

    fn hear(&mut self, block: &[f32]) {
        self.ear.hear(block);
        while let Some(heard) = self.ear.poll() {
            if self.settings.what.plucks()
                && let Some(note) = self.told(heard)
            {
                self.tell(Listened::Note(note));
            }
        }
        let due = self.told_at.elapsed() >= TELL_EVERY;
        if due {
            self.told_at = Instant::now();
            let level_db = self.ear.level_db();
            self.tell(Listened::Level { level_db });
        }
        self.hear_voice(block, due);
        if let Some(mut measuring) = self.measuring.take() {
            measuring.hear(block);
            match measuring.done() {
                Some(room) => {
                    self.room = Some(room);
                    self.ear.set_room(room);
                    self.tell(Listened::Room { room });
                }
                None => {
                    let done = measuring.progress();
                    self.measuring = Some(measuring);
                    if due {
                        self.tell(Listened::Calibrating { done });
                    }
                }
            }
        }
    }

    fn hear_voice(&mut self, block: &[f32], due: bool) {
        let Some((mut singer, began)) = self.singer.take() else {
            return;
        };
        singer.hear(block);
        while let Some(sung) = singer.poll() {
            self.tell(Listened::Note(HeardNote::Sung {
                frequency_hz: sung.frequency_hz,
                spread_cents: sung.spread_cents as f32,
                at: self.positions.at((began + sung.from) as f64).0,
                lasted: self.positions.span((sung.until - sung.from) as f64),
            }));
        }
        if let Some(frequency_hz) = singer.current().filter(|_| due) {
            self.tell(Listened::Singing { frequency_hz });
        }
        self.singer = Some((singer, began));
    }

    fn told(&mut self, heard: Heard) -> Option<HeardNote<Instant>> {
        Some(match heard {
            Heard::Pluck(pluck) => {
                let (at, capture) = self.instant(pluck.onset);
                HeardNote::Pluck {
                    id: self.id(pluck.id),
                    pitch: pluck.pitch,
                    cents: pluck.cents as f32,
                    at,
                    uncertainty: capture + self.positions.span(pluck.onset_uncertainty),
                }
            }
            Heard::Settled(settled) => HeardNote::Settled {
                id: self.id(settled.id),
                cents: settled.cents as f32,
                spread_cents: settled.spread_cents as f32,
            },
            Heard::Withdrawn { id, why } => HeardNote::Withdrawn {
                id: self.id(id),
                why: why.into(),
            },
            Heard::MayAnswer { id, .. } => HeardNote::MayAnswer { id: self.id(id) },
            Heard::MayNotAnswer { id, why } => HeardNote::MayNotAnswer {
                id: self.id(id),
                why: why.into(),
            },
            Heard::Unsure { why, .. }
                if !self.calm.tells(why, self.room.is_some(), Instant::now()) =>
            {
                return None;
            }
            Heard::Unsure { onset, why, .. } => HeardNote::Unsure {
                at: self.instant(onset).0,
                why: why.into(),
            },
            _ => return None,
        })
    }

    fn id(&mut self, id: PluckId) -> u64 {
        let id = self.first_id + id.0;
        self.next_id = self.next_id.max(id + 1);
        id
    }

    fn instant(&self, position: f64) -> (Instant, Duration) {
        self.positions.at(self.ear_began as f64 + position)
    }

    fn lost(&mut self, error: &SoundError) {
        warn!(name: "input-lost", error = %Chain(error));
        self.lost_at = Some(Instant::now());
        self.measuring = None;
        self.tell(Listened::Trouble {
            sentence: error.to_string(),
        });
    }

    fn try_again(&mut self) {
        let rate_hz = self.input.rate_hz();
        let back = self.input.reopen().and_then(|()| {
            self.heard_to = 0;
            self.positions = Positions::new(self.input.rate_hz());
            if self.input.rate_hz() != rate_hz {
                self.room = None;
            }
            self.listen_for(self.settings)
        });
        match back {
            Ok(()) => {
                self.lost_at = None;
                self.tell(Listened::Back);
                self.tell_started();
            }
            Err(error) => {
                debug!(name: "input-still-lost", error = %Chain(&error));
                self.lost_at = Some(Instant::now());
            }
        }
    }
}

fn ear(settings: ListenSettings, sample_rate_hz: u32) -> Result<Ear, SoundError> {
    Ok(Ear::new(EarSettings {
        sample_rate_hz,
        lowest: settings.lowest,
        highest: settings.highest,
        reference: settings.reference,
    })?)
}
