//! What holds on every neck.

mod common;

use common::any_neck;
use fifthpeg_core::neck::LONGEST_NAME_BYTES;
use fifthpeg_core::text::may_be_shown;
use fifthpeg_core::{
    Neck, NeckDescription, NeckDrawing, NoteSet, Pitch, PitchClass, Position, Reach, ReachSpec,
    ReachStep, Reference, Scale,
};
use proptest::prelude::*;

fn any_pitch() -> impl Strategy<Value = Pitch> {
    (0_u8..=127).prop_map(|midi| Pitch::new(midi).expect("in range"))
}

fn any_spec() -> impl Strategy<Value = ReachSpec> {
    let scales: Vec<Scale> = Scale::all().collect();
    let notes = (0_u8..12, prop::sample::select(scales)).prop_map(|(root, scale)| NoteSet {
        root: PitchClass::new(root).expect("in range"),
        scale,
    });
    (
        prop::option::of(prop::collection::vec(1_u8..=16, 1..6)),
        prop::option::of((0_u8..=40, 0_u8..=40)),
        prop::option::of((any_pitch(), any_pitch())),
        prop::option::of(notes),
        prop::option::of(prop::sample::select(ReachStep::all().to_vec())),
    )
        .prop_map(|(strings, frets, pitches, notes, step)| ReachSpec {
            strings,
            frets,
            pitches,
            notes,
            step,
        })
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(300) })]

    /// place → pitch → places, and back.
    #[test]
    fn places_round_trip(neck in any_neck()) {
        let positions = neck.positions();
        prop_assert!(positions.is_sorted());
        for position in &positions {
            let pitch = neck.pitch_at(*position).expect("on the neck");
            prop_assert!(neck.places(pitch).contains(position), "{position}");
            prop_assert!((neck.lowest()..=neck.highest()).contains(&pitch));
        }
        let mut found = 0;
        for midi in 0..=127 {
            let pitch = Pitch::new(midi).expect("in range");
            let places = neck.places(pitch);
            found += places.len();
            prop_assert!(places.is_sorted());
            for place in places {
                prop_assert_eq!(neck.pitch_at(place), Some(pitch));
            }
        }
        // Nothing is found that is not on the neck, and nothing twice.
        prop_assert_eq!(found, positions.len());
    }

    /// A string rises a semitone a fret from its open place, and has no gap.
    #[test]
    fn strings_rise_by_semitones(neck in any_neck()) {
        for (number, string) in neck.numbered_strings() {
            let open = neck.open_position(number).expect("a string");
            let mut last = neck.pitch_at(open).expect("open sounds");
            let first_stopped = open.fret.max(string.first_fret) + 1;
            for fret in first_stopped..=string.last_fret {
                let pitch = neck.pitch_at(Position::new(number, fret)).expect("on the neck");
                prop_assert_eq!(last.semitones_to(pitch), 1);
                last = pitch;
            }
            let on_string = neck.positions().iter().filter(|p| p.string == number).count();
            prop_assert_eq!(on_string, usize::from(string.last_fret - first_stopped) + 2);
        }
    }

    /// A capo with the short string's own moves every open string alike and
    /// changes no place that is still there.
    #[test]
    fn a_capo_only_takes_places_away(neck in any_neck(), fret in 1_u8..12) {
        let bare = neck.without_capo();
        if let Ok(capoed) = bare.with_capo_at(fret) {
            for place in capoed.positions() {
                prop_assert_eq!(capoed.pitch_at(place), bare.pitch_at(place));
            }
            prop_assert!(capoed.positions().len() < bare.positions().len());
            prop_assert_eq!(capoed.without_capo(), bare);
        }
    }

    #[test]
    fn neighbours_and_octaves_go_both_ways(neck in any_neck(), pick in any::<prop::sample::Index>()) {
        let positions = neck.positions();
        let here = *pick.get(&positions);
        for near in neck.neighbours(here) {
            prop_assert!(neck.neighbours(near).contains(&here));
        }
        let class = neck.pitch_at(here).expect("on the neck").class();
        for other in neck.octaves(here) {
            prop_assert_eq!(neck.pitch_at(other).map(Pitch::class), Some(class));
            prop_assert!(neck.octaves(other).contains(&here));
        }
    }

    #[test]
    fn neck_files_round_trip(neck in any_neck()) {
        let text = neck.to_toml();
        match Neck::from_toml(&text) {
            Ok(back) => prop_assert_eq!(back, neck),
            Err(error) => prop_assert!(false, "{error}\n{text}"),
        }
    }

    /// No text makes the reader panic, and every error names a line there is.
    #[test]
    fn any_neck_file_is_answered(text in "(\\PC|\n|strings|open|=|\\[|\\]|\"|\\{|\\}|[0-9]){0,60}") {
        if let Err(error) = Neck::from_toml(&text) {
            prop_assert!((1..=text.lines().count().max(1) + 1).contains(&error.line));
            prop_assert!(!error.to_string().contains('\n'));
        }
    }

    #[test]
    fn reach_texts_round_trip(mut spec in any_spec()) {
        let text = spec.to_string();
        // As text, every string stands once, in order.
        if let Some(strings) = &mut spec.strings {
            strings.sort_unstable();
            strings.dedup();
        }
        prop_assert_eq!(text.parse(), Ok(spec));
    }

    /// However often a reach names its strings: what a neck accepts is short
    /// as text, and the text means the same places.
    #[test]
    fn accepted_reaches_are_short_as_text(
        neck in any_neck(),
        spec in any_spec(),
        strings in prop::collection::vec(any::<u8>(), 1..400),
    ) {
        let count = neck.string_count();
        let strings = strings.iter().map(|n| n % count + 1).collect();
        let spec = ReachSpec { strings: Some(strings), ..spec };
        if let Ok(reach) = Reach::resolve(&neck, &spec) {
            let text = spec.to_string();
            prop_assert!(text.len() < 256, "{}", text);
            let back: ReachSpec = text.parse().expect("a reach");
            prop_assert_eq!(Reach::resolve(&neck, &back), Ok(reach));
        }
    }

    #[test]
    fn any_text_is_answered(text in "\\PC{0,30}") {
        let _ = text.parse::<ReachSpec>();
        let _ = text.parse::<Position>();
        if let Ok(named) = text.parse::<fifthpeg_core::Named>() {
            prop_assert!(named.class().number() < 12);
        }
    }

    /// A reach holds two notes or more, all of them on the neck and sounding
    /// at one of its places.
    #[test]
    fn reaches_hold(neck in any_neck(), spec in any_spec()) {
        if let Ok(reach) = Reach::resolve(&neck, &spec) {
            prop_assert!(reach.pitches().len() >= 2);
            prop_assert!(reach.positions().is_sorted());
            for position in reach.positions() {
                let pitch = neck.pitch_at(*position).expect("on the neck");
                prop_assert!(reach.contains_pitch(pitch) && reach.contains_place(*position));
                prop_assert!(spec.notes.is_none_or(|notes| notes.contains(pitch.class())));
            }
            for pitch in reach.pitches() {
                prop_assert!(neck.places(*pitch).iter().any(|place| reach.contains_place(*place)));
            }
        }
    }

    /// Narrow steps lie within the whole neck.
    #[test]
    fn wide_steps_hold_narrow_ones(neck in any_neck()) {
        let resolve = |step: ReachStep| Reach::resolve(&neck, &step.into());
        if let (Ok(two), Ok(open), Ok(twelve), Ok(whole)) = (
            resolve(ReachStep::TwoOpen),
            resolve(ReachStep::AllOpen),
            resolve(ReachStep::TwelveFrets),
            resolve(ReachStep::WholeNeck),
        ) {
            prop_assert!(two.positions().iter().all(|p| open.contains_place(*p)));
            prop_assert!(open.positions().iter().all(|p| twelve.contains_place(*p)));
            prop_assert!(twelve.positions().iter().all(|p| whole.contains_place(*p)));
        }
    }

    /// A pointer at the place drawn finds that place, either hand.
    #[test]
    fn drawings_round_trip(neck in any_neck(), left in any::<bool>(), shown in 1_u8..=30) {
        let drawing = NeckDrawing::new(&neck, left, shown);
        prop_assert!(drawing.frets.windows(2).all(|w| (w[0].x < w[1].x) != left));
        for position in neck.positions() {
            if let Some((x, y)) = drawing.at(position) {
                prop_assert!((0.0..=1.0).contains(&x) && (0.0..=1.0).contains(&y));
                prop_assert_eq!(drawing.nearest(x, y), Some(position));
            } else {
                let past_edge = neck.string(position.string).is_some_and(|s| s.first_fret >= drawing.last_fret());
                prop_assert!(position.fret > drawing.last_fret() || past_edge, "{position}");
            }
        }
    }

    /// Nothing is pointed at that is not on the neck.
    #[test]
    fn pointing_anywhere_finds_only_places(neck in any_neck(), left in any::<bool>(), x in -0.5..1.5, y in -0.5..1.5) {
        let drawing = NeckDrawing::new(&neck, left, 12);
        if let Some(position) = drawing.nearest(x, y) {
            prop_assert!(neck.pitch_at(position).is_some());
        }
    }

    #[test]
    fn frequencies_round_trip(pitch in any_pitch(), a4 in 390.0_f64..=470.0, cents in -49.0_f64..49.0) {
        let reference = Reference::new(a4).expect("in range");
        let frequency_hz = pitch.frequency_hz(reference) * f64::exp2(cents / 1200.0);
        let (found, off) = Pitch::nearest(frequency_hz, reference).expect("a pitch");
        prop_assert_eq!(found, pitch);
        prop_assert!((off - cents).abs() < 1e-6);
    }

    /// Descriptions out of a peer's hands never panic the builder.
    #[test]
    fn any_description_is_answered(
        strings in prop::collection::vec((0_u8..=127, any::<u8>(), any::<u8>(), prop::collection::vec(any::<i8>(), 0..5)), 0..20),
        name in "\\PC{0,80}",
        scale_length_mm in any::<f64>(),
        capo in prop::option::of((any::<u8>(), any::<Option<u8>>())),
    ) {
        let strings = strings.into_iter().map(|(open, first_fret, last_fret, course)| fifthpeg_core::NeckString {
            open: Pitch::new(open).expect("in range"),
            first_fret,
            last_fret,
            course,
        });
        let capo = capo.map(|(fret, short)| fifthpeg_core::Capo { fret, short });
        let description = NeckDescription { name, strings: strings.collect(), scale_length_mm, capo };
        if let Ok(neck) = Neck::build(description) {
            prop_assert!(!neck.positions().is_empty());
            prop_assert!(neck.name().len() <= LONGEST_NAME_BYTES && may_be_shown(neck.name()));
        }
    }
}
