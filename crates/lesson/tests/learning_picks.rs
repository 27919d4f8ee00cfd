//! Picks that teach, what is suggested for the reach, and who needs help.

use std::collections::BTreeSet;

use fifthpeg_core::{Pitch, Reach, ReachSpec, ReachStep};
use fifthpeg_fixture::{banjo, pitch};
use fifthpeg_lesson::learning::help::{Glance, State, glance, who_needs_help};
use fifthpeg_lesson::learning::suggest::{ReachChange, Reason, suggest};
use fifthpeg_lesson::learning::teaching::{pick, scores};
use fifthpeg_lesson::learning::{Confusion, Evidence, Model, Outcome, StudentKey, Weighing, When};
use fifthpeg_lesson::picker::Picker;

const MIA: StudentKey = StudentKey(1);
const IVO: StudentKey = StudentKey(2);
const RUTH: StudentKey = StudentKey(3);

fn octave() -> Vec<Pitch> {
    notes(ReachStep::OctaveLow)
}

fn notes(step: ReachStep) -> Vec<Pitch> {
    let reach = Reach::resolve(&banjo(), &step.into()).expect("a reach");
    reach.pitches().to_vec()
}

fn evidence(student: StudentKey, midi: u8, reach_size: usize, right: bool, when: i64) -> Evidence {
    Evidence {
        student,
        pitch: pitch(midi),
        reach_size: reach_size as u16,
        outcome: if right {
            Outcome::FoundFirst
        } else {
            Outcome::NotFound
        },
        hearings: 0,
        tries: 2,
        response: None,
        miss: (!right).then_some(Confusion::Octave),
        when: When(when),
    }
}

/// Calls over the whole reach, found or not by note.
fn heard(
    model: &mut Model,
    student: StudentKey,
    reach: &[Pitch],
    rounds: i64,
    right: impl Fn(Pitch) -> bool,
) {
    // Strides of five, so that low and high take turns; five goes into none of
    // the reaches' sizes used here but five itself, where order is no matter.
    let stride = if reach.len().is_multiple_of(5) { 1 } else { 5 };
    for round in 0..rounds {
        for i in 0..reach.len() {
            let p = &reach[i * stride % reach.len()];
            model.learn(&evidence(student, p.midi(), reach.len(), right(*p), round));
        }
    }
}

/// Mia finds the lower half of the octave and misses the upper; Ivo the other
/// way about.
fn two_halves() -> Model {
    let mut model = Model::new();
    let reach = octave();
    heard(&mut model, MIA, &reach, 4, |p| p.midi() < 56);
    heard(&mut model, IVO, &reach, 4, |p| p.midi() >= 56);
    model
}

fn picks(
    model: &Model,
    seed: u64,
    students: &[StudentKey],
    reach: &[Pitch],
    count: usize,
) -> Vec<Pitch> {
    let mut picker = Picker::new(seed);
    let weighing = Weighing::of(students.len());
    (0..count)
        .map(|_| {
            let picked =
                pick(model, &mut picker, students, reach, When(10), &weighing).expect("a note");
            assert_eq!(picked.found_first.is_some(), !students.is_empty());
            picker.remember(picked.pitch);
            picked.pitch
        })
        .collect()
}

#[test]
fn picks_stay_in_the_reach_and_never_come_twice_running() {
    let model = two_halves();
    for step in ReachStep::all() {
        let reach = notes(step);
        for students in [&[MIA][..], &[MIA, IVO, RUTH], &[]] {
            let picks = picks(&model, 7, students, &reach, 300);
            assert!(picks.iter().all(|p| reach.contains(p)), "{step:?}");
            if reach.len() > 2 {
                assert!(picks.windows(2).all(|w| w[0] != w[1]), "{step:?}");
            }
        }
    }
}

#[test]
fn the_same_seed_picks_the_same_and_another_does_not() {
    let model = two_halves();
    let reach = octave();
    let once = picks(&model, 3, &[MIA, IVO], &reach, 100);
    assert_eq!(once, picks(&model, 3, &[MIA, IVO], &reach, 100));
    assert_ne!(once, picks(&model, 4, &[MIA, IVO], &reach, 100));
}

#[test]
fn picks_cannot_be_foretold() {
    let reach = octave();
    let firsts: BTreeSet<Pitch> = (0..200)
        .map(|seed| picks(&two_halves(), seed, &[MIA], &reach, 1)[0])
        .collect();
    assert!(firsts.len() >= 3, "{firsts:?}");
}

#[test]
fn two_together_get_what_neither_would_get_alone() {
    // Mia finds the lower two thirds of the octave, Ivo the upper: the middle
    // is where nobody is lost.
    let reach = octave();
    let mut model = Model::new();
    heard(&mut model, MIA, &reach, 4, |p| p.midi() <= 58);
    heard(&mut model, IVO, &reach, 4, |p| p.midi() >= 54);
    let middle_share = |students: &[StudentKey]| {
        let picks = picks(&model, 5, students, &reach, 400);
        picks
            .iter()
            .filter(|p| (54..=58).contains(&p.midi()))
            .count() as f64
            / 400.0
    };
    let (mia, ivo, both) = (
        middle_share(&[MIA]),
        middle_share(&[IVO]),
        middle_share(&[MIA, IVO]),
    );
    assert!(both > mia + 0.2 && both > ivo + 0.2, "{mia} {ivo} {both}");
}

#[test]
fn nobody_to_pick_for_is_the_plain_rule() {
    let reach = octave();
    let mut plain = Picker::new(9);
    let expected: Vec<Pitch> = (0..100)
        .map(|_| {
            let picked = plain.pick_pitch(&reach).expect("a note");
            plain.remember(picked);
            picked
        })
        .collect();
    assert_eq!(picks(&Model::new(), 9, &[], &reach, 100), expected);
}

#[test]
fn who_missed_much_lately_gets_easier_notes_until_the_next_lesson() {
    let reach = octave();
    let mut model = Model::new();
    // The upper half is nearly always found, the lower in two of three calls.
    for round in 0..15 {
        heard(&mut model, MIA, &reach, 1, |p| {
            p.midi() >= 56 || round % 3 != 0
        });
    }
    for midi in [50, 51, 52, 53, 54, 55] {
        model.learn(&evidence(MIA, midi, reach.len(), false, 5));
    }
    let expected = |when| {
        let mut picker = Picker::new(2);
        let chances = (0..300).map(|_| {
            let picked =
                pick(&model, &mut picker, &[MIA], &reach, when, &Weighing::CLASS).expect("a note");
            picker.remember(picked.pitch);
            picked.found_first.expect("somebody to find it")
        });
        chances.sum::<f64>() / 300.0
    };
    let soon = When(5 + 6 * 3600 - 1);
    let next_lesson = When(5 + 6 * 3600);
    let listener = model.listener(MIA).expect("heard");
    assert!(listener.running(soon) < 0.5);
    assert_eq!(listener.running(next_lesson), 0.85);
    // A second makes no difference to the ear, so it is the aim that does.
    let (now, then) = (expected(soon), expected(next_lesson));
    assert!(now > then + 0.02, "{now} {then}");
}

#[test]
fn scores_are_finite_on_odd_weighings() {
    let odd = Weighing {
        aim: 2.0,
        steer: 9.0,
        width: 0.0,
        temperature: 0.0,
        ..Weighing::CLASS
    };
    let model = two_halves();
    let reach = octave();
    assert!(
        scores(&model, &[MIA, RUTH], &reach, When(0), &odd)
            .iter()
            .all(|s| s.score.is_finite())
    );
    let mut picker = Picker::new(1);
    assert!(pick(&model, &mut picker, &[MIA], &reach, When(0), &odd).is_some());
    assert!(pick(&model, &mut picker, &[MIA], &[], When(0), &odd).is_none());
}

#[test]
fn a_reach_that_is_known_is_to_be_widened() {
    let reach = notes(ReachStep::TwoOpen);
    let mut model = Model::new();
    heard(&mut model, MIA, &reach, 15, |_| true);
    // One slip among the last twenty.
    model.learn(&evidence(MIA, reach[0].midi(), 2, false, 15));
    for i in 0..9 {
        model.learn(&evidence(MIA, reach[i % 2].midi(), 2, true, 16));
    }
    let told = suggest(
        &model,
        &[MIA],
        &banjo(),
        &ReachStep::TwoOpen.into(),
        When(20),
    );
    assert_eq!(
        (told.change, told.reason),
        (ReachChange::Widen(Some(ReachStep::AllOpen)), Reason::Easy)
    );
    assert_eq!(
        told.to_string(),
        "Found 19 of the last 20 in this reach, most at first hearing: try all strings open."
    );
}

#[test]
fn a_reach_that_drowns_is_to_be_narrowed_to_fewer_notes() {
    let along = ReachStep::OctaveAlong;
    let reach = notes(along);
    let mut model = Model::new();
    heard(&mut model, MIA, &reach, 2, |p| p.midi() % 3 == 0);
    let told = suggest(&model, &[MIA], &banjo(), &along.into(), When(3));
    // The octave in low position has as many notes and would be no easier.
    assert_eq!(
        (told.change, told.reason),
        (ReachChange::Narrow(Some(ReachStep::AllOpen)), Reason::Hard)
    );
    assert!(
        told.to_string()
            .ends_with(" in this reach: go back to all strings open."),
        "{told}"
    );
}

#[test]
fn little_heard_suggests_nothing() {
    let mut model = Model::new();
    for i in 0..11 {
        model.learn(&evidence(MIA, 62, 13, true, i));
    }
    let spec = ReachSpec::from(ReachStep::OctaveLow);
    let told = suggest(&model, &[MIA], &banjo(), &spec, When(20));
    assert_eq!(
        (told.change, told.reason, told.of),
        (ReachChange::Stay, Reason::TooFew, 11)
    );
    assert_eq!(
        told.to_string(),
        "Too few calls were answered in this reach lately to suggest another."
    );
    let nobody = suggest(&model, &[], &banjo(), &spec, When(20));
    assert_eq!(nobody.change, ReachChange::Stay);
}

#[test]
fn the_whole_neck_is_as_wide_as_it_gets() {
    let reach = notes(ReachStep::WholeNeck);
    let mut model = Model::new();
    heard(&mut model, MIA, &reach, 6, |_| true);
    let told = suggest(
        &model,
        &[MIA],
        &banjo(),
        &ReachStep::WholeNeck.into(),
        When(7),
    );
    assert_eq!(
        (told.change, told.reason),
        (ReachChange::Stay, Reason::Widest)
    );
}

#[test]
fn somebody_behind_keeps_a_class_where_it_is() {
    let reach = notes(ReachStep::AllOpen);
    let mut model = Model::new();
    let strong: Vec<StudentKey> = (10..21).map(StudentKey).collect();
    for student in &strong {
        heard(&mut model, *student, &reach, 20, |_| true);
    }
    let mut turn_of = 0;
    heard(&mut model, MIA, &reach, 20, |p| p.midi() % 4 == 2);
    let class: Vec<StudentKey> = strong.iter().copied().chain([MIA]).collect();
    let spec = ReachSpec::from(ReachStep::AllOpen);
    let told = suggest(&model, &class, &banjo(), &spec, When(20));
    assert_eq!(
        (told.change, told.reason),
        (ReachChange::Stay, Reason::SomebodyBehind),
        "{told}"
    );
    turn_of +=
        u32::from(suggest(&model, &strong, &banjo(), &spec, When(20)).change != ReachChange::Stay);
    assert_eq!(turn_of, 1, "without Mia it is widened");
}

#[test]
fn glances_tell_the_four_apart() {
    let mut model = Model::new();
    for i in 0..8 {
        model.learn(&evidence(MIA, 60, 13, true, i));
        model.learn(&Evidence {
            tries: 12,
            ..evidence(IVO, 60, 13, true, i)
        });
        model.learn(&evidence(RUTH, 60, 13, i < 2, i));
        model.learn(&Evidence {
            outcome: if i < 4 {
                Outcome::FoundFirst
            } else {
                Outcome::Silent
            },
            ..evidence(StudentKey(4), 60, 13, true, i)
        });
    }
    let state = |key| glance(&model, key).state;
    assert_eq!(state(MIA), State::Steady);
    assert_eq!(state(IVO), State::SearchingLong { long: 8 });
    let ruth = State::Missing {
        missed: 6,
        by: Some(Confusion::Octave),
    };
    assert_eq!(state(RUTH), ruth);
    assert_eq!(state(StudentKey(4)), State::Silent { calls: 4 });
    assert_eq!(state(StudentKey(5)), State::New);
    let order: Vec<u128> = who_needs_help(&model, &[MIA, IVO, RUTH, StudentKey(4), StudentKey(5)])
        .iter()
        .map(|g: &Glance| g.student.0)
        .collect();
    assert_eq!(order, [4, 3, 2, 1, 5]);
    assert_eq!(
        glance(&model, RUTH).to_string(),
        "missed 6 of the last 8 at first, mostly by octaves"
    );
    assert!(glance(&model, RUTH).needs_help() && !glance(&model, MIA).needs_help());
}

#[test]
fn two_misses_of_eight_are_no_need() {
    let mut model = Model::new();
    for i in 0..8 {
        model.learn(&evidence(MIA, 60, 13, i != 2 && i != 5, i));
    }
    assert_eq!(glance(&model, MIA).state, State::Steady);
}
