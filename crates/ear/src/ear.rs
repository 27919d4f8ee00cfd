//! The ear as a whole.

use crate::decide::{Decision, Standing};
use crate::decimate::Decimator;
use crate::gate::Gate;
use crate::kind::Kinds;
use crate::onset::{Onset, OnsetFinder};
use crate::outbox::Outbox;
use crate::portrait::{Portrait, TRAITS, draw};
use crate::refractory::Refractory;
use crate::ring::Ring;
use crate::room::decibels;
use crate::settle::{Outcome, Settler, Settling};
use crate::speech_gate::SpeechGate;
use crate::workspace::Workspace;
use crate::{Doubt, EarError, EarSettings, Heard, Pluck, PluckId, Room};

use fifthpeg_core::Pitch;

/// Onsets that may be decided on at the same time.
const AT_ONCE: usize = 4;

/// Two attacks closer than this are one.
const NEXT_AT_LEAST_S: f64 = 0.012;
/// Two attacks closer than this are one, unless the second is far louder: then
/// the first was somebody else's, or no note.
const CLOSE_S: f64 = 0.045;
/// Each period of a thick string is a small attack: so many of them are one.
const CLOSE_PERIODS: f64 = 4.0;
const CLOSE_JUMP_DB: f64 = 5.0;

/// A pluck stands if it is this likely that it is a string,
const LEAST_LIKELY: f32 = 0.3;
/// and may answer if it is this likely,
const LIKELY: f32 = 0.5;
/// and was heard for so long, in seconds.
const LEAST_S: f64 = 0.1;

/// Listens to one instrument.
#[derive(Debug)]
pub struct Ear {
    settings: EarSettings,
    position: u64,
    level: f64,
    decimator: Decimator,
    sound: Ring,
    /// Full-rate sample position of decimated sample 0.
    origin: i64,
    before: [f32; 2],
    treble: f32,
    finder: OnsetFinder,
    workspace: Workspace,
    decisions: Vec<Decision>,
    settling: Vec<Settling>,
    settler: Settler,
    gate: Gate,
    speech_gate: SpeechGate,
    /// Two attacks closer than this may be one, in seconds.
    close_s: f64,
    /// Span over which a jump of level is looked for, in seconds.
    jump_s: f64,
    last_onset: f64,
    refractory: Refractory,
    next_id: u64,
    /// Tones of the program's own sound near this microphone.
    own_tone: bool,
    outbox: Outbox,
    portrait: (PluckId, Portrait),
}

impl Ear {
    /// An ear for a neck.
    ///
    /// # Errors
    /// [`EarError`] for settings no ear can work with.
    pub fn new(settings: EarSettings) -> Result<Ear, EarError> {
        let settings = settings.checked()?;
        let rate_hz = f64::from(settings.sample_rate_hz);
        let decimator = Decimator::new(rate_hz);
        let slow_hz = rate_hz / decimator.factor() as f64;
        let (lowest, highest) = settings.hearing();
        let workspace = Workspace::new(slow_hz, lowest, highest, settings.reference.a4_hz());
        let notes = (highest - lowest + 1) as usize;
        let lowest_hz = settings.lowest.frequency_hz(settings.reference);
        let longest_s = 1.0 / lowest_hz;
        Ok(Ear {
            settings,
            position: 0,
            level: 0.0,
            finder: OnsetFinder::new(slow_hz, decimator.delay()),
            decimator,
            sound: Ring::new(slow_hz as usize),
            origin: 0,
            before: [0.0; 2],
            treble: 0.0,
            decisions: (0..AT_ONCE)
                .map(|_| Decision::new(&workspace, notes))
                .collect(),
            workspace,
            settling: vec![Settling::default(); AT_ONCE],
            settler: Settler::new(slow_hz),
            gate: Gate::new(),
            speech_gate: SpeechGate::default(),
            close_s: CLOSE_S.max(CLOSE_PERIODS * longest_s),
            jump_s: longest_s.max(0.01),
            last_onset: f64::MIN,
            refractory: Refractory::default(),
            next_id: 0,
            own_tone: false,
            outbox: Outbox::new(),
            portrait: (PluckId(0), [0.0; TRAITS]),
        })
    }

    /// What the ear was made for.
    pub fn settings(&self) -> EarSettings {
        self.settings
    }

    /// Says whether the program's own tones sound just now, on a loudspeaker
    /// that this microphone hears. What is heard is told as ever, but nothing
    /// is learnt from it of how loud the player or talk in the room is.
    pub fn set_own_tone(&mut self, sounds: bool) {
        self.own_tone = sounds;
    }

    /// Takes in mono samples, any number of them. Allocates nothing.
    pub fn hear(&mut self, samples: &[f32]) {
        let level_share = 50.0 / f64::from(self.settings.sample_rate_hz);
        for &sample in samples {
            let sample = if sample.is_finite() {
                sample.clamp(-4.0, 4.0)
            } else {
                0.0
            };
            self.position += 1;
            self.level += level_share * (f64::from(sample * sample) - self.level);
            let bend = sample - 2.0 * self.before[0] + self.before[1];
            self.before = [sample, self.before[0]];
            self.treble += bend * bend;
            if let Some(slow) = self.decimator.push(sample) {
                let treble = self.treble / self.decimator.factor() as f32;
                self.treble = 0.0;
                self.sound.push(slow);
                self.advance(treble);
            }
        }
    }

    /// Goes on by one decimated sample.
    fn advance(&mut self, treble: f32) {
        if let Some(onset) = self.finder.push(&self.sound, treble) {
            self.begin(onset);
        }
        let end = self.sound.end() as i64;
        for i in 0..self.decisions.len() {
            if self.decisions[i].busy && end >= self.decisions[i].next_look(&self.workspace) {
                self.look(i);
            }
        }
        for i in 0..self.settling.len() {
            if self.settling[i].busy && end >= self.settling[i].due(self.slow_hz()) {
                self.settle(i);
            }
        }
    }

    fn begin(&mut self, onset: Onset) {
        let slow_hz = self.slow_hz();
        let since = (onset.at - self.last_onset) / slow_hz;
        if since < NEXT_AT_LEAST_S
            || (since < self.close_s && self.jump_db(onset.at) < CLOSE_JUMP_DB)
        {
            return;
        }
        let clean_from = (self.last_onset + 0.012 * slow_hz).max(0.0) as i64;
        self.last_onset = onset.at;
        for decision in self.decisions.iter_mut().filter(|decision| decision.busy) {
            decision.until = decision.until.min(onset.at as i64);
        }
        for settling in &mut self.settling {
            settling.cut(onset.at as i64);
        }
        if let Some(free) = self.decisions.iter_mut().find(|decision| !decision.busy) {
            free.begin(onset, clean_from, &self.sound, &mut self.workspace);
        }
    }

    /// How much louder it is just after a moment than just before, in dB.
    fn jump_db(&self, at: f64) -> f64 {
        let span = (self.jump_s * self.slow_hz()) as i64;
        let guard = (0.002 * self.slow_hz()) as i64;
        let power = |from: i64| {
            (from..from + span)
                .map(|i| f64::from(self.sound.at(i).powi(2)))
                .sum::<f64>()
        };
        let at = at as i64;
        decibels(power(at + guard)) - decibels(power(at - guard - span))
    }

    fn look(&mut self, i: usize) {
        let decision = &mut self.decisions[i];
        let standing = decision.look(&self.sound, &self.finder, &mut self.workspace);
        if standing == Standing::Waiting {
            return;
        }
        decision.busy = false;
        let onset = decision.onset;
        let until = decision.until;
        let level_db = decibels(f64::from(decision.power));
        let now_s = self.position as f64 / f64::from(self.settings.sample_rate_hz);
        let named = match standing {
            Standing::Note(named) => Pitch::nearest(named.hz, self.settings.reference)
                .map(|(pitch, cents)| (named, pitch, cents)),
            _ => None,
        };
        let onset_at = self.full_rate(onset.at);
        let unsure = |why| Heard::Unsure {
            onset: onset_at,
            level_db,
            why,
        };
        if standing == Standing::Unclear {
            self.learn_talk(level_db, now_s);
        }
        let heard = match named {
            Some((_, pitch, _))
                if self.refractory.is_the_same(
                    pitch,
                    pitch.frequency_hz(self.settings.reference),
                    onset.at / self.slow_hz(),
                    level_db,
                ) =>
            {
                return;
            }
            Some((named, pitch, cents)) if self.gate.lets_in(level_db) => {
                let id = PluckId(self.next_id);
                self.next_id += 1;
                self.refractory
                    .told(id, pitch, onset.at / self.slow_hz(), level_db);
                let pluck = Heard::Pluck(Pluck {
                    id,
                    onset: onset_at,
                    onset_uncertainty: onset.uncertainty * self.decimator.factor() as f64,
                    pitch,
                    cents,
                    level_db,
                    decided_at: self.position,
                });
                if let Some(free) = self.settling.iter_mut().find(|settling| !settling.busy) {
                    *free = Settling::begin(id, pitch, named, onset, until, level_db);
                }
                pluck
            }
            Some(_) => unsure(Doubt::TooQuiet),
            None => match standing {
                Standing::Nothing => return,
                _ if !self.gate.lets_in(level_db) => return,
                _ => unsure(Doubt::NoClearPitch),
            },
        };
        if named.is_some() && !self.own_tone {
            self.gate.learn(level_db, now_s);
        }
        self.outbox.push(heard);
    }

    fn settle(&mut self, i: usize) {
        let slow_hz = self.slow_hz();
        let now_s = self.position as f64 / f64::from(self.settings.sample_rate_hz);
        let settling = &mut self.settling[i];
        settling.busy = false;
        let (id, level_db) = (settling.id, settling.level_db);
        let long_enough = settling.lasts(slow_hz) >= LEAST_S;
        let loud_db = decibels(settling.power(&self.sound, slow_hz));
        let sitting = settling.sitting(slow_hz);
        let portrait = draw(&sitting, &self.sound, &self.finder, &mut self.workspace);
        self.portrait = (id, portrait);
        let kinds = Kinds::of(&portrait);
        let outcome = self.settler.settle(
            settling,
            self.settings.reference,
            &self.sound,
            &self.finder,
            &mut self.workspace,
        );
        let string = self.speech_gate.believed(kinds.string(), now_s);
        let withdrawn = match outcome {
            Outcome::Withdrawn(why) => Some(why),
            _ if string < LEAST_LIKELY => Some(kinds.otherwise()),
            // A chord is told from a note as surely as the ear can.
            _ if string < LIKELY && kinds.otherwise() == Doubt::SeveralNotes => {
                Some(Doubt::SeveralNotes)
            }
            _ => None,
        };
        if let Some(why) = withdrawn {
            self.refractory.withdrawn(id);
            if !self.own_tone && matches!(why, Doubt::Voice | Doubt::HeldTone | Doubt::Knock) {
                self.speech_gate.learn(level_db, now_s);
            }
            self.outbox.push(Heard::Withdrawn { id, why });
            return;
        }
        if let Outcome::Settled(settled) = outcome {
            self.outbox.push(Heard::Settled(settled));
        }
        let at = self.position;
        self.outbox.push(if !self.gate.may_answer(loud_db, now_s) {
            let why = Doubt::TooQuiet;
            Heard::MayNotAnswer { id, why }
        } else if string < LIKELY || !long_enough {
            let why = match kinds.otherwise() {
                why @ Doubt::Slide if string < LIKELY => why,
                _ => Doubt::Unsteady,
            };
            Heard::MayNotAnswer { id, why }
        } else {
            if !self.own_tone {
                self.gate.own(loud_db, now_s);
            }
            Heard::MayAnswer { id, at }
        });
    }

    fn learn_talk(&mut self, level_db: f64, now_s: f64) {
        if !self.own_tone {
            self.speech_gate.learn(level_db, now_s);
        }
    }

    fn slow_hz(&self) -> f64 {
        f64::from(self.settings.sample_rate_hz) / self.decimator.factor() as f64
    }

    /// The sample position that belongs to a decimated one.
    fn full_rate(&self, slow: f64) -> f64 {
        self.origin as f64 + (slow - self.decimator.delay()) * self.decimator.factor() as f64
    }

    /// The next thing to tell, in order of deciding.
    pub fn poll(&mut self) -> Option<Heard> {
        self.outbox.pop()
    }

    /// What the ear last went by when it decided whether a pluck may answer: for
    /// teaching it.
    pub fn portrait(&self) -> (PluckId, Portrait) {
        self.portrait
    }

    /// Samples heard so far, those skipped included.
    pub fn position(&self) -> u64 {
        self.position
    }

    /// Short-term level, in dB re full scale.
    pub fn level_db(&self) -> f64 {
        decibels(self.level)
    }

    /// Takes the measured noise of the room into account.
    pub fn set_room(&mut self, room: Room) {
        self.gate.set_room(room);
    }

    /// Samples were lost: positions move on, and what was heard before is
    /// forgotten.
    pub fn skip(&mut self, samples: u64) {
        self.position += samples;
        self.decimator.forget();
        self.finder.forget();
        self.sound.skip_to(self.sound.end());
        self.origin =
            self.position as i64 - self.sound.end() as i64 * self.decimator.factor() as i64;
        self.level = 0.0;
        self.treble = 0.0;
        self.before = [0.0; 2];
        self.last_onset = f64::MIN;
        for decision in &mut self.decisions {
            decision.busy = false;
        }
        for settling in self.settling.iter_mut().filter(|settling| settling.busy) {
            settling.busy = false;
            let (id, why) = (settling.id, Doubt::Unsteady);
            self.outbox.push(Heard::MayNotAnswer { id, why });
        }
    }
}
