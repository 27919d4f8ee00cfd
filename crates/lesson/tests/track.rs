//! Practice tracks: for every neck, reach, weighting and setting, what sounds
//! when is what was asked for.

use core::time::Duration;

use fifthpeg_core::{Neck, Pitch, Position, Reach, ReachStep, ready_necks};
use fifthpeg_lesson::message::Voice;
use fifthpeg_lesson::track::{
    AnswerPattern, Cue, GAPS, LEAD_IN, MAX_CALLS, REST, TrackError, TrackLength, TrackPart,
    TrackPlan, TrackSettings, easiest_place,
};
use proptest::prelude::*;

const ALIKE: &[(Pitch, f64)] = &[];

fn banjo() -> Neck {
    Neck::ready("banjo-open-g").expect("it comes with the program")
}

fn pitch(name: &str) -> Pitch {
    name.parse().expect(name)
}

fn reach(neck: &Neck, step: ReachStep) -> Reach {
    Reach::resolve(neck, &step.into()).expect("a reach")
}

/// The cues of one call.
fn of(plan: &TrackPlan, call: u16) -> Vec<Cue> {
    let cues = plan.cues.iter().copied();
    cues.filter(|cue| cue.call == Some(call)).collect()
}

fn heard(cues: &[Cue]) -> Vec<(u128, String, TrackPart)> {
    cues.iter()
        .map(|cue| {
            let name = cue.pitch.ascii_name(fifthpeg_core::Spelling::Sharps);
            (cue.at.as_millis(), name, cue.part)
        })
        .collect()
}

#[test]
fn a_call_is_laid_out_as_the_page_says() {
    let neck = banjo();
    let settings = TrackSettings {
        length: TrackLength::Calls(1),
        second_hearing: true,
        ..TrackSettings::default()
    };
    let weights = [(pitch("A4"), 1.0), (pitch("G#4"), 1e-9)];
    let whole = reach(&neck, ReachStep::WholeNeck);
    let plan = TrackPlan::new(&neck, &whole, &settings, 1, &weights).expect("a plan");
    let row = |at, name: &str, part| (at, name.to_owned(), part);
    assert_eq!(
        heard(&plan.cues),
        [
            row(2000, "A4", TrackPart::Call),
            row(6000, "A4", TrackPart::Again),
            row(10_000, "G4", TrackPart::Answer),
            row(10_900, "A4", TrackPart::Answer),
            row(12_500, "A4", TrackPart::Note),
        ]
    );
    // A4 is two frets up the short fifth string, and seven up the first.
    assert_eq!(plan.calls[0].place, Position::new(5, 7));
    assert_eq!(plan.length, Duration::from_millis(16_000));

    let climb = TrackSettings {
        answer: AnswerPattern::Climb,
        ..settings.clone()
    };
    let plan = TrackPlan::new(&neck, &whole, &climb, 1, &weights).expect("a plan");
    let answer: Vec<_> = plan
        .cues
        .iter()
        .filter(|c| c.part == TrackPart::Answer)
        .collect();
    let names: Vec<String> = answer.iter().map(|c| c.pitch.plain()).collect();
    assert_eq!(names, ["G4", "G#4", "A4"]);
}

trait Plain {
    fn plain(&self) -> String;
}

impl Plain for Pitch {
    fn plain(&self) -> String {
        self.ascii_name(fifthpeg_core::Spelling::Sharps)
    }
}

#[test]
fn the_open_strings_come_first_from_low_to_high() {
    let neck = banjo();
    let settings = TrackSettings {
        strings_first: true,
        ..TrackSettings::default()
    };
    let open = reach(&neck, ReachStep::AllOpen);
    let plan = TrackPlan::new(&neck, &open, &settings, 3, ALIKE).expect("a plan");
    let names: Vec<String> = plan.cues[..5].iter().map(|c| c.pitch.plain()).collect();
    assert_eq!(names, ["D3", "G3", "B3", "D4", "G4"]);
    assert!(
        plan.cues[..5]
            .iter()
            .all(|c| c.part == TrackPart::Tuning && c.call.is_none())
    );
    assert_eq!(plan.calls[0].at, Duration::from_secs(17));
}

#[test]
fn a_capo_moves_where_the_open_string_sounds() {
    let neck = banjo()
        .with_capo(fifthpeg_core::Capo {
            fret: 2,
            short: Some(7),
        })
        .expect("a capo");
    let low = reach(&neck, ReachStep::OctaveLow);
    let settings = TrackSettings {
        answer: AnswerPattern::Climb,
        ..TrackSettings::default()
    };
    let plan = TrackPlan::new(&neck, &low, &settings, 5, ALIKE).expect("a plan");
    for call in &plan.calls {
        let open = neck.open_position(call.place.string).expect("a string");
        let frets = usize::from(call.place.fret - open.fret);
        let steps = of(&plan, call.number)
            .iter()
            .filter(|c| c.part == TrackPart::Answer)
            .count();
        assert_eq!(steps, frets + 1, "{call:?}");
    }
}

#[test]
fn weights_say_how_often() {
    let neck = banjo();
    let low = reach(&neck, ReachStep::OctaveLow);
    let weights = [
        (pitch("D3"), 1.0),
        (pitch("E3"), 1.0),
        (pitch("F3"), 1.0),
        (pitch("F#3"), 1.0),
        (pitch("G3"), 1.0),
        (pitch("A3"), 0.0),
        (pitch("B3"), 2.0),
        (pitch("B3"), 2.0),
    ];
    let settings = TrackSettings {
        length: TrackLength::Calls(MAX_CALLS),
        ..TrackSettings::default()
    };
    let plan = TrackPlan::new(&neck, &low, &settings, 11, &weights).expect("a plan");
    let count = |name| plan.calls.iter().filter(|c| c.pitch == pitch(name)).count();
    // The rule against repeats takes from the liked note, which has a share of 4
    // in 9 by weight alone.
    let (liked, other) = (count("B3"), count("D3"));
    assert!(2 * liked > 3 * other, "{liked} {other}");
    assert_eq!((count("A3"), count("C4")), (0, 0));
}

#[test]
fn what_cannot_be_a_track_says_why() {
    let neck = banjo();
    let low = reach(&neck, ReachStep::OctaveLow);
    let refused = |settings: TrackSettings, weights: &[(Pitch, f64)]| {
        TrackPlan::new(&neck, &low, &settings, 0, weights).unwrap_err()
    };
    let usual = TrackSettings::default();
    let (d3, a4) = (pitch("D3"), pitch("A4"));
    assert_eq!(
        refused(usual.clone(), &[(a4, 1.0)]),
        TrackError::OutsideReach { pitch: a4 }
    );
    assert_eq!(refused(usual.clone(), &[(d3, 1.0)]), TrackError::OneNote);
    assert_eq!(
        refused(usual.clone(), &[(d3, -1.0)]),
        TrackError::Weight {
            pitch: d3,
            weight: -1.0
        }
    );
    assert!(matches!(
        refused(usual.clone(), &[(d3, f64::NAN)]),
        TrackError::Weight { .. }
    ));
    for calls in [0, MAX_CALLS + 1] {
        let length = TrackLength::Calls(calls);
        assert_eq!(
            refused(
                TrackSettings {
                    length,
                    ..usual.clone()
                },
                ALIKE
            ),
            TrackError::Calls { calls }
        );
    }
    let gap = Duration::from_secs(2);
    assert_eq!(
        refused(
            TrackSettings {
                gap,
                ..usual.clone()
            },
            ALIKE
        ),
        TrackError::Gap { gap }
    );
    let length = TrackLength::Within(Duration::from_secs(5));
    let short = refused(TrackSettings { length, ..usual }, ALIKE);
    assert_eq!(
        short.to_string(),
        "not one call fits into this time: allow 16 s or more"
    );
}

prop_compose! {
    fn any_settings()(
        calls in 1u16..60,
        minutes in proptest::option::of(1u64..20),
        gap_ms in 3000u64..=60_000,
        second_hearing: bool,
        strings_first: bool,
        answer in prop_oneof![
            Just(AnswerPattern::None), Just(AnswerPattern::OpenString), Just(AnswerPattern::Climb)
        ],
    ) -> TrackSettings {
        TrackSettings {
            length: match minutes {
                Some(minutes) => TrackLength::Within(Duration::from_secs(60 * minutes + 120)),
                None => TrackLength::Calls(calls),
            },
            gap: Duration::from_millis(gap_ms),
            second_hearing,
            voice: Voice::Banjo,
            answer,
            answer_voice: Voice::Plain,
            strings_first,
        }
    }
}

proptest! {
    #[test]
    fn every_track_keeps_its_promises(
        settings in any_settings(),
        neck in 0..ready_necks().len(),
        step in 0usize..6,
        seed: u64,
        liked in proptest::collection::vec((0usize..200, 0.01f64..5.0), 0..8),
    ) {
        let neck = Neck::ready(ready_necks()[neck].name).expect("it is listed");
        let Ok(reach) = Reach::resolve(&neck, &ReachStep::all()[step].into()) else {
            return Ok(());
        };
        let pitches = reach.pitches();
        let weights: Vec<(Pitch, f64)> = liked
            .into_iter()
            .map(|(n, weight)| (pitches[n % pitches.len()], weight))
            .collect();
        let plan = match TrackPlan::new(&neck, &reach, &settings, seed, &weights) {
            Err(TrackError::OneNote) => {
                prop_assert!(weights.iter().all(|w| w.0 == weights[0].0) && !weights.is_empty());
                return Ok(());
            }
            plan => plan.expect("these settings are sound"),
        };
        prop_assert_eq!(&plan, &TrackPlan::new(&neck, &reach, &settings, seed, &weights).expect("again"));

        match settings.length {
            TrackLength::Calls(calls) => prop_assert_eq!(plan.calls.len(), usize::from(calls)),
            TrackLength::Within(time) => prop_assert!(plan.length <= time && !plan.calls.is_empty()),
        }
        let mut notes: Vec<Pitch> = if weights.is_empty() {
            pitches.to_vec()
        } else {
            weights.iter().map(|w| w.0).collect()
        };
        notes.sort_unstable();
        notes.dedup();
        for call in &plan.calls {
            prop_assert!(notes.contains(&call.pitch) && reach.contains_pitch(call.pitch));
            prop_assert!(reach.contains_place(call.place));
            prop_assert_eq!(Some(call.place), easiest_place(&neck, &reach, call.pitch));
            prop_assert_eq!(neck.pitch_at(call.place), Some(call.pitch));
            prop_assert_eq!(call.answer_at - call.at, settings.gap);
            let cues = of(&plan, call.number);
            prop_assert_eq!((cues[0].at, cues[0].part, cues[0].pitch), (call.at, TrackPart::Call, call.pitch));
            let last = cues[cues.len() - 1];
            prop_assert_eq!((last.at, last.part, last.pitch), (call.note_at, TrackPart::Note, call.pitch));
            let again: Vec<Cue> = cues.iter().copied().filter(|c| c.part == TrackPart::Again).collect();
            prop_assert_eq!(again.len(), usize::from(settings.second_hearing));
            for cue in again {
                // Halves of a millisecond are dropped.
                prop_assert!((settings.gap - 2 * (cue.at - call.at)).as_millis() <= 1);
                prop_assert_eq!(cue.pitch, call.pitch);
            }
            // Nothing gives the note away before the gap is over.
            for cue in cues.iter().filter(|c| c.part == TrackPart::Answer) {
                prop_assert!(cue.at >= call.answer_at && cue.voice == settings.answer_voice);
            }
            let answers: Vec<Cue> = cues.into_iter().filter(|c| c.part == TrackPart::Answer).collect();
            let open = neck.pitch_at(neck.open_position(call.place.string).expect("a string"));
            match settings.answer {
                AnswerPattern::None => prop_assert!(answers.is_empty() && call.note_at == call.answer_at),
                AnswerPattern::OpenString => prop_assert_eq!(answers.len(), 2),
                AnswerPattern::Climb => {
                    prop_assert!(answers.windows(2).all(|p| p[0].pitch.semitones_to(p[1].pitch) == 1));
                }
            }
            if let (Some(first), Some(last)) = (answers.first(), answers.last()) {
                prop_assert_eq!((first.at, Some(first.pitch)), (call.answer_at, open));
                prop_assert_eq!(last.pitch, call.pitch);
            }
        }
        for pair in plan.calls.windows(2) {
            prop_assert!(notes.len() == 2 || pair[0].pitch != pair[1].pitch);
            prop_assert_eq!(pair[1].at, pair[0].note_at + REST);
        }
        prop_assert!(plan.cues[0].at == LEAD_IN);
        for pair in plan.cues.windows(2) {
            prop_assert!(pair[0].at + pair[0].lasts <= pair[1].at);
        }
        for cue in &plan.cues {
            prop_assert_eq!(cue.at.subsec_nanos() % 1_000_000, 0);
            prop_assert!(cue.lasts >= Duration::from_millis(400));
            prop_assert!(cue.at + cue.lasts <= plan.length);
        }
        prop_assert!(GAPS.contains(&settings.gap));
    }
}
