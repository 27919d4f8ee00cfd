//! The ear as a whole: samples through onsets, readers, the networks and what keeps
//! notes back, to what was heard. Each stage is a module of its own; the order is here.

use crate::decide::{Decision, Standing};
use crate::decimate::Decimator;
use crate::dither::Dither;
use crate::gap::Gaps;
use crate::gate::Gate;
use crate::onset::{Onset, OnsetFinder};
use crate::outbox::Outbox;
use crate::portrait::Portrait;
use crate::refractory::Refractory;
use crate::ring::Ring;
use crate::room::decibels;
use crate::settle::{Settler, Settling, TOUCH_DB};
use crate::speech_gate::SpeechGate;
use crate::strum::{SOON_S, is_followed};
use crate::workspace::Workspace;
use crate::{EarDoubt, EarError, EarSettings, Heard, Pluck, PluckId, Room};

use fifthpeg_core::Pitch;

mod telling;

/// Onsets that may be decided on at the same time,
const AT_ONCE: usize = 4;
/// and plucks that may wait for what becomes of them: softer ones cut none off.
const WAITING: usize = 8;

/// Two attacks closer than this are one.
const NEXT_AT_LEAST_S: f64 = 0.012;
/// Two attacks closer than this are one, unless the second is far louder: then
/// the first was somebody else's, or no note.
const CLOSE_S: f64 = 0.045;
/// Each period of a thick string is a small attack: so many of them are one.
const CLOSE_PERIODS: f64 = 4.0;
const CLOSE_JUMP_DB: f64 = 5.0;
/// An attack where the sound had a hole is none unless it is so much louder after it.
const HOLE_JUMP_DB: f64 = 3.0;

/// Listens to one instrument.
#[derive(Debug)]
pub struct Ear {
    settings: EarSettings,
    position: u64,
    level: f64,
    gaps: Gaps,
    dither: Dither,
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
    /// Whether any of those may be due: there is nothing to ask at most samples.
    attends: bool,
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
    portrait: Option<(f64, Pitch, Portrait)>,
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
            gaps: Gaps::new(rate_hz),
            dither: Dither::new(),
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
            settling: vec![Settling::default(); WAITING],
            attends: false,
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
            portrait: None,
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
            let sample = self.gaps.mend(sample, self.dither.step());
            let sample = self.dither.add(sample);
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
            self.attends = true;
        }
        if !self.attends {
            return;
        }
        let end = self.sound.end() as i64;
        for i in 0..self.decisions.len() {
            if self.decisions[i].busy && end >= self.decisions[i].next_look(&self.workspace) {
                self.look(i);
            }
        }
        for i in 0..self.settling.len() {
            let settling = &self.settling[i];
            if settling.busy && end >= settling.due(self.slow_hz(), &self.decisions) {
                self.settle(i);
            }
        }
        self.attends = self.decisions.iter().any(|decision| decision.busy)
            || self.settling.iter().any(|settling| settling.busy);
    }

    fn begin(&mut self, onset: Onset) {
        let slow_hz = self.slow_hz();
        let since = (onset.at - self.last_onset) / slow_hz;
        let jump_db = self.jump_db(onset.at);
        let ago = self.position as f64 - self.full_rate(onset.at);
        if self.gaps.was_there(ago) && jump_db < HOLE_JUMP_DB {
            return;
        }
        if since < NEXT_AT_LEAST_S || (since < self.close_s && jump_db < CLOSE_JUMP_DB) {
            let last = self.last_onset;
            let decision = self
                .decisions
                .iter_mut()
                .find(|d| d.busy && d.onset.at == last);
            let settling = self
                .settling
                .iter_mut()
                .find(|s| s.busy && s.onset.at == last);
            if let Some(decision) = decision {
                decision.after.add(&onset);
            } else if let Some(settling) = settling {
                settling.after.add(&onset);
            }
            return;
        }
        let clean_from = (self.last_onset + 0.012 * slow_hz).max(0.0) as i64;
        let soon_after = since < SOON_S && jump_db < TOUCH_DB;
        self.last_onset = onset.at;
        for decision in self.decisions.iter_mut().filter(|decision| decision.busy) {
            decision.cut.comes(onset.at as i64, jump_db);
        }
        for settling in &mut self.settling {
            settling.cut(onset.at as i64, jump_db);
        }
        if let Some(free) = self.decisions.iter_mut().find(|decision| !decision.busy) {
            free.begin(onset, clean_from, &self.sound, &mut self.workspace);
            free.soon_after = soon_after;
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
        let level_db = decibels(f64::from(decision.power));
        for before in self.settling.iter_mut().filter(|before| before.busy) {
            before.heard_through(decision, level_db);
        }
        let slow_hz = self.slow_hz();
        let at_s = onset.at / slow_hz;
        let named = match standing {
            Standing::Note(named) | Standing::Unclear(named) => {
                Pitch::nearest(named.hz, self.settings.reference).map(|near| (named, near))
            }
            _ => None,
        };
        let Some((named, (pitch, cents))) = named else {
            return;
        };
        let is_note = matches!(standing, Standing::Note(_));
        let frequency_hz = pitch.frequency_hz(self.settings.reference);
        if is_note
            && self
                .refractory
                .is_the_same(pitch, frequency_hz, at_s, level_db)
        {
            return;
        }
        let again = self.gate.is_again(pitch, at_s);
        if !self.gate.lets_in(level_db, again) {
            if is_note {
                if !self.own_tone {
                    self.gate.learn_attack(level_db, self.now_s());
                }
                self.unsure(onset.at, level_db, EarDoubt::TooQuiet);
            }
            return;
        }
        let id = is_note.then_some(PluckId(self.next_id));
        if let Some(id) = id {
            self.next_id += 1;
            self.refractory.told(id, pitch, at_s, level_db);
            self.outbox.push(Heard::Pluck(Pluck {
                id,
                onset: self.full_rate(onset.at),
                onset_uncertainty: onset.uncertainty * self.decimator.factor() as f64,
                pitch,
                cents,
                level_db,
                decided_at: self.position,
            }));
        }
        // A note goes before what was none.
        let free = (self.settling.iter().position(|settling| !settling.busy))
            .or_else(|| self.settling.iter().position(|s| is_note && s.id.is_none()));
        let settling = Settling::begin(id, pitch, named, &self.decisions[i], level_db);
        for before in self.settling.iter_mut().filter(|before| before.busy) {
            before.strummed |= is_note && is_followed(before, &settling, slow_hz);
        }
        if let Some(free) = free {
            self.settling[free] = settling;
        }
    }

    fn now_s(&self) -> f64 {
        self.position as f64 / f64::from(self.settings.sample_rate_hz)
    }

    fn slow_hz(&self) -> f64 {
        f64::from(self.settings.sample_rate_hz) / self.decimator.factor() as f64
    }

    /// The sample position that belongs to a decimated one.
    fn full_rate(&self, slow: f64) -> f64 {
        let slow = slow - self.decimator.delay();
        self.origin as f64 + slow * self.decimator.factor() as f64 - self.gaps.delay() as f64
    }

    /// The next thing to tell, in order of deciding.
    pub fn poll(&mut self) -> Option<Heard> {
        self.outbox.pop()
    }

    /// What the ear has gone by since it was last asked, when it decided what an
    /// onset was: the onset's sample position, the note that comes nearest, and the
    /// numbers. For teaching it.
    pub fn take_portrait(&mut self) -> Option<(f64, Pitch, Portrait)> {
        self.portrait.take()
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
        self.gaps.forget();
        self.decimator.forget();
        self.finder.forget();
        self.sound.skip_to(self.sound.end());
        self.origin =
            self.position as i64 - self.sound.end() as i64 * self.decimator.factor() as i64;
        self.level = 0.0;
        self.treble = 0.0;
        self.before = [0.0; 2];
        self.last_onset = f64::MIN;
        self.gate.forget_last();
        for decision in &mut self.decisions {
            decision.busy = false;
        }
        for settling in self.settling.iter_mut().filter(|settling| settling.busy) {
            settling.busy = false;
            if let Some(id) = settling.id {
                let why = EarDoubt::Unsteady;
                self.outbox.push(Heard::MayNotAnswer { id, why });
            }
        }
    }
}
