//! What became of a pluck that was named, and what is told of it.

use crate::kind::Kinds;
use crate::portrait::draw;
use crate::room::decibels;
use crate::settle::Outcome;
use crate::strum::is_several;
use crate::{Ear, EarDoubt, Heard, PluckId, Settled};

/// A pluck that stands may answer if it is this likely that it is a string,
const LIKELY: f32 = 0.5;
/// and was heard for so long, in seconds.
const LEAST_S: f64 = 0.1;
/// Where no note is named a player is told why if it is this likely that strings
/// were plucked.
const PLUCKED: f32 = 0.5;

impl Ear {
    pub(super) fn settle(&mut self, i: usize) {
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

    pub(super) fn unsure(&mut self, onset: f64, level_db: f64, why: EarDoubt) {
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
}
