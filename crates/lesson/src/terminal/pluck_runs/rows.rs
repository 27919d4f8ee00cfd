//! Runs and rows among the plucks that are kept.

use core::ops::Range;
use core::time::Duration;

use super::{HandsFree, Kept, MOST_TIMES, Pluck, PluckRuns, Word};
use crate::Moment;

impl PluckRuns {
    /// The last pluck or chord, voices and the like left out.
    pub(super) fn last_played(&self) -> Option<usize> {
        self.kept.iter().rposition(|k| !k.is_nothing())
    }

    /// The run that a pluck is in.
    pub(super) fn run_of(&self, index: usize, settings: HandsFree) -> Range<usize> {
        let alone = index..index + 1;
        if self.kept.get(index).is_none_or(Kept::is_nothing) {
            return alone;
        }
        let runs = self.runs(settings.within);
        let run = runs.into_iter().find(|run| run.contains(&index));
        run.unwrap_or(alone)
    }

    /// The runs, oldest first, as places in the list.
    pub(super) fn runs(&self, within: Duration) -> Vec<Range<usize>> {
        let mut runs: Vec<Range<usize>> = Vec::new();
        let mut before: Option<&Pluck> = None;
        for (index, kept) in self.kept.iter().enumerate() {
            if kept.is_nothing() {
                continue;
            }
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

    /// The oldest row that has not answered, and of which no pluck may not: the
    /// places of its plucks.
    pub(super) fn first_row(&self, settings: HandsFree) -> Option<Vec<usize>> {
        let runs = self.runs(settings.within);
        runs.iter().find_map(|run| self.row_in(run, settings))
    }

    /// The row in a run, if that has not answered.
    pub(super) fn row_in(&self, run: &Range<usize>, settings: HandsFree) -> Option<Vec<usize>> {
        if self.is_spent(run) {
            return None;
        }
        let times = usize::from(settings.times.clamp(1, MOST_TIMES));
        let counting: Vec<usize> = run.clone().filter(|i| self.kept[*i].counts()).collect();
        let row = counting.windows(times).find(|row| {
            let (first, last) = (&self.kept[row[0]], &self.kept[row[times - 1]]);
            last.at().since(first.at()) <= settings.within
        });
        row.map(<[usize]>::to_vec)
    }

    /// Whether a row answers now.
    pub(super) fn is_ready(&self, row: &[usize], now: Moment) -> bool {
        let may = |i: &usize| self.kept[*i].word() == Some(Word::May);
        row.iter().all(may) && self.ready_from(row).is_some_and(|at| at <= now)
    }

    /// When the last of these is sure; or until when the ear's word on one of them
    /// is waited for.
    pub(super) fn ready_from(&self, row: &[usize]) -> Option<Moment> {
        let plucks = || row.iter().filter_map(|i| self.kept[*i].pluck());
        let awaited = row
            .iter()
            .filter(|i| self.kept[**i].word() == Some(Word::Awaited))
            .filter_map(|i| Some(self.kept[*i].pluck()?.word_by))
            .min();
        awaited.or_else(|| plucks().map(|p| p.sure_from).max())
    }
}
