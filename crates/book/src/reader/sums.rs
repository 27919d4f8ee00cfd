//! Sums over many calls.

use core::time::Duration;
use std::collections::BTreeMap;

use fifthpeg_lesson::message::Source;

use super::{Person, PersonCall, Reader, Whose};
use crate::{BookError, PersonId};

/// What one person has done over many calls. Counted as the lesson's own
/// tallies are: a call counts once it is found, revealed or closed; hearings
/// and tries count at once.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PersonSums {
    /// Who.
    pub person: Person,
    /// Calls the person had a part in, found or over.
    pub calls: u32,
    /// Of these, found.
    pub found: u32,
    /// Of these, found with the first answer.
    pub found_first: u32,
    /// Hearings asked for beyond the free ones.
    pub hearings: u32,
    /// Places and pitches tried.
    pub tries: u32,
    /// Found calls that were answered on the instrument.
    pub played: u32,
    /// Calls that were sung, in any octave.
    pub sung: u32,
    /// Median response time of found calls.
    pub median: Option<Duration>,
}

impl PersonSums {
    /// Sums up calls of one person.
    pub fn of<'a>(person: Person, calls: impl IntoIterator<Item = &'a PersonCall>) -> Self {
        let mut sums = PersonSums {
            person,
            calls: 0,
            found: 0,
            found_first: 0,
            hearings: 0,
            tries: 0,
            played: 0,
            sung: 0,
            median: None,
        };
        let mut times = Vec::new();
        for call in calls {
            let right = call.right();
            sums.calls += u32::from(call.over);
            sums.found += u32::from(right.is_some());
            sums.found_first += u32::from(call.found_first());
            sums.hearings = sums.hearings.saturating_add(call.hearings);
            sums.tries = sums.tries.saturating_add(call.tries);
            sums.played += u32::from(right.is_some_and(|a| a.source == Source::Instrument));
            sums.sung += u32::from(call.sang_it());
            times.extend(call.time().map(|(time, _)| time));
        }
        times.sort_unstable();
        sums.median = median(&times);
        sums
    }
}

/// The middle of times in order, or halfway between the two middle ones.
fn median(times: &[Duration]) -> Option<Duration> {
    let upper = *times.get(times.len() / 2)?;
    if times.len() % 2 == 1 {
        return Some(upper);
    }
    let lower = *times.get(times.len() / 2 - 1)?;
    Some(lower + (upper - lower) / 2)
}

impl Reader {
    /// What everyone of a class has done over all its lessons, by name.
    ///
    /// # Errors
    /// What reading meets with.
    pub fn class_sums(&self, class: &str) -> Result<Vec<PersonSums>, BookError> {
        let mut by_person: BTreeMap<PersonId, Vec<PersonCall>> = BTreeMap::new();
        for call in self.calls(Whose::Class(class))? {
            by_person.entry(call.person).or_default().push(call);
        }
        let people = self.people(class)?.into_iter();
        let calls = |p: &Person| by_person.get(&p.id).into_iter().flatten();
        Ok(people
            .map(|p| PersonSums::of(p.clone(), calls(&p)))
            .collect())
    }
}
