//! The host's own instrument: a note is played, shown to the host alone, and
//! called once the host confirms it. Nothing is sent without that.

use std::time::{Duration, Instant};

use crate::ear::{Ear, EarStatus, FromEar, Tuning};
use fifthpeg_core::{HeardNote, Neck, Pitch, Reference};
use fifthpeg_lesson::message::Rules;
use fifthpeg_sound::{InputChoice, Listened};
use tokio::sync::{mpsc, watch};

/// How long after the end of an own tone the room still answers: the tone is
/// no note of the instrument's. Common practice, no source.
const ECHO: Duration = Duration::from_millis(150);

/// A note that was heard and may be called.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Offer {
    id: u64,
    /// What it was.
    pub pitch: Pitch,
}

/// What of the notes heard may be called.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Offers {
    standing: Option<Offer>,
    /// When this machine's own speakers sounded last: from, until.
    own: Option<(Instant, Instant)>,
}

impl Offers {
    /// The note that may be called now.
    pub fn standing(&self) -> Option<Offer> {
        self.standing
    }

    /// This machine's speakers sound from then for so long.
    pub fn own_tone(&mut self, from: Instant, length: Duration) {
        self.own = Some((from, from + length + ECHO));
    }

    /// Forgets the note: it was called, or let go.
    pub fn clear(&mut self) {
        self.standing = None;
    }

    /// Takes one thing heard; with `taking` off, as while a call is open, no
    /// note is offered. Says whether the note that stands is another now.
    pub fn take(&mut self, heard: &Listened, taking: bool) -> bool {
        match *heard {
            Listened::Note(HeardNote::Pluck {
                id,
                pitch,
                at,
                uncertainty,
                ..
            }) => {
                let own = self
                    .own
                    .is_some_and(|(from, until)| at + uncertainty >= from && at <= until);
                if !taking || own {
                    return false;
                }
                self.standing = Some(Offer { id, pitch });
                true
            }
            Listened::Note(HeardNote::Withdrawn { id, .. }) => {
                let gone = self.standing.take_if(|offer| offer.id == id);
                gone.is_some()
            }
            _ => false,
        }
    }
}

/// When this machine's own speakers sound: the gate, which learns how loud the
/// instrument is, must not learn from them.
#[derive(Debug, Default)]
struct OwnTones {
    /// From, until. They may overlap.
    tones: Vec<(Instant, Instant)>,
}

impl OwnTones {
    fn sound(&mut self, from: Instant, until: Instant) {
        self.tones.push((from, until));
    }

    /// Whether one sounds now; forgets what is over.
    fn sounds(&mut self, now: Instant) -> bool {
        self.tones.retain(|(_, until)| *until > now);
        self.tones.iter().any(|(from, _)| *from <= now)
    }

    /// When that changes next, after `now`.
    fn next_change(&self, now: Instant) -> Option<Instant> {
        let edges = self.tones.iter().flat_map(|(from, until)| [*from, *until]);
        edges.filter(|at| *at > now).min()
    }
}

/// The ear on the host's instrument.
pub struct Instrument {
    ear: Ear,
    own: OwnTones,
    from: mpsc::Receiver<FromEar>,
    asked_for: bool,
}

impl Instrument {
    /// Listens to this microphone, if it is one.
    pub fn new(choice: InputChoice) -> Self {
        let asked_for = !choice.is_none();
        let (ear, from) = Ear::new(choice);
        Self {
            ear,
            own: OwnTones::default(),
            from,
            asked_for,
        }
    }

    /// This machine's speakers sound from then for so long.
    pub fn own_tone(&mut self, from: Instant, length: Duration) {
        self.own.sound(from, from + length + ECHO);
        self.mind_own_tones();
    }

    /// Holds the ear's gate while own speakers sound.
    fn mind_own_tones(&mut self) {
        let sounds = self.own.sounds(Instant::now());
        self.ear.set_own_tone(sounds);
    }

    /// Whether there is a microphone to listen with at all.
    pub fn is_asked_for(&self) -> bool {
        self.asked_for
    }

    /// How the microphone fares.
    pub fn status(&self) -> watch::Receiver<EarStatus> {
        self.ear.status()
    }

    /// Listens for the notes of these rules' neck.
    pub fn tune(&mut self, rules: &Rules) {
        if let (Ok(neck), Ok(reference)) =
            (Neck::build(rules.neck.clone()), Reference::new(rules.a4_hz))
        {
            self.ear.tune(Tuning {
                lowest: neck.lowest(),
                highest: neck.highest(),
                reference,
            });
        }
    }

    /// Listens, or no longer.
    ///
    /// # Errors
    /// One sentence, if no microphone was asked for.
    pub fn listen(&mut self, wanted: bool) -> Result<(), String> {
        if self.ear.listen(wanted) {
            Ok(())
        } else {
            Err(NO_MICROPHONE.to_owned())
        }
    }

    /// Measures the noise of the room.
    ///
    /// # Errors
    /// One sentence, if the microphone does not listen.
    pub fn calibrate(&mut self) -> Result<(), String> {
        if self.ear.calibrate() {
            Ok(())
        } else {
            Err(crate::StudentError::NotListening.to_string())
        }
    }

    /// The next thing heard.
    pub async fn next(&mut self) -> Listened {
        loop {
            let again = until(self.ear.next_deadline());
            let own = until(self.own.next_change(Instant::now()));
            tokio::select! {
                from = self.from.recv() => match from {
                    Some(from) => {
                        if let Some(heard) = self.ear.take(from) {
                            return heard;
                        }
                    }
                    // The ear holds the other end, so it lives as long as this.
                    None => std::future::pending().await,
                },
                () = again => self.ear.handle_timeout(Instant::now()),
                () = own => self.mind_own_tones(),
            }
        }
    }
}

async fn until(at: Option<Instant>) {
    match at {
        Some(at) => tokio::time::sleep_until(at.into()).await,
        None => std::future::pending().await,
    }
}

/// What is said where no microphone was asked for.
pub const NO_MICROPHONE: &str = "no microphone was asked for: start again with --microphone";

#[cfg(test)]
mod tests {
    use super::*;
    use fifthpeg_core::Doubt;

    fn pluck(id: u64, midi: u8, at: Instant) -> Listened {
        Listened::Note(HeardNote::Pluck {
            id,
            pitch: Pitch::new(midi).expect("a pitch"),
            cents: 0.0,
            at,
            uncertainty: Duration::from_millis(5),
        })
    }

    #[test]
    fn the_last_note_heard_is_offered_until_it_is_withdrawn_or_called() {
        let now = Instant::now();
        let mut offers = Offers::default();
        assert!(offers.take(&pluck(1, 60, now), true));
        assert!(offers.take(&pluck(2, 62, now), true));
        let midi = offers.standing().map(|offer| offer.pitch.midi());
        assert_eq!(midi, Some(62));
        let why = Doubt::Slide;
        let withdrawn = |id| Listened::Note(HeardNote::Withdrawn { id, why });
        assert!(!offers.take(&withdrawn(1), true));
        assert!(offers.take(&withdrawn(2), true));
        assert_eq!(offers.standing(), None);
    }

    #[test]
    fn the_gate_is_held_from_the_first_own_tone_to_the_end_of_the_last() {
        let now = Instant::now();
        let at = |ms| now + Duration::from_millis(ms);
        let mut own = OwnTones::default();
        assert_eq!(own.next_change(now), None);
        own.sound(at(100), at(1000));
        own.sound(at(800), at(1500));
        assert!(!own.sounds(now));
        assert_eq!(own.next_change(now), Some(at(100)));
        for ms in [100, 900, 1200, 1499] {
            assert!(own.sounds(at(ms)), "{ms}");
        }
        assert_eq!(own.next_change(at(1200)), Some(at(1500)));
        assert!(!own.sounds(at(1500)));
        assert_eq!(own.next_change(at(1500)), None);
    }

    /// The ear itself is told, at the tone's time and at its end.
    #[tokio::test]
    async fn the_ear_is_told_of_own_tones_as_they_come_and_go() {
        let mut instrument = Instrument::new("none".parse().expect("a choice"));
        instrument.own_tone(Instant::now(), Duration::from_millis(50));
        assert!(instrument.ear.has_own_tone());
        let waited = tokio::time::timeout(Duration::from_secs(5), async {
            while instrument.ear.has_own_tone() {
                let wait = Duration::from_millis(20);
                let _ = tokio::time::timeout(wait, instrument.next()).await;
            }
        });
        assert!(waited.await.is_ok(), "the gate is let go again");
    }

    #[test]
    fn nothing_is_offered_while_a_call_is_open_or_own_speakers_sound() {
        let now = Instant::now();
        let mut offers = Offers::default();
        assert!(!offers.take(&pluck(1, 60, now), false));
        assert_eq!(offers.standing(), None);
        offers.own_tone(now, Duration::from_secs(1));
        let half = Duration::from_millis(500);
        assert!(!offers.take(&pluck(2, 60, now + half), true));
        assert!(offers.take(&pluck(3, 60, now + 3 * half), true));
    }
}
