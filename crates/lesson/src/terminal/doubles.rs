//! What the ear hears twice of one pluck.

use core::time::Duration;

use fifthpeg_core::Pitch;

use super::heard::HeardNote;
use crate::Moment;

/// Nobody plucks one note twice so soon: sixteenths at 150 crotchets a minute
/// are 100 ms apart (arithmetic), and no answer is plucked that fast (common
/// practice, no source). What the ear hears twice so soon is one pluck, or a
/// voice that began.
const LEAST_APART: Duration = Duration::from_millis(120);

/// Leaves out what is heard double. Should the ear take the first of the two back,
/// the second one stands in its place: the string was plucked. Should one of the
/// two be allowed to answer, the pluck may: a pick that touches the string first is heard
/// as the first of them.
#[derive(Debug, Default)]
pub struct Doubles {
    last: Option<Heard>,
    /// The double of it that was left out.
    left_out: Option<HeardNote>,
    /// Doubles on which the ear's word is awaited, the latest last.
    awaited: Vec<Double>,
}

/// Doubles whose word is awaited at most; it comes within a third of a second.
const MOST_AWAITED: usize = 8;

#[derive(Debug)]
struct Double {
    first: u64,
    second: u64,
    /// That the first may not answer, until the ear has said the same of the second.
    held: Option<HeardNote>,
    /// It was told that the pluck may answer.
    said: bool,
}

#[derive(Debug)]
struct Heard {
    id: u64,
    pitch: Pitch,
    at: Moment,
}

impl Doubles {
    /// What is left of one thing heard, in order: nothing, if it is the pluck
    /// before once more; and a pluck left out before, if it stands after all.
    pub fn sift(&mut self, heard: HeardNote) -> impl Iterator<Item = HeardNote> + use<> {
        let mut stands_after_all = None;
        match heard {
            HeardNote::MayAnswer { id } | HeardNote::MayNotAnswer { id, .. } => {
                return [self.word(heard, id), None].into_iter().flatten();
            }
            HeardNote::Pluck { id, pitch, at, .. } => {
                let double = self
                    .last
                    .as_ref()
                    .is_some_and(|last| last.pitch == pitch && at < last.at + LEAST_APART);
                if double {
                    self.left_out = Some(heard);
                    if let Some(last) = &self.last {
                        self.awaited.push(Double {
                            first: last.id,
                            second: id,
                            held: None,
                            said: false,
                        });
                    }
                    let too_many = self.awaited.len().saturating_sub(MOST_AWAITED);
                    self.awaited.drain(..too_many);
                    return [None, None].into_iter().flatten();
                }
                self.last = Some(Heard { id, pitch, at });
                self.left_out = None;
            }
            HeardNote::Withdrawn { id, .. } => {
                if self.last.take_if(|last| last.id == id).is_some() {
                    stands_after_all = self.left_out.take();
                    if let Some(HeardNote::Pluck { id, pitch, at, .. }) = stands_after_all {
                        self.last = Some(Heard { id, pitch, at });
                    }
                }
                let gone = |pluck: &mut HeardNote| matches!(*pluck, HeardNote::Pluck { id: left_out, .. } if left_out == id);
                self.left_out.take_if(gone);
                let of_it = |double: &Double| double.first == id || double.second == id;
                let over = self.awaited.iter().position(of_it);
                let over = over.map(|index| self.awaited.remove(index));
                let held = over.filter(|double| double.second == id);
                stands_after_all = stands_after_all.or(held.and_then(|double| double.held));
            }
            _ => {}
        }
        [Some(heard), stands_after_all].into_iter().flatten()
    }

    /// What the ear says of a pluck, as it holds for the pluck that stands for it.
    fn word(&mut self, word: HeardNote, id: u64) -> Option<HeardNote> {
        let may = matches!(word, HeardNote::MayAnswer { .. });
        let Some(index) = self.awaited.iter().position(|d| d.second == id) else {
            let of_it = |double: &&mut Double| double.first == id && !double.said;
            let mut doubles = self.awaited.iter_mut().filter(of_it);
            if may {
                doubles.for_each(|double| double.said = true);
                return Some(word);
            }
            return match doubles.next_back() {
                Some(double) => {
                    double.held = Some(word);
                    None
                }
                None => Some(word),
            };
        };
        let Double {
            first, held, said, ..
        } = self.awaited.remove(index);
        if said || !may {
            return held.filter(|_| !said);
        }
        let others = self.awaited.iter_mut().filter(|d| d.first == first);
        others.for_each(|double| double.said = true);
        Some(HeardNote::MayAnswer { id: first })
    }
}

#[cfg(test)]
mod tests {
    use fifthpeg_core::Doubt;

    use super::*;

    fn pluck(begun: Moment, midi: u8, ms: u64) -> HeardNote {
        HeardNote::Pluck {
            id: ms,
            pitch: Pitch::new(midi).expect("a pitch"),
            cents: 0.0,
            at: begun + Duration::from_millis(ms),
            uncertainty: Duration::from_millis(4),
        }
    }

    #[test]
    fn one_pluck_heard_double_is_one() {
        let begun = Moment::from_micros(1_000_000);
        let mut doubles = Doubles::default();
        let mut double = |midi, ms| doubles.sift(pluck(begun, midi, ms)).count() == 0;
        assert!(!double(60, 0));
        assert!(double(60, 53));
        assert!(double(60, 119));
        assert!(!double(60, 120));
        // Another note may follow as soon as it likes, as in a roll.
        assert!(!double(62, 150));
        assert!(!double(60, 180));
    }

    fn ids(heard: impl Iterator<Item = HeardNote>) -> Vec<(u64, bool)> {
        heard
            .map(|heard| match heard {
                HeardNote::Pluck { id, .. } => (id, true),
                HeardNote::Withdrawn { id, .. } => (id, false),
                other => panic!("{other:?}"),
            })
            .collect()
    }

    #[test]
    fn nothing_is_the_double_of_what_was_taken_back() {
        let begun = Moment::from_micros(1_000_000);
        let mut doubles = Doubles::default();
        let why = Doubt::NotAPluck;
        assert_eq!(ids(doubles.sift(pluck(begun, 60, 10))), [(10, true)]);
        let withdrawn = HeardNote::Withdrawn { id: 10, why };
        assert_eq!(ids(doubles.sift(withdrawn)), [(10, false)]);
        assert_eq!(ids(doubles.sift(pluck(begun, 60, 60))), [(60, true)]);
    }

    #[test]
    fn a_double_stands_when_the_first_is_taken_back() {
        let begun = Moment::from_micros(1_000_000);
        let mut doubles = Doubles::default();
        let why = Doubt::NotAPluck;
        doubles.sift(pluck(begun, 60, 10)).for_each(drop);
        assert_eq!(ids(doubles.sift(pluck(begun, 60, 60))), []);
        let withdrawn = HeardNote::Withdrawn { id: 10, why };
        assert_eq!(ids(doubles.sift(withdrawn)), [(10, false), (60, true)]);
        // It may have a double itself, and may be taken back.
        assert_eq!(ids(doubles.sift(pluck(begun, 60, 110))), []);
        let withdrawn = HeardNote::Withdrawn { id: 110, why };
        assert_eq!(ids(doubles.sift(withdrawn)), [(110, false)]);
        let withdrawn = HeardNote::Withdrawn { id: 60, why };
        assert_eq!(ids(doubles.sift(withdrawn)), [(60, false)]);
    }

    fn words(heard: impl Iterator<Item = HeardNote>) -> Vec<(u64, bool)> {
        heard
            .map(|heard| match heard {
                HeardNote::MayAnswer { id } => (id, true),
                HeardNote::MayNotAnswer { id, .. } => (id, false),
                other => panic!("{other:?}"),
            })
            .collect()
    }

    #[test]
    fn a_pluck_heard_double_may_answer_if_one_of_the_two_may() {
        let begun = Moment::from_micros(1_000_000);
        let why = Doubt::Unsteady;
        for (first, second) in [(true, true), (true, false), (false, true), (false, false)] {
            let mut doubles = Doubles::default();
            doubles.sift(pluck(begun, 60, 10)).for_each(drop);
            doubles.sift(pluck(begun, 60, 60)).for_each(drop);
            let word = |id, may| match may {
                true => HeardNote::MayAnswer { id },
                false => HeardNote::MayNotAnswer { id, why },
            };
            let mut told = words(doubles.sift(word(10, first)));
            told.extend(words(doubles.sift(word(60, second))));
            assert_eq!(told.last(), Some(&(10, first || second)));
            assert!(
                told.iter()
                    .all(|(id, may)| *id == 10 && *may == (first || second))
            );
        }
        // The double was none: what was said of the first stands.
        let mut doubles = Doubles::default();
        doubles.sift(pluck(begun, 60, 10)).for_each(drop);
        doubles.sift(pluck(begun, 60, 60)).for_each(drop);
        assert_eq!(
            words(doubles.sift(HeardNote::MayNotAnswer { id: 10, why })),
            []
        );
        let told: Vec<HeardNote> = doubles.sift(HeardNote::Withdrawn { id: 60, why }).collect();
        assert_eq!(told.last(), Some(&HeardNote::MayNotAnswer { id: 10, why }));
    }
}
