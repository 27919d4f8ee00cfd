//! A microphone that is listened to while it is wanted: opened once the neck is
//! known, retuned when neck or reference change, and shown to screens. What it
//! hears goes to whoever owns it; trouble with it is told and stops nothing.
//!
//! Sound stays inside [`fifthpeg_sound::Listener`]: what comes out is pitches,
//! times and levels.

mod status;

use core::time::Duration;
use std::time::Instant;

use fifthpeg_core::{Pitch, Reference};
use fifthpeg_sound::{
    InputChoice, ListenFor, ListenSettings, Listened, Listener, SoundError, open_input,
};
use tokio::sync::{mpsc, watch};

pub use status::{EarState, EarStatus, LastHeard, RoomNews};

/// What may wait to be taken from the listening thread. It hears some tens of
/// things a second at most; whoever falls so far behind has lost more.
pub(crate) const WAITING: usize = 256;

/// How long until a microphone that could not be opened is tried again.
pub const RETRY: Duration = Duration::from_secs(3);

/// What the ear listens for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tuning {
    /// The lowest pitch of the neck.
    pub lowest: Pitch,
    /// The highest.
    pub highest: Pitch,
    /// The frequency of A4.
    pub reference: Reference,
}

/// One thing from the listening thread.
#[derive(Debug)]
pub enum FromEar {
    /// Something heard.
    Heard(Listened),
    /// The microphone is open, or could not be opened; goes back into
    /// [`Ear::take`].
    Opened(Opened),
}

/// What came of opening the microphone.
pub struct Opened {
    /// Which opening it was: an older one no longer counts.
    number: u64,
    listener: Result<Listener, SoundError>,
}

impl core::fmt::Debug for Opened {
    fn fmt(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
        let listener = self.listener.as_ref().map(|_| "open");
        write!(f, "Opened({}, {listener:?})", self.number)
    }
}

/// A microphone that is listened to while it is wanted.
pub struct Ear {
    choice: InputChoice,
    wanted: bool,
    singing: bool,
    /// A tone of the lesson sounds near the microphone.
    own_tone: bool,
    tuning: Option<Tuning>,
    listener: Option<Listener>,
    /// An opening under way, with what it was opened for.
    opening: Option<(u64, Tuning)>,
    openings: u64,
    /// When to try again to open it.
    again_at: Option<Instant>,
    to: mpsc::Sender<FromEar>,
    status: watch::Sender<EarStatus>,
}

impl Ear {
    /// An ear for this microphone, and where what it hears comes out. It
    /// listens once [`Ear::tune`] has told it to what, unless the choice is
    /// none at all.
    pub fn new(choice: InputChoice) -> (Self, mpsc::Receiver<FromEar>) {
        let (to, from) = mpsc::channel(WAITING);
        let wanted = !choice.is_none();
        let ear = Self {
            status: watch::channel(EarStatus::new(wanted)).0,
            choice,
            wanted,
            singing: false,
            own_tone: false,
            tuning: None,
            listener: None,
            opening: None,
            openings: 0,
            again_at: None,
            to,
        };
        (ear, from)
    }

    /// What a screen shows of it.
    pub fn status(&self) -> watch::Receiver<EarStatus> {
        self.status.subscribe()
    }

    /// Whether it listens now.
    pub fn is_listening(&self) -> bool {
        let state = &self.status.borrow().state;
        matches!(state, EarState::Listening | EarState::Calibrating(_))
    }

    /// What to listen for from now on.
    pub fn tune(&mut self, tuning: Tuning) {
        if self.tuning == Some(tuning) {
            return;
        }
        self.tuning = Some(tuning);
        match &self.listener {
            Some(listener) => listener.set(settings(tuning)),
            None => self.open(),
        }
    }

    /// Whether a voice is followed as well.
    pub fn set_singing(&mut self, singing: bool) {
        if self.singing != singing {
            self.singing = singing;
            if let Some(listener) = &self.listener {
                listener.set_singing(singing);
            }
            if !singing {
                self.change(|status| status.singing = None);
            }
        }
    }

    /// Whether a tone of the lesson sounds near the microphone just now.
    pub fn set_own_tone(&mut self, sounds: bool) {
        if self.own_tone != sounds {
            self.own_tone = sounds;
            if let Some(listener) = &self.listener {
                listener.set_own_tone(sounds);
            }
        }
    }

    /// Whether it was told that a tone of the lesson sounds near the microphone.
    #[cfg(test)]
    pub fn has_own_tone(&self) -> bool {
        self.own_tone
    }

    /// Listens, or no longer; false if there is no microphone to listen with.
    pub fn listen(&mut self, wanted: bool) -> bool {
        if self.choice.is_none() {
            return !wanted;
        }
        if wanted == self.wanted {
            return true;
        }
        self.wanted = wanted;
        if wanted {
            self.change(|status| *status = EarStatus::new(true));
            self.open();
        } else {
            self.close();
            self.change(|status| *status = EarStatus::new(false));
        }
        true
    }

    /// Measures the room's noise, which takes three seconds of quiet; false if
    /// the microphone does not listen.
    pub fn calibrate(&mut self) -> bool {
        match &self.listener {
            Some(listener) if self.is_listening() => {
                listener.calibrate();
                true
            }
            _ => false,
        }
    }

    /// When [`Ear::handle_timeout`] is due.
    pub fn next_deadline(&self) -> Option<Instant> {
        self.again_at
    }

    /// Tries again to open the microphone.
    pub fn handle_timeout(&mut self, now: Instant) {
        if self.again_at.is_some_and(|at| at <= now) {
            self.open();
        }
    }

    /// Takes what came from the listening thread; gives back what was heard,
    /// unless it is from a microphone that was let go meanwhile.
    pub fn take(&mut self, from: FromEar) -> Option<Listened> {
        match from {
            FromEar::Opened(opened) => {
                self.opened(opened);
                None
            }
            FromEar::Heard(_) if !self.wanted => None,
            FromEar::Heard(heard) => {
                self.change(|status| status.take(&heard));
                Some(heard)
            }
        }
    }

    /// Lets the microphone go.
    fn close(&mut self) {
        self.opening = None;
        self.again_at = None;
        if let Some(listener) = self.listener.take() {
            // Ending waits for the thread, and a device may take its time.
            tokio::task::spawn_blocking(move || drop(listener));
        }
    }

    /// Begins to open the microphone, which may take a while.
    fn open(&mut self) {
        self.again_at = None;
        let Some(tuning) = self.tuning else { return };
        if !self.wanted || self.listener.is_some() || self.opening.is_some() {
            return;
        }
        self.openings += 1;
        let number = self.openings;
        self.opening = Some((number, tuning));
        self.change(|status| {
            if !matches!(status.state, EarState::Lost(_)) {
                status.state = EarState::Opening;
            }
        });
        let (choice, to) = (self.choice.clone(), self.to.clone());
        tokio::task::spawn_blocking(move || {
            let hears = to.clone();
            let listener = open_input(&choice).and_then(|input| {
                Listener::start(input, settings(tuning), move |heard| {
                    // Never waits: a listener that waits loses sound.
                    let _ = hears.try_send(FromEar::Heard(heard));
                })
            });
            // Without a taker the listener is dropped, which ends it.
            let _ = to.blocking_send(FromEar::Opened(Opened { number, listener }));
        });
    }

    fn opened(&mut self, Opened { number, listener }: Opened) {
        let Some((_, tuning)) = self.opening.take_if(|(n, _)| *n == number) else {
            if let Ok(listener) = listener {
                tokio::task::spawn_blocking(move || drop(listener));
            }
            return;
        };
        match listener {
            Ok(listener) => {
                if let Some(now) = self.tuning.filter(|now| *now != tuning) {
                    listener.set(settings(now));
                }
                if self.singing {
                    listener.set_singing(true);
                }
                if self.own_tone {
                    listener.set_own_tone(true);
                }
                self.listener = Some(listener);
                self.change(|status| status.state = EarState::Listening);
            }
            Err(why) => {
                self.again_at = Some(Instant::now() + RETRY);
                self.change(|status| status.state = EarState::Lost(why.to_string()));
            }
        }
    }

    /// Changes the status, and wakes its watchers only if that made a
    /// difference.
    fn change(&self, change: impl FnOnce(&mut EarStatus)) {
        self.status.send_if_modified(|status| {
            let before = status.clone();
            change(status);
            crate::diary::ear(&before, status);
            *status != before
        });
    }
}

impl Drop for Ear {
    fn drop(&mut self) {
        // No task may be left at the program's end; the thread ends by itself.
        if let Some(listener) = self.listener.take() {
            // Without a thread for it, it is dropped here and waited for.
            let _ = std::thread::Builder::new().spawn(move || drop(listener));
        }
    }
}

fn settings(tuning: Tuning) -> ListenSettings {
    ListenSettings {
        lowest: tuning.lowest,
        highest: tuning.highest,
        reference: tuning.reference,
        what: ListenFor::Plucks,
    }
}

#[cfg(test)]
mod tests;
