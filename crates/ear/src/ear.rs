//! The ear as a whole: samples through onsets, readers, the networks and what keeps
//! notes back, to what was heard. Each stage is a module of its own; the order is here.

use crate::decide::{Decision, Standing};
use crate::decimate::Decimator;
use crate::dither::Dither;
use crate::gate::Gate;
use crate::kind::Kinds;
use crate::onset::{Onset, OnsetFinder};
use crate::outbox::Outbox;
use crate::portrait::{Portrait, draw};
use crate::refractory::Refractory;
use crate::ring::Ring;
use crate::room::decibels;
use crate::settle::{Outcome, Settler, Settling, TOUCH_DB};
use crate::speech_gate::SpeechGate;
use crate::strum::{SOON_S, is_followed, is_several};
use crate::workspace::Workspace;
use crate::{EarDoubt, EarError, EarSettings, Heard, Pluck, PluckId, Room, Settled};

use fifthpeg_core::Pitch;

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

/// A pluck that stands may answer if it is this likely that it is a string,
const LIKELY: f32 = 0.5;
/// and was heard for so long, in seconds.
const LEAST_S: f64 = 0.1;
/// Where no note is named a player is told why if it is this likely that strings
/// were plucked.
const PLUCKED: f32 = 0.5;

/// Listens to one instrument.
#[derive(Debug)]
pub struct Ear {
    settings: EarSettings,
    position: u64,
    level: f64,
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

    fn settle(&mut self, i: usize) {
        let slow_hz = self.slow_hz();
        let now_s = self.now_s();
        let settling = &mut self.settling[i];
        settling.busy = false;
        let (onset, level_db) = (settling.onset.at, settling.level_db);
        if let (Some(id), Some(why)) = (settling.id, settling.stands) {
            if settling.strummed {
                self.withdraw(i, id, EarDoubt::SeveralNotes);
            } else {
                self.outbox.push(Heard::MayNotAnswer { id, why });
            }
            return;
        }
        let long_enough = settling.lasts(slow_hz) >= LEAST_S;
        let sitting = settling.sitting(slow_hz);
        let portrait = draw(&sitting, &self.sound, &self.finder, &mut self.workspace);
        let pitch = self.settling[i].pitch;
        self.portrait = Some((self.full_rate(onset), pitch, portrait));
        let kinds = Kinds::of(&portrait);
        let Some(id) = self.settling[i].id else {
            self.tell_unnamed(onset, level_db, kinds);
            return;
        };
        let loud_db = decibels(self.settling[i].power(&self.sound, slow_hz));
        let itself_db = self.settling[i].itself_db(&self.sound, slow_hz);
        let outcome = self.settler.settle(
            &self.settling[i],
            self.settings.reference,
            &self.sound,
            &self.finder,
            &mut self.workspace,
        );
        let kinds = kinds.past_the_pick(&sitting, &self.sound, &self.finder, &mut self.workspace);
        let string = self.speech_gate.believed(kinds.string(), level_db, now_s);
        let withdrawn = match outcome {
            Outcome::Withdrawn(why) => Some(why),
            _ if self.settling[i].strummed => Some(EarDoubt::SeveralNotes),
            _ => kinds.takes_back(string, self.settling[i].soon_after),
        };
        if let Some(why) = withdrawn {
            self.withdraw(i, id, why);
            return;
        }
        let at_s = onset / slow_hz;
        let again = self.gate.is_again(pitch, at_s);
        let stands = self.gate.stands(itself_db, again);
        if !self.own_tone {
            self.gate.learn(itself_db, level_db, again, now_s);
        }
        if !stands {
            self.withdraw(i, id, EarDoubt::TooQuiet);
            return;
        }
        if let Outcome::Settled(cents, spread_cents) = outcome {
            self.outbox.push(Heard::Settled(Settled {
                id,
                cents,
                spread_cents,
            }));
        }
        let why_not = if !self.gate.may_answer(loud_db, now_s) {
            Some(EarDoubt::TooQuiet)
        } else if string < LIKELY || !long_enough {
            match kinds.otherwise() {
                why @ EarDoubt::Slide if string < LIKELY => Some(why),
                _ => Some(EarDoubt::Unsteady),
            }
        } else {
            None
        };
        let settling = &mut self.settling[i];
        match why_not {
            Some(_) if settling.cut_soon(slow_hz).is_some() => {
                (settling.busy, settling.stands) = (true, why_not);
            }
            Some(why) => self.outbox.push(Heard::MayNotAnswer { id, why }),
            None => {
                if !self.own_tone {
                    self.gate.own(loud_db, now_s, (pitch, at_s));
                }
                let at = self.position;
                self.outbox.push(Heard::MayAnswer { id, at });
            }
        }
    }

    fn withdraw(&mut self, i: usize, id: PluckId, why: EarDoubt) {
        if why == EarDoubt::SeveralNotes {
            let rate_hz = self.slow_hz();
            is_several(i, &mut self.settling, &mut self.decisions, rate_hz);
        }
        self.refractory.withdrawn(id);
        self.learn_talk(why, self.settling[i].level_db);
        self.outbox.push(Heard::Withdrawn { id, why });
    }

    /// No note stood out: what it was, and so whether a player would ask why.
    fn tell_unnamed(&mut self, onset: f64, level_db: f64, kinds: Kinds) {
        let plucked = self
            .speech_gate
            .believed(kinds.plucked(), level_db, self.now_s());
        let why = match kinds.otherwise() {
            _ if plucked < PLUCKED => kinds.no_pluck(),
            _ if kinds.string() > LIKELY => EarDoubt::NoClearPitch,
            why => why,
        };
        self.learn_talk(why, level_db);
        self.unsure(onset, level_db, why);
    }

    fn unsure(&mut self, onset: f64, level_db: f64, why: EarDoubt) {
        let onset = self.full_rate(onset);
        self.outbox.push(Heard::Unsure {
            onset,
            level_db,
            why,
        });
    }

    fn learn_talk(&mut self, why: EarDoubt, level_db: f64) {
        // A player knocks as well: the pick touches the string.
        if !self.own_tone && matches!(why, EarDoubt::Voice | EarDoubt::HeldTone) {
            self.speech_gate.learn(level_db, self.now_s());
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
        self.origin as f64 + (slow - self.decimator.delay()) * self.decimator.factor() as f64
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
