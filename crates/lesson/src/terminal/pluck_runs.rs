//! Answering without touching the computer: when plucks in a row are an answer.
//!
//! # What a row is
//! Plucks stand in the order of their onsets. A run is plucks next to one
//! another of the same pitch, octave included, none more than
//! [`HandsFree::within`] after the one before. The first
//! [`HandsFree::times`] of a run whose first and last onsets lie within
//! [`HandsFree::within`] are a row, and a row is an answer. Its moment is the
//! onset of its last pluck.
//!
//! - Another pitch between two plucks ends the run, and so does a chord: both
//!   were played on purpose. So does what was heard while a tone of the lesson
//!   sounded: it may have been another note. D3 and D4 are different pitches here, whatever the
//!   marking: who looks for an octave plucks other notes.
//! - Only plucks that the ear says may answer count: they sounded like a string of
//!   this instrument. One that may not goes on with a run of its own note without
//!   counting, and ends a run of another if it was played; a voice, a beep or a
//!   knock that was taken for a note does neither.
//! - An onset that no note could be named for, and a pluck that was withdrawn,
//!   are as if they had never been: somebody coughed.
//! - A run answers once, however long it goes on: three plucks are one answer,
//!   and so are ten. The same pitch answers again after a pause longer than
//!   [`HandsFree::within`], or with something else in between.
//!
//! # Waiting until it is sure
//! The ear may take a pluck back while it still listens to it: a slide, a
//! strum that came apart. A pluck is sure once its intonation has settled, the
//! ear has said whether it may answer, or [`WITHDRAW_LIMIT`] after it was told,
//! whichever is first. A pluck becomes a try only when sure, and a row an answer
//! once each of it may answer; the moment stays the onset. A word that has not come
//! within [`WORD_LIMIT`] is a no.
//!
//! # By a key or a foot switch
//! A press commits the last pluck that stands. That answer's moment is the
//! press, since it was then that the student decided; the pluck only says what.
//! It waits until that pluck is sure, too. Any pluck will do that has a name: the
//! ear's word is about answers that nobody pressed a key for. If a row only waits
//! for that word, the row's own moment counts should it be yes.

mod rows;

use core::ops::Range;
use core::time::Duration;
use fifthpeg_core::Pitch;

use crate::Moment;
use crate::message::Refusal;

/// The longest that a pluck may still be taken back, from when it was told.
/// The ear settles a pluck at most 340 ms after its onset, if the next came within
/// 85 ms, and tells it at the earliest some 30 ms after it, so this leaves 40 ms to
/// spare.
pub const WITHDRAW_LIMIT: Duration = Duration::from_millis(350);

/// The longest that the ear's word on a pluck is waited for, from when the pluck
/// was told. It comes within about a third of a second.
pub const WORD_LIMIT: Duration = Duration::from_secs(1);

/// The most plucks in a row that may be asked for.
pub const MOST_TIMES: u8 = 8;

/// Plucks and chords of a call that are kept; more than any row needs.
const KEPT: usize = 64;

/// The number of plucks that can be named no more.
const GONE: u64 = u64::MAX;

/// How a terminal with a microphone takes answers from the instrument.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct HandsFree {
    /// How often a note is plucked in a row to answer with it; 1 to
    /// [`MOST_TIMES`].
    pub times: u8,
    /// Within what time, from the first onset to the last.
    pub within: Duration,
    /// The tones of calls and tries are heard on headphones only, so that the
    /// microphone does not hear them.
    pub headphones: bool,
}

impl Default for HandsFree {
    /// Twice within two seconds, and no headphones.
    fn default() -> Self {
        Self {
            times: 2,
            within: Duration::from_secs(2),
            headphones: false,
        }
    }
}

/// One pluck as heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Pluck {
    pub id: u64,
    pub pitch: Pitch,
    /// The onset.
    pub at: Moment,
    /// How far the onset may be off.
    pub uncertainty: Duration,
    /// From when it cannot be taken back any more.
    pub sure_from: Moment,
    /// Until when the ear's word on it is waited for.
    pub word_by: Moment,
}

/// Whether a pluck may answer.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Word {
    /// The ear has not said yet.
    Awaited,
    May,
    MayNot {
        /// A player would call it a pluck.
        played: bool,
    },
}

/// An answer on the instrument.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Commit {
    pub pitch: Pitch,
    pub at: Moment,
    /// The moment's own uncertainty; `None` if it is a key's.
    pub onset_uncertainty: Option<Duration>,
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kept {
    Pluck {
        pluck: Pluck,
        word: Word,
        /// Told as a try.
        tried: bool,
        /// Its run has answered with it.
        spent: bool,
    },
    Break(Moment),
}

impl Kept {
    fn at(&self) -> Moment {
        match self {
            Self::Pluck { pluck, .. } => pluck.at,
            Self::Break(at) => *at,
        }
    }

    fn pluck(&self) -> Option<&Pluck> {
        match self {
            Self::Pluck { pluck, .. } => Some(pluck),
            Self::Break(_) => None,
        }
    }

    fn word(&self) -> Option<Word> {
        match self {
            Self::Pluck { word, .. } => Some(*word),
            Self::Break(_) => None,
        }
    }

    /// Whether it may be part of a row.
    fn counts(&self) -> bool {
        matches!(self.word(), Some(Word::Awaited | Word::May))
    }

    /// Whether it is as if it had never been.
    fn is_nothing(&self) -> bool {
        self.word() == Some(Word::MayNot { played: false })
    }
}

/// What was plucked in one call.
#[derive(Debug, Clone, Default)]
pub(super) struct PluckRuns {
    /// In order of onsets.
    kept: Vec<Kept>,
    /// The pluck that a key has committed, and when; it is not sure yet.
    pressed: Option<(u64, Moment)>,
}

impl PluckRuns {
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    /// A pluck was heard. Told twice, it counts once. An ear that began anew may
    /// count from the beginning again: the older pluck of that number then has
    /// nobody left to take it back.
    pub fn pluck(&mut self, new: Pluck, settings: HandsFree) {
        if let Some(Kept::Pluck { pluck, .. }) = self.find_mut(new.id) {
            if pluck.at == new.at {
                return;
            }
            pluck.id = GONE;
        }
        self.keep(Kept::Pluck {
            pluck: new,
            word: Word::Awaited,
            tried: false,
            spent: false,
        });
        self.forget_oldest(settings);
    }

    /// Something was heard that no run goes on after.
    pub fn break_off(&mut self, at: Moment, settings: HandsFree) {
        self.keep(Kept::Break(at));
        self.forget_oldest(settings);
    }

    /// A pluck's intonation has settled: it stands.
    pub fn settled(&mut self, id: u64, now: Moment) {
        if let Some(Kept::Pluck { pluck, .. }) = self.find_mut(id) {
            pluck.sure_from = pluck.sure_from.min(now);
        }
    }

    /// The ear has said whether a pluck may answer: it stands. Gives its pitch.
    pub fn told(&mut self, id: u64, told: Word, now: Moment) -> Option<Pitch> {
        let Some(Kept::Pluck { pluck, word, .. }) = self.find_mut(id) else {
            return None;
        };
        *word = told;
        pluck.sure_from = pluck.sure_from.min(now);
        Some(pluck.pitch)
    }

    /// What the ear has not said by now it will not say.
    pub fn give_up(&mut self, now: Moment) {
        for kept in &mut self.kept {
            if let Kept::Pluck { pluck, word, .. } = kept
                && *word == Word::Awaited
                && pluck.word_by <= now
            {
                *word = Word::MayNot { played: true };
            }
        }
    }

    /// Nobody is left to take anything back, or to say what may answer.
    pub fn all_sure(&mut self) {
        for kept in &mut self.kept {
            if let Kept::Pluck { pluck, word, .. } = kept {
                pluck.sure_from = Moment::from_micros(0);
                if *word == Word::Awaited {
                    *word = Word::MayNot { played: true };
                }
            }
        }
    }

    /// A pluck was none; a chord stands in its place if it was that. Says
    /// whether a key had committed it.
    pub fn withdrawn(&mut self, id: u64, chord: bool) -> bool {
        let Some(index) = self.find(id) else {
            return false;
        };
        let at = self.kept.remove(index).at();
        if chord {
            self.keep(Kept::Break(at));
        }
        self.pressed
            .take_if(|(pressed, _)| *pressed == id)
            .is_some()
    }

    /// These plucks were none; what has answered already stays.
    pub fn forget(&mut self, were_none: impl Fn(Pitch, Moment) -> bool) {
        self.kept.retain(|kept| match kept {
            Kept::Pluck { pluck, spent, .. } => *spent || !were_none(pluck.pitch, pluck.at),
            Kept::Break(_) => true,
        });
    }

    /// A key commits the last pluck that stands.
    ///
    /// # Errors
    /// [`Refusal::NothingHeard`], or [`Refusal::HeardAnswered`] if that pluck
    /// has answered already.
    pub fn press(&mut self, settings: HandsFree, now: Moment) -> Result<(), Refusal> {
        let index = self.last_index().ok_or(Refusal::NothingHeard)?;
        let run = self.run_of(index, settings);
        // If its run only waits for the ear's word, it is about to answer anyway.
        let waiting = self.row_in(&run, settings).is_some();
        let answered = self.is_spent(&run);
        let Some(Kept::Pluck { pluck, spent, .. }) = self.kept.get_mut(index) else {
            return Err(Refusal::NothingHeard);
        };
        if self.pressed.is_some_and(|(id, _)| id == pluck.id) {
            return Ok(());
        }
        if answered {
            return Err(Refusal::HeardAnswered);
        }
        *spent = !waiting;
        self.pressed = Some((pluck.id, now));
        Ok(())
    }

    /// The next pluck that has become sure, as a try.
    pub fn next_try(&mut self, now: Moment) -> Option<Pluck> {
        self.kept.iter_mut().find_map(|kept| match kept {
            Kept::Pluck { pluck, tried, .. } if !*tried && pluck.sure_from <= now => {
                *tried = true;
                Some(*pluck)
            }
            _ => None,
        })
    }

    /// The next answer that has become sure.
    pub fn take(&mut self, settings: HandsFree, now: Moment) -> Option<Commit> {
        if let Some((id, at)) = self.pressed {
            match self.find(id) {
                None => self.pressed = None,
                Some(index) => {
                    let run = self.run_of(index, settings);
                    match self.row_in(&run, settings) {
                        // The row answers by itself, as if no key had been pressed.
                        Some(row) if self.is_ready(&row, now) => self.pressed = None,
                        Some(_) => return None,
                        None => return self.take_pressed(index, at, now),
                    }
                }
            }
        }
        let row = self.first_row(settings)?;
        if !self.is_ready(&row, now) {
            return None;
        }
        let last = *self.kept.get(*row.last()?)?.pluck()?;
        for index in row {
            self.spend(index);
        }
        Some(Commit {
            pitch: last.pitch,
            at: last.at,
            onset_uncertainty: Some(last.uncertainty),
        })
    }

    fn take_pressed(&mut self, index: usize, at: Moment, now: Moment) -> Option<Commit> {
        let pluck = *self.kept.get(index)?.pluck()?;
        if pluck.sure_from > now {
            return None;
        }
        self.pressed = None;
        self.spend(index);
        Some(Commit {
            pitch: pluck.pitch,
            at,
            onset_uncertainty: None,
        })
    }

    fn spend(&mut self, index: usize) {
        if let Some(Kept::Pluck { spent, .. }) = self.kept.get_mut(index) {
            *spent = true;
        }
    }

    /// When a try or an answer becomes sure next.
    pub fn deadline(&self, settings: HandsFree) -> Option<Moment> {
        let tries = self.kept.iter().filter_map(|kept| match kept {
            Kept::Pluck { pluck, tried, .. } if !tried => Some(pluck.sure_from),
            _ => None,
        });
        let pressed = self.pressed.and_then(|(id, _)| self.find(id));
        let pressed = pressed.and_then(|index| {
            // In a row that waits for the ear's word it waits with it.
            match self.row_in(&self.run_of(index, settings), settings) {
                Some(row) => self.ready_from(&row),
                None => Some(self.kept[index].pluck()?.sure_from),
            }
        });
        let row = self.first_row(settings).and_then(|r| self.ready_from(&r));
        tries.chain(pressed).chain(row).min()
    }

    /// An answer that only waits to be sure.
    pub fn is_waiting(&self, settings: HandsFree) -> bool {
        self.pressed.is_some() || self.first_row(settings).is_some()
    }

    /// A row that only waits for the ear's word, and that no key has committed.
    pub fn row_waits(&self, settings: HandsFree) -> bool {
        self.pressed.is_none() && self.first_row(settings).is_some()
    }

    /// The run that is going on and may still become an answer: its pitch, and
    /// how many plucks of it count. Over `within` after the last one.
    pub fn running(&self, settings: HandsFree, now: Moment) -> Option<(Pitch, u8)> {
        let run = self.runs(settings.within).pop()?;
        if !run.contains(&self.last_played()?) || self.is_spent(&run) {
            return None;
        }
        let counting = || self.kept[run.clone()].iter().filter(|k| k.counts());
        let last = *counting().next_back()?.pluck()?;
        let near = |kept: &&Kept| last.at.since(kept.at()) <= settings.within;
        let count = counting().filter(near).count();
        let lasts = now <= last.at + settings.within;
        lasts.then_some((last.pitch, u8::try_from(count).unwrap_or(u8::MAX)))
    }

    /// When [`PluckRuns::running`] is over if nothing more is plucked.
    pub fn runs_out(&self, settings: HandsFree) -> Option<Moment> {
        let last = self.kept.iter().rfind(|k| k.counts())?;
        // The first moment beyond.
        Some(last.at() + settings.within + Duration::from_micros(1))
    }

    fn keep(&mut self, new: Kept) {
        let place = self.kept.partition_point(|k| k.at() <= new.at());
        self.kept.insert(place, new);
    }

    /// Keeps the list short. A run that has answered stays spent when the
    /// plucks that answered are forgotten.
    fn forget_oldest(&mut self, settings: HandsFree) {
        if self.kept.len() <= KEPT {
            return;
        }
        let first = self.runs(settings.within).into_iter().next();
        let spent_up_to = first
            .filter(|run| run.start == 0 && self.is_spent(run))
            .map(|run| run.end);
        self.kept.remove(0);
        if let Some(end) = spent_up_to {
            // A voice in the midst of it is no part of it, and cannot say so.
            let rest = self.kept.iter_mut().take(end - 1);
            if let Some(Kept::Pluck { spent, .. }) = rest.into_iter().find(|k| !k.is_nothing()) {
                *spent = true;
            }
        }
    }

    /// Whether a run has answered.
    fn is_spent(&self, run: &Range<usize>) -> bool {
        let spent = |k: &Kept| matches!(k, Kept::Pluck { spent: true, .. });
        let alone = run.len() == 1;
        let of_it = |k: &&Kept| alone || !k.is_nothing();
        self.kept[run.clone()].iter().filter(of_it).any(spent)
    }

    fn find(&self, id: u64) -> Option<usize> {
        let is = |k: &Kept| k.pluck().is_some_and(|p| p.id == id);
        self.kept.iter().position(is)
    }

    fn find_mut(&mut self, id: u64) -> Option<&mut Kept> {
        let index = self.find(id)?;
        self.kept.get_mut(index)
    }

    fn last_index(&self) -> Option<usize> {
        self.kept.iter().rposition(|k| k.pluck().is_some())
    }
}
