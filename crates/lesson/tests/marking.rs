//! Marking, as a table of answers on the five-string banjo in open G.
//!
//! Strings 5 to 1: G4 D3 G3 B3 D4. Places of a pitch: common practice, no
//! source.

use fifthpeg_core::{Pitch, PitchClass, Position, interval_name};
use fifthpeg_fixture::{at, banjo, pitch, place};
use fifthpeg_lesson::marking::{Mark, Marking, Miss, MissKind, Side, Telling, mark};
use fifthpeg_lesson::message::{Answer, Refusal};
use fifthpeg_lesson::words::sentence;
use proptest::prelude::*;

const D3: u8 = 50;
const C4: u8 = 60;
const D4: u8 = 62;
const G4: u8 = 67;

fn marked(target: u8, answer: Answer, marking: Marking) -> Mark {
    let place = None;
    mark(pitch(target), place, answer, marking, &banjo()).expect("an answer that can be marked")
}

fn exact(target: &str, answer: &str) -> Mark {
    let neck = banjo();
    let place = place(target);
    let target = neck.pitch_at(place).expect("on the neck");
    let marking = Marking::ExactPlace;
    mark(target, Some(place), at(answer), marking, &neck).expect("a place")
}

#[test]
fn same_pitch_marking_takes_any_place_and_names_each_miss() {
    let table = [
        // C4 in its three places.
        (C4, "2/1", "right"),
        (C4, "3/5", "right"),
        (C4, "4/10", "right"),
        (C4, "2/0", "a neighbour: one semitone low"),
        (C4, "2/2", "a neighbour: one semitone high"),
        (C4, "1/0", "high by a whole tone"),
        (C4, "3/3", "low by a whole tone"),
        (C4, "3/2", "low by a minor third"),
        (C4, "1/2", "high by a major third"),
        (C4, "3/0", "low by a perfect fourth"),
        (C4, "1/4", "high by a tritone"),
        (C4, "5/0", "high by a perfect fifth"),
        (C4, "1/6", "high by a minor sixth"),
        (C4, "4/0", "low by a minor seventh"),
        (C4, "1/9", "high by a major seventh"),
        (C4, "1/10", "high by an octave"),
        (D3, "1/12", "high by two octaves"),
        (D3, "1/2", "high by an octave and a major second"),
        (D4, "4/0", "low by an octave"),
        // The short string: its first stopped fret is 6, an A flat.
        (G4, "5/6", "a neighbour: one semitone high"),
    ];
    for (target, answer, words) in table {
        let mark = marked(target, at(answer), Marking::SamePitch);
        assert_eq!(sentence(&mark), words, "{answer} for MIDI {target}");
    }
}

#[test]
fn a_pitch_is_marked_like_a_place_that_sounds_it() {
    let neck = banjo();
    for position in neck.positions() {
        let sounded = neck.pitch_at(position).expect("on the neck");
        for marking in [Marking::SamePitch, Marking::AnyOctave] {
            assert_eq!(
                marked(C4, Answer::Place(position), marking),
                marked(C4, Answer::Pitch(sounded), marking),
                "{position}"
            );
        }
    }
}

#[test]
fn any_octave_marking_measures_from_the_nearest_of_the_name() {
    let table = [
        ("1/0", "right"),
        ("4/0", "right"),
        ("1/12", "right"),
        // C#5 lies eleven semitones above D4 and one below D5.
        ("1/11", "a neighbour: one semitone low"),
        ("1/1", "a neighbour: one semitone high"),
        ("1/2", "high by a whole tone"),
        ("1/14", "high by a whole tone"),
        // B3 and B4: a minor third below D4 and D5.
        ("2/0", "low by a minor third"),
        ("1/9", "low by a minor third"),
        // A tritone: the side is that of the sounding pitch.
        ("1/6", "high by a tritone"),
        ("3/1", "low by a tritone"),
    ];
    for (answer, words) in table {
        let mark = marked(D4, at(answer), Marking::AnyOctave);
        assert_eq!(sentence(&mark), words, "{answer} for D4");
    }
}

#[test]
fn a_bare_note_name_has_no_side_at_the_tritone() {
    let class = |n| Answer::Class(PitchClass::new(n).expect("a class"));
    let said = |n| sentence(&marked(D4, class(n), Marking::AnyOctave));
    assert_eq!(said(2), "right");
    assert_eq!(said(3), "a neighbour: one semitone high");
    assert_eq!(said(0), "low by a whole tone");
    assert_eq!(said(8), "a tritone away");
}

#[test]
fn exact_marking_tells_the_right_note_at_another_place() {
    assert_eq!(exact("2/1", "2/1"), Mark::Right);
    let table = [
        ("2/1", "3/5", "the right note, but at another place"),
        ("2/1", "4/10", "the right note, but at another place"),
        (
            "1/0",
            "4/0",
            "the right note name, but at another place: low by an octave",
        ),
        (
            "4/0",
            "1/12",
            "the right note name, but at another place: high by two octaves",
        ),
        ("2/1", "2/0", "a neighbour: one semitone low"),
        ("2/1", "5/0", "high by a perfect fifth"),
    ];
    for (target, answer, words) in table {
        assert_eq!(
            sentence(&exact(target, answer)),
            words,
            "{answer} for {target}"
        );
    }
}

#[test]
fn what_cannot_be_marked_is_refused() {
    let neck = banjo();
    let d4 = pitch(D4);
    let class = Answer::Class(d4.class());
    let refused = |answer, marking| mark(d4, Some(place("1/0")), answer, marking, &neck);
    let off = place("5/3");
    for marking in [Marking::SamePitch, Marking::ExactPlace, Marking::AnyOctave] {
        assert_eq!(
            refused(Answer::Place(off), marking),
            Err(Refusal::NoSuchPlace(off)),
            "behind the fifth string's peg"
        );
    }
    assert_eq!(
        refused(class, Marking::SamePitch),
        Err(Refusal::OctaveNeeded)
    );
    assert_eq!(
        refused(class, Marking::ExactPlace),
        Err(Refusal::PlaceNeeded)
    );
    assert_eq!(
        refused(Answer::Pitch(d4), Marking::ExactPlace),
        Err(Refusal::PlaceNeeded)
    );
}

#[test]
fn telling_says_no_more_than_allowed() {
    let third = marked(C4, at("1/2"), Marking::SamePitch);
    assert_eq!(
        sentence(&third.told(Telling::Interval)),
        "high by a major third"
    );
    assert_eq!(
        sentence(&third.told(Telling::Hint)),
        "high by more than a whole tone"
    );
    assert_eq!(sentence(&third.told(Telling::Verdict)), "not the one");
    let octave = marked(D4, at("4/0"), Marking::SamePitch);
    assert_eq!(sentence(&octave.told(Telling::Hint)), "low by an octave");
    for telling in [Telling::Verdict, Telling::Hint, Telling::Interval] {
        assert_eq!(Mark::Right.told(telling), Mark::Right);
    }
}

fn any_pitch() -> impl Strategy<Value = Pitch> {
    (0_u8..=127).prop_map(pitch)
}

proptest! {
    /// The miss of any two pitches says the distance between them.
    #[test]
    fn a_miss_and_its_side_give_the_distance(target in any_pitch(), answer in any_pitch()) {
        let full = marked(target.midi(), Answer::Pitch(answer), Marking::SamePitch);
        let distance = target.semitones_to(answer);
        match full {
            Mark::Right => prop_assert_eq!(distance, 0),
            Mark::Missed(Miss { kind, side }) => {
                let away = match kind {
                    Some(MissKind::Neighbour) => 1,
                    Some(MissKind::WholeTone) => 2,
                    Some(MissKind::Octave { octaves }) => i32::from(octaves) * 12,
                    Some(MissKind::Interval { semitones }) => i32::from(semitones),
                    other => panic!("{other:?} cannot come of two pitches"),
                };
                let sign = if side == Some(Side::High) { 1 } else { -1 };
                prop_assert_eq!(distance, sign * away);
            }
        }
    }

    /// A hint never holds an interval, and a verdict holds nothing at all.
    #[test]
    fn before_the_reveal_no_more_is_told(target in any_pitch(), answer in any_pitch()) {
        let full = marked(target.midi(), Answer::Pitch(answer), Marking::SamePitch);
        if let Mark::Missed(miss) = full.told(Telling::Hint) {
            let interval = matches!(miss.kind, Some(MissKind::Interval { .. }));
            prop_assert!(!interval);
        }
        if let Mark::Missed(miss) = full.told(Telling::Verdict) {
            prop_assert_eq!(miss, Miss { kind: None, side: None });
        }
    }

    /// In any octave, moving the answer by octaves changes nothing but the
    /// side at the tritone.
    #[test]
    fn octaves_do_not_matter_in_any_octave(target in any_pitch(), answer in 0_u8..=115) {
        let low = marked(target.midi(), Answer::Pitch(pitch(answer)), Marking::AnyOctave);
        let high = marked(target.midi(), Answer::Pitch(pitch(answer + 12)), Marking::AnyOctave);
        match (low, high) {
            (Mark::Missed(a), Mark::Missed(b)) => prop_assert_eq!(a.kind, b.kind),
            (a, b) => prop_assert_eq!(a, b),
        }
    }

    /// Exact marking is right in one place only, and elsewhere on the same
    /// pitch says so.
    #[test]
    fn one_place_is_exact(index in 0_usize..200, other in 0_usize..200) {
        let neck = banjo();
        let places = neck.positions();
        let asked: Position = places[index % places.len()];
        let given = places[other % places.len()];
        let target = neck.pitch_at(asked).expect("on the neck");
        let marked = mark(target, Some(asked), Answer::Place(given), Marking::ExactPlace, &neck);
        let marked = marked.expect("a place on the neck");
        prop_assert_eq!(marked.is_right(), asked == given);
        let elsewhere = Mark::Missed(Miss { kind: Some(MissKind::OtherPlace), side: None });
        let same_pitch = neck.pitch_at(given) == Some(target);
        prop_assert_eq!(marked == elsewhere, same_pitch && asked != given);
    }
}

#[test]
fn interval_names_in_misses_are_those_of_the_neck() {
    for semitones in 3_u8..=40 {
        if semitones % 12 == 0 {
            continue;
        }
        let mark = marked(D3, Answer::Pitch(pitch(D3 + semitones)), Marking::SamePitch);
        assert!(sentence(&mark).ends_with(&interval_name(u32::from(semitones))));
    }
}
