//! How often each note comes when a student practises alone, from what is known
//! of that student's ear.

use fifthpeg_core::Pitch;

use super::evidence::{StudentKey, When};
use super::model::Model;

/// For each of these notes, the chance in 100 that the student's first answer
/// misses it, from 1 to 99, in the order of `pitches`: a weight for
/// [`TrackPlan::new`](crate::track::TrackPlan::new).
///
/// In proportion to it, practice goes where misses are expected: a note found
/// by now comes seldom, one often missed comes often, and one not heard yet
/// comes about as often as its neighbours let expect. No note is left out, and
/// nothing is different for who misses nothing: then all chances are small, and
/// much alike.
///
/// `pitches` are the notes of the reach, all of them: their number is the
/// reach's size. Whole numbers, so that they can be written down and given
/// back without loss.
pub fn percent_missed(
    model: &Model,
    student: StudentKey,
    pitches: &[Pitch],
    when: When,
) -> Vec<u8> {
    pitches
        .iter()
        .map(|pitch| {
            let expected = model.estimate(student, *pitch, pitches.len(), when);
            (100.0 * (1.0 - expected.found_first))
                .round()
                .clamp(1.0, 99.0) as u8
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::learning::{Evidence, Outcome};

    const MIA: StudentKey = StudentKey(1);

    /// Ten calls of each note, so many of them found.
    fn weights(found: [i64; 6]) -> Vec<u8> {
        let pitches: Vec<Pitch> = (60..66).filter_map(Pitch::new).collect();
        let mut records = Vec::new();
        for call in 0..10 {
            for (pitch, found) in pitches.iter().zip(found) {
                records.push(Evidence {
                    student: MIA,
                    pitch: *pitch,
                    reach_size: 6,
                    outcome: if call < found {
                        Outcome::FoundFirst
                    } else {
                        Outcome::NotFound
                    },
                    hearings: 0,
                    tries: 1,
                    response: None,
                    miss: None,
                    when: When(call * 60),
                });
            }
        }
        let model = Model::from_evidence(records);
        percent_missed(&model, MIA, &pitches, When(600))
    }

    #[test]
    fn what_is_missed_weighs_most() {
        let weights = weights([10, 10, 10, 2, 10, 10]);
        let most = weights.iter().max();
        assert_eq!(most, weights.get(3), "{weights:?}");
        let others = (weights.iter().map(|w| u32::from(*w)).sum::<u32>()
            - 99.min(u32::from(weights[3])))
            / 5;
        assert!(u32::from(weights[3]) >= 3 * others, "{weights:?}");
    }

    #[test]
    fn who_misses_nothing_gets_everything_alike() {
        let weights = weights([10; 6]);
        assert!(weights.iter().all(|w| (1..=15).contains(w)), "{weights:?}");
        let (least, most) = (weights.iter().min(), weights.iter().max());
        let apart = most.zip(least).map(|(most, least)| most - least);
        assert!(apart.is_some_and(|apart| apart <= 5), "{weights:?}");
    }

    #[test]
    fn somebody_not_heard_yet_is_anybody() {
        let pitches: Vec<Pitch> = (60..66).filter_map(Pitch::new).collect();
        let weights = percent_missed(&Model::new(), MIA, &pitches, When(0));
        assert!(
            weights
                .windows(2)
                .all(|pair| pair[0].abs_diff(pair[1]) <= 5),
            "{weights:?}"
        );
    }
}
