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
//! - An onset that no note could be named for, and a pluck that was withdrawn,
//!   are as if they had never been: somebody coughed.
//! - A run answers once, however long it goes on: three plucks are one answer,
//!   and so are ten. The same pitch answers again after a pause longer than
//!   [`HandsFree::within`], or with something else in between.
//!
//! # Waiting until it is sure
//! The ear may take a pluck back while it still listens to it: a slide, a
//! strum that came apart. A pluck is sure once its intonation has settled, or
//! [`WITHDRAW_LIMIT`] after it was told, whichever is first. A pluck becomes a
//! try, and a row an answer, only when sure; the moment stays the onset. What
//! is taken back later than that has counted.
//!
//! # By a key or a foot switch
//! A press commits the last pluck that stands. That answer's moment is the
//! press, since it was then that the student decided; the pluck only says what.
//! It waits until that pluck is sure, too.

use core::ops::Range;
use core::time::Duration;
use fifthpeg_core::Pitch;

use crate::Moment;
use crate::message::Refusal;

/// The longest that a pluck may still be taken back, from when it was told.
/// The ear settles a pluck 150 to 250 ms after its onset and tells it at the
/// earliest some 50 ms after it, so this leaves 100 ms to spare.
pub const WITHDRAW_LIMIT: Duration = Duration::from_millis(300);

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
}

/// An answer by hand.
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
}

/// What was plucked in one call.
#[derive(Debug, Clone, Default)]
pub(super) struct Hands {
    /// In order of onsets.
    kept: Vec<Kept>,
    /// The pluck that a key has committed, and when; it is not sure yet.
    pressed: Option<(u64, Moment)>,
}

impl Hands {
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

    /// Nobody is left to take anything back: every pluck stands.
    pub fn all_sure(&mut self) {
        for kept in &mut self.kept {
            if let Kept::Pluck { pluck, .. } = kept {
                pluck.sure_from = Moment::from_micros(0);
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
        let runs = self.runs(settings.within);
        let run = runs.into_iter().find(|run| run.contains(&index));
        let run = run.unwrap_or(index..index + 1);
        // If its run only waits to be sure, it is about to answer anyway.
        let waiting = self
            .first_row(settings)
            .is_some_and(|row| run.contains(&row.start));
        let answered = self.is_spent(&run);
        let Some(Kept::Pluck { pluck, spent, .. }) = self.kept.get_mut(index) else {
            return Err(Refusal::NothingHeard);
        };
        if waiting || self.pressed.is_some_and(|(id, _)| id == pluck.id) {
            return Ok(());
        }
        if answered {
            return Err(Refusal::HeardAnswered);
        }
        *spent = true;
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
            let pluck = self.find(id).and_then(|i| self.kept[i].pluck().copied());
            match pluck {
                Some(pluck) if pluck.sure_from <= now => {
                    self.pressed = None;
                    return Some(Commit {
                        pitch: pluck.pitch,
                        at,
                        onset_uncertainty: None,
                    });
                }
                Some(_) => {}
                None => self.pressed = None,
            }
        }
        let row = self.first_row(settings)?;
        if self.sure_from(&row)? > now {
            return None;
        }
        let last = *self.kept.get(row.end.checked_sub(1)?)?.pluck()?;
        for kept in &mut self.kept[row] {
            if let Kept::Pluck { spent, .. } = kept {
                *spent = true;
            }
        }
        Some(Commit {
            pitch: last.pitch,
            at: last.at,
            onset_uncertainty: Some(last.uncertainty),
        })
    }

    /// When a try or an answer becomes sure next.
    pub fn deadline(&self, settings: HandsFree) -> Option<Moment> {
        let tries = self.kept.iter().filter_map(|kept| match kept {
            Kept::Pluck { pluck, tried, .. } if !tried => Some(pluck.sure_from),
            _ => None,
        });
        let pressed = self.pressed.and_then(|(id, _)| self.find(id));
        let pressed = pressed.and_then(|i| Some(self.kept[i].pluck()?.sure_from));
        let row = self.first_row(settings).and_then(|r| self.sure_from(&r));
        tries.chain(pressed).chain(row).min()
    }

    /// An answer that only waits to be sure.
    pub fn is_waiting(&self, settings: HandsFree) -> bool {
        self.pressed.is_some() || self.first_row(settings).is_some()
    }

    /// The run that is going on and may still become an answer: its pitch, and
    /// how many plucks of it count. Over `within` after the last one.
    pub fn running(&self, settings: HandsFree, now: Moment) -> Option<(Pitch, u8)> {
        let run = self.runs(settings.within).pop()?;
        let pluck = *self.kept.last()?.pluck()?;
        if self.is_spent(&run) {
            return None;
        }
        let counts = |kept: &&Kept| pluck.at.since(kept.at()) <= settings.within;
        let count = self.kept[run].iter().filter(counts).count();
        let lasts = now <= pluck.at + settings.within;
        lasts.then_some((pluck.pitch, u8::try_from(count).unwrap_or(u8::MAX)))
    }

    /// When [`Hands::running`] is over if nothing more is plucked.
    pub fn runs_out(&self, settings: HandsFree) -> Option<Moment> {
        let last = self.kept.last()?.pluck()?;
        // The first moment beyond.
        Some(last.at + settings.within + Duration::from_micros(1))
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
        let spends = first.filter(|run| run.start == 0 && run.len() > 1 && self.is_spent(run));
        self.kept.remove(0);
        if spends.is_some()
            && let Some(Kept::Pluck { spent, .. }) = self.kept.first_mut()
        {
            *spent = true;
        }
    }

    /// Whether a run has answered.
    fn is_spent(&self, run: &Range<usize>) -> bool {
        let spent = |k: &Kept| matches!(k, Kept::Pluck { spent: true, .. });
        self.kept[run.clone()].iter().any(spent)
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

    /// The runs, oldest first, as places in the list.
    fn runs(&self, within: Duration) -> Vec<Range<usize>> {
        let mut runs: Vec<Range<usize>> = Vec::new();
        let mut before: Option<&Pluck> = None;
        for (index, kept) in self.kept.iter().enumerate() {
            let pluck = kept.pluck();
            if let Some(pluck) = pluck {
                let goes_on = before
                    .is_some_and(|b| b.pitch == pluck.pitch && pluck.at.since(b.at) <= within);
                match runs.last_mut() {
                    Some(run) if goes_on => run.end = index + 1,
                    _ => runs.push(index..index + 1),
                }
            }
            before = pluck;
        }
        runs
    }

    /// The oldest row that has not answered.
    fn first_row(&self, settings: HandsFree) -> Option<Range<usize>> {
        let times = usize::from(settings.times.clamp(1, MOST_TIMES));
        self.runs(settings.within)
            .into_iter()
            .filter(|run| !self.is_spent(run))
            .flat_map(|run| (run.start + times..=run.end).map(move |end| end - times..end))
            .find(|row| {
                let (first, last) = (&self.kept[row.start], &self.kept[row.end - 1]);
                last.at().since(first.at()) <= settings.within
            })
    }

    /// When the last of these becomes sure.
    fn sure_from(&self, row: &Range<usize>) -> Option<Moment> {
        let plucks = self.kept[row.clone()].iter().filter_map(Kept::pluck);
        plucks.map(|p| p.sure_from).max()
    }
}
