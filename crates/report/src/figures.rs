//! Figures of calls as students met them: counts, shares, times, misses. Pure.

use std::collections::BTreeMap;

use fifthpeg_book::PersonCall;
use fifthpeg_core::Pitch;
use fifthpeg_lesson::marking::{Mark, MissKind, Side};
use fifthpeg_lesson::message::Source;

use super::stats;

/// So many of so many.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Share {
    /// How many.
    pub count: u32,
    /// Of how many.
    pub of: u32,
}

impl Share {
    /// As a number from 0 to 1; `None` of nothing.
    pub fn value(self) -> Option<f64> {
        (self.of > 0).then(|| f64::from(self.count) / f64::from(self.of))
    }

    /// Its 95% bounds, by [`stats::wilson`].
    pub fn within(self) -> Option<(f64, f64)> {
        stats::wilson(self.count, self.of)
    }
}

/// Response times of found calls, in seconds.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ResponseTimes {
    /// Each with how far it may be off either way, shortest first.
    pub each: Vec<(f64, f64)>,
}

impl ResponseTimes {
    /// The middle one.
    pub fn median(&self) -> Option<f64> {
        let times: Vec<f64> = self.each.iter().map(|(time, _)| *time).collect();
        stats::median(&times)
    }

    /// Its 95% bounds by [`stats::median_ranks`], made wider by how far the
    /// times may be off: if no time is off by more than u, no ordered one is.
    pub fn within(&self) -> Option<(f64, f64)> {
        let (low, high) = stats::median_ranks(self.each.len())?;
        let off = self.off_by();
        let low = self.each.get(low - 1)?.0 - off;
        let high = self.each.get(high - 1)?.0 + off;
        Some((low.max(0.0), high))
    }

    /// The furthest that any of them may be off.
    pub fn off_by(&self) -> f64 {
        self.each.iter().map(|(_, off)| *off).fold(0.0, f64::max)
    }
}

/// Wrong answers by how far they lay from the note.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Misses {
    /// Semitones above the note, or below it where negative, with how many
    /// answers lay there.
    pub by_semitones: BTreeMap<i32, u32>,
    /// The very note, at another place than the one asked for.
    pub other_place: u32,
    /// A note name as far below as above (a tritone), or of no known distance.
    pub no_side: u32,
}

impl Misses {
    /// All of them.
    pub fn total(&self) -> u32 {
        self.by_semitones.values().sum::<u32>() + self.other_place + self.no_side
    }

    fn take(&mut self, mark: Mark) {
        let Mark::Missed(miss) = mark else {
            return;
        };
        let away = match miss.kind {
            Some(MissKind::OtherPlace) => {
                self.other_place += 1;
                return;
            }
            Some(MissKind::Neighbour) => 1,
            Some(MissKind::WholeTone) => 2,
            Some(MissKind::Octave { octaves } | MissKind::OtherPlaceOctave { octaves }) => {
                12 * i32::from(octaves)
            }
            Some(MissKind::Interval { semitones }) => i32::from(semitones),
            Some(MissKind::Further | MissKind::Far) | None => 0,
        };
        let above = match miss.side {
            Some(Side::High) => away,
            Some(Side::Low) => -away,
            None => 0,
        };
        if above == 0 {
            self.no_side += 1;
        } else {
            *self.by_semitones.entry(above).or_default() += 1;
        }
    }
}

/// What came of some calls.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Figures {
    /// Calls, each once for every student who had a part in it.
    pub calls: u32,
    /// Of these, found with the first answer.
    pub found_first: u32,
    /// Found with any answer.
    pub found: u32,
    /// Not answered at all.
    pub unanswered: u32,
    /// Hearings asked for beyond the free ones.
    pub hearings: u32,
    /// Places and pitches tried.
    pub tries: u32,
    /// Found calls that were answered on the instrument.
    pub played: u32,
    /// Calls that were sung, in any octave.
    pub sung: u32,
    /// Times of the found calls, where they are known.
    pub times: ResponseTimes,
    /// Every wrong answer.
    pub misses: Misses,
}

impl Figures {
    /// Figures of those calls that are over.
    pub fn of<'a>(calls: impl IntoIterator<Item = &'a PersonCall>) -> Figures {
        let mut sums = Figures::default();
        for call in calls.into_iter().filter(|call| call.over) {
            let right = call.right();
            sums.calls += 1;
            sums.found_first += u32::from(call.found_first());
            sums.found += u32::from(right.is_some());
            sums.unanswered += u32::from(call.answers.is_empty());
            sums.hearings = sums.hearings.saturating_add(call.hearings);
            sums.tries = sums.tries.saturating_add(call.tries);
            sums.played += u32::from(right.is_some_and(|a| a.source == Source::Instrument));
            sums.sung += u32::from(call.sang_it());
            let time = call.time();
            sums.times
                .each
                .extend(time.map(|(time, off)| (time.as_secs_f64(), off.as_secs_f64())));
            for answer in &call.answers {
                sums.misses.take(answer.mark);
            }
        }
        sums.times.each.sort_by(|a, b| a.0.total_cmp(&b.0));
        sums
    }

    /// Found with the first answer.
    pub fn first(&self) -> Share {
        Share {
            count: self.found_first,
            of: self.calls,
        }
    }

    /// Found with any.
    pub fn any(&self) -> Share {
        Share {
            count: self.found,
            of: self.calls,
        }
    }
}

/// Figures for each note called.
pub fn by_note<'a>(calls: impl IntoIterator<Item = &'a PersonCall>) -> BTreeMap<Pitch, Figures> {
    let mut notes: BTreeMap<Pitch, Vec<&PersonCall>> = BTreeMap::new();
    for call in calls.into_iter().filter(|call| call.over) {
        notes.entry(call.pitch).or_default().push(call);
    }
    notes
        .into_iter()
        .map(|(pitch, calls)| (pitch, Figures::of(calls)))
        .collect()
}
