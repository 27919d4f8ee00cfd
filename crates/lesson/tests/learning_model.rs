//! The model of what each student hears, tested for what it promises.

use std::time::Duration;

use fifthpeg_fixture::pitch;
use fifthpeg_lesson::learning::figures::EARLIER_CALLS;
use fifthpeg_lesson::learning::{
    Confusion, Estimate, Evidence, Grade, Model, Outcome, StudentKey, When, grade_of,
};
use fifthpeg_lesson::marking::MissKind;
use proptest::prelude::*;

const DAY: i64 = 86_400;
const MIA: StudentKey = StudentKey(1);

fn evidence(midi: u8, outcome: Outcome, when: i64) -> Evidence {
    Evidence {
        student: MIA,
        pitch: pitch(midi),
        reach_size: 13,
        outcome,
        hearings: 0,
        tries: 2,
        response: None,
        miss: (outcome != Outcome::FoundFirst).then_some(Confusion::Neighbour),
        when: When(when),
    }
}

fn at(model: &Model, midi: u8, when: i64) -> Estimate {
    model.estimate(MIA, pitch(midi), 13, When(when))
}

fn any_evidence() -> impl Strategy<Value = Evidence> {
    let outcome = prop_oneof![
        Just(Outcome::FoundFirst),
        Just(Outcome::FoundLater),
        Just(Outcome::NotFound),
        Just(Outcome::Silent),
    ];
    let miss = proptest::option::of(proptest::sample::select(Confusion::ALL.to_vec()));
    (
        (0_u8..128, any::<u16>(), outcome, miss),
        (
            any::<u32>(),
            any::<u32>(),
            any::<Option<u64>>(),
            any::<i64>(),
        ),
    )
        .prop_map(
            |((midi, reach_size, outcome, miss), (hearings, tries, ms, when))| Evidence {
                student: MIA,
                pitch: pitch(midi),
                reach_size,
                outcome,
                hearings,
                tries,
                response: ms.map(Duration::from_millis),
                miss,
                when: When(when),
            },
        )
}

fn sound(e: &Estimate) -> bool {
    let chance = |p: f64| p > 0.0 && p < 1.0;
    let (low, high) = e.within();
    chance(e.found_first)
        && chance(e.found)
        && chance(e.at_once)
        && e.at_once <= e.found_first
        && e.found_first <= e.found
        && e.logit.mean.is_finite()
        && e.logit.var.is_finite()
        && e.logit.var >= 0.0
        && low <= high
}

proptest! {
    #[test]
    fn chances_are_chances_whatever_comes(
        records in proptest::collection::vec(any_evidence(), 0..60),
        midi in 0_u8..128,
        reach_size in any::<usize>(),
        when in any::<i64>(),
    ) {
        let model = Model::from_evidence(records);
        let e = model.estimate(MIA, pitch(midi), reach_size, When(when));
        prop_assert!(sound(&e), "{e:?}");
        if let Some(listener) = model.listener(MIA) {
            for s in listener.confusions().shares_of(pitch(midi), When(when)) {
                prop_assert!(s.share > 0.0 && s.share < 1.0, "{s:?}");
                prop_assert!((0.0..=1.0).contains(&s.low) && s.low <= s.high && s.high <= 1.0);
            }
        }
    }

    #[test]
    fn time_makes_nobody_better_and_nothing_surer(
        records in proptest::collection::vec((40_u8..80, any::<bool>(), 0_i64..30 * DAY), 1..40),
        midi in 40_u8..80,
        days in 1_i64..400,
    ) {
        let outcome = |right| if right { Outcome::FoundFirst } else { Outcome::NotFound };
        let model = Model::from_evidence(
            records.iter().map(|(m, right, when)| evidence(*m, outcome(*right), *when)),
        );
        let then = at(&model, midi, 30 * DAY).logit;
        let later = at(&model, midi, (30 + days) * DAY).logit;
        prop_assert!(later.mean <= then.mean + 1e-12, "{then:?} {later:?}");
        prop_assert!(later.var >= then.var - 1e-12, "{then:?} {later:?}");
        let never = at(&Model::new(), midi, 0).logit;
        prop_assert!(later.var <= never.var + 1e-9, "surer than knowing nothing: {later:?}");
    }

    #[test]
    fn one_more_right_answer_never_lowers_a_note(
        records in proptest::collection::vec((50_u8..63, any::<bool>()), 0..40),
        midi in 50_u8..63,
    ) {
        let mut model = Model::new();
        for (i, (m, right)) in records.iter().enumerate() {
            let outcome = if *right { Outcome::FoundFirst } else { Outcome::NotFound };
            model.learn(&evidence(*m, outcome, i as i64));
        }
        let end = records.len() as i64;
        let after = |outcome| {
            let mut model = model.clone();
            model.learn(&evidence(midi, outcome, end));
            at(&model, midi, end).found_first
        };
        let (wrong, right) = (after(Outcome::NotFound), after(Outcome::FoundFirst));
        prop_assert!(wrong < right, "{wrong} {right}");
    }

    #[test]
    fn the_same_records_make_the_same_model_in_any_order(
        records in proptest::collection::vec((40_u8..80, any::<bool>()), 1..30),
        turn in 0_usize..30,
    ) {
        let mut records: Vec<Evidence> = records
            .iter()
            .enumerate()
            .map(|(i, (m, right))| {
                let outcome = if *right { Outcome::FoundFirst } else { Outcome::FoundLater };
                evidence(*m, outcome, i as i64)
            })
            .collect();
        let model = Model::from_evidence(records.iter().copied());
        let middle = turn % records.len();
        records.rotate_left(middle);
        prop_assert_eq!(&model, &Model::from_evidence(records.iter().copied()));
        // And one by one, as they come in a lesson.
        records.rotate_right(middle);
        let mut one_by_one = Model::new();
        records.iter().for_each(|e| one_by_one.learn(e));
        prop_assert_eq!(model, one_by_one);
    }
}

#[test]
fn evidence_makes_surer_and_notes_share_it() {
    let mut model = Model::new();
    let before = at(&model, 57, 0);
    let far_before = at(&model, 80, 0);
    let mut sds = vec![before.logit.var];
    for i in 0..12 {
        let outcome = if i % 3 == 0 {
            Outcome::NotFound
        } else {
            Outcome::FoundFirst
        };
        model.learn(&evidence(57, outcome, i));
        sds.push(at(&model, 57, i).logit.var);
    }
    assert!(
        sds[1] < sds[0] && sds[4] < sds[1] && sds[12] < sds[4],
        "{sds:?}"
    );
    let own = sds[12] / sds[0];
    let near = at(&model, 58, 12).logit.var / before.logit.var;
    let far = at(&model, 80, 12).logit.var / far_before.logit.var;
    assert!(own < near && near < far && far < 1.0, "{own} {near} {far}");
}

#[test]
fn at_once_is_worth_more_than_eleven_tries_and_that_more_than_a_miss() {
    let after = |change: fn(&mut Evidence)| {
        let mut e = evidence(57, Outcome::FoundFirst, 0);
        change(&mut e);
        let model = Model::from_evidence([e]);
        (grade_of(&e), at(&model, 57, 0).found_first)
    };
    let ladder = [
        after(|e| e.outcome = Outcome::NotFound),
        after(|e| e.outcome = Outcome::FoundLater),
        after(|e| e.tries = 11),
        after(|e| e.hearings = 1),
        after(|_| ()),
    ];
    let grades = [
        Grade::NotFound,
        Grade::Later,
        Grade::Long,
        Grade::Searched,
        Grade::AtOnce,
    ];
    assert_eq!(ladder.map(|(grade, _)| grade), grades.map(Some));
    assert!(ladder.windows(2).all(|w| w[0].1 < w[1].1), "{ladder:?}");
}

#[test]
fn grades_by_hearings_tries_and_time() {
    let grade = |hearings, tries, seconds: Option<u64>| {
        let e = Evidence {
            hearings,
            tries,
            response: seconds.map(Duration::from_secs),
            ..evidence(57, Outcome::FoundFirst, 0)
        };
        grade_of(&e).expect("it was answered")
    };
    assert_eq!(grade(0, 3, Some(10)), Grade::AtOnce);
    assert_eq!(grade(0, 3, None), Grade::AtOnce);
    assert_eq!(grade(0, 4, Some(10)), Grade::Searched);
    assert_eq!(grade(0, 3, Some(11)), Grade::Searched);
    assert_eq!(grade(2, 8, Some(44)), Grade::Searched);
    assert_eq!(grade(3, 0, None), Grade::Long);
    assert_eq!(grade(0, 9, None), Grade::Long);
    assert_eq!(grade(0, 0, Some(45)), Grade::Long);
    assert_eq!(grade_of(&evidence(57, Outcome::Silent, 0)), None);
}

#[test]
fn a_slow_manner_is_not_taken_for_a_bad_ear() {
    // Two who find everything; one always after many tries. The first such
    // call counts against the ear, the twentieth hardly.
    let found = |tries, calls| {
        let record = |i| Evidence {
            tries,
            ..evidence(57, Outcome::FoundFirst, i)
        };
        at(&Model::from_evidence((0..calls).map(record)), 57, calls).found_first
    };
    let gap_at_first = found(2, 1) - found(11, 1);
    let gap_at_last = found(2, 30) - found(11, 30);
    assert!(gap_at_first > 0.02, "{gap_at_first}");
    assert!(gap_at_last < gap_at_first, "{gap_at_first} {gap_at_last}");
    assert!(found(11, 30) > 0.85, "{}", found(11, 30));
}

#[test]
fn who_hears_nothing_guesses_and_wider_is_harder() {
    // Nought above guessing is one in n (Luce's rule with equal rivals).
    let mut model = Model::new();
    for i in 0..300 {
        let outcome = if i % 13 == 0 {
            Outcome::FoundFirst
        } else {
            Outcome::NotFound
        };
        model.learn(&evidence(57, outcome, i));
    }
    let guess = at(&model, 57, 300).found_first;
    assert!((guess - 1.0 / 13.0).abs() < 0.06, "{guess}");
    let sizes = [2, 3, 5, 13, 40];
    let chances = sizes.map(|n| model.estimate(MIA, pitch(57), n, When(300)).found_first);
    assert!(chances.windows(2).all(|w| w[0] > w[1]), "{chances:?}");
}

#[test]
fn confusions_are_counted_by_kind_and_note() {
    let mut model = Model::new();
    for i in 0..12 {
        let kind = if i < 9 {
            Confusion::Octave
        } else {
            Confusion::Neighbour
        };
        let mut e = evidence(62, Outcome::NotFound, i);
        e.miss = Some(kind);
        model.learn(&e);
    }
    let listener = model.listener(MIA).expect("heard");
    assert_eq!(listener.confusions().misses(When(12)).round(), 12.0);
    let [octave, neighbour, ..] = listener.confusions().shares(When(12));
    // Dirichlet by hand: (9 + 1/2) / (12 + 2).
    assert!((octave.share - 9.5 / 14.0).abs() < 1e-3, "{octave:?}");
    assert!(octave.low > neighbour.share && neighbour.high < octave.share + 0.1);
    // A note never missed goes by the student's habit, less surely.
    let [other, ..] = listener.confusions().shares_of(pitch(70), When(12));
    assert!((other.share - octave.share).abs() < 1e-9);
    assert!(other.low < octave.low && other.high > octave.high);
    // A year later little of it is left.
    assert!(listener.confusions().misses(When(365 * DAY)) < 0.1);
}

#[test]
fn misses_as_marked_have_a_kind_of_confusion() {
    assert_eq!(
        Confusion::of(MissKind::Octave { octaves: 2 }),
        Some(Confusion::Octave)
    );
    assert_eq!(
        Confusion::of(MissKind::Interval { semitones: 7 }),
        Some(Confusion::Further)
    );
    // The right pitch at another place was heard rightly.
    assert_eq!(Confusion::of(MissKind::OtherPlace), None);
}

#[test]
fn silence_teaches_nothing() {
    let mut model = Model::from_evidence([evidence(57, Outcome::FoundFirst, 0)]);
    let before = at(&model, 57, 10);
    for i in 0..10 {
        model.learn(&evidence(57, Outcome::Silent, i));
    }
    assert_eq!(at(&model, 57, 10), before);
}

/// A lesson is given the latest calls of a student alone. Forty weekly lessons of
/// 30 calls, in which half of the notes are learned and the others never: what
/// the calls before the latest say is said by those as well.
#[test]
fn the_latest_calls_say_what_all_of_them_say() {
    let mut records = Vec::new();
    for n in 0..40 * 30_u32 {
        let midi = 50 + (n * 7 % 13) as u8;
        let learned = n / 30 > 10 && midi.is_multiple_of(2);
        // 9 of 10 or 5 of 10 are found, in an order without a pattern
        // (Knuth's multiplicative hash).
        let draw = (n.wrapping_mul(2_654_435_761) >> 16) % 1000;
        let outcome = match draw < if learned { 900 } else { 500 } {
            true => Outcome::FoundFirst,
            false => Outcome::NotFound,
        };
        let when = i64::from(n / 30) * 7 * DAY + i64::from(n % 30) * 60;
        records.push(evidence(midi, outcome, when));
    }
    let latest = Model::from_evidence(records[records.len() - EARLIER_CALLS..].to_vec());
    let all = Model::from_evidence(records);
    let next_week = 40 * 7 * DAY;
    for midi in 50..63 {
        let (all, latest) = (at(&all, midi, next_week), at(&latest, midi, next_week));
        let apart = (all.found_first - latest.found_first).abs();
        let (low, high) = all.within();
        assert!(apart < 0.04, "{midi}: {all:?} {latest:?}");
        assert!(apart < (high - low) / 10.0, "{midi}: {all:?} {latest:?}");
    }
}
