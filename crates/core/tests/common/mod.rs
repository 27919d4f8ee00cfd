//! Random necks for property tests.

use fifthpeg_core::{Capo, Neck, NeckDescription, NeckString, Pitch, ready_necks};
use proptest::prelude::*;

/// Any neck that can be: a ready one or a random one, with a capo or without.
pub fn any_neck() -> impl Strategy<Value = Neck> {
    let ready = (0..ready_necks().len()).prop_map(|at| ready_necks()[at].neck());
    (
        prop_oneof![ready, random_neck()],
        any::<Option<(u8, Option<u8>)>>(),
    )
        .prop_map(|(neck, capo)| {
            let Some((fret, short)) = capo else {
                return neck;
            };
            // Capos that do not fit leave the neck as it is.
            let capo = Capo {
                fret: fret % 12,
                short: short.map(|fret| fret % 20),
            };
            neck.with_capo(capo).unwrap_or(neck)
        })
}

fn random_neck() -> impl Strategy<Value = Neck> {
    let strings = prop::collection::vec(random_string(), 1..=16);
    (
        "[^\\pC\u{2028}\u{2029}]{0,20}x[\"\\\\#=♯]{0,5}",
        strings,
        100.0..=2000.0,
    )
        .prop_map(|(name, strings, scale_length_mm)| {
            let description = NeckDescription {
                // Without hidden signs and heaps of marks.
                name: fifthpeg_core::text::tamed(&name),
                strings,
                scale_length_mm,
                capo: None,
            };
            Neck::build(description).expect("made within the bounds")
        })
}

fn random_string() -> impl Strategy<Value = NeckString> {
    let course = prop::collection::vec(-24_i8..=24, 0..=3);
    (
        0_u8..=90,
        prop_oneof![Just(0_u8), 1_u8..=12],
        1_u8..=24,
        course,
    )
        .prop_map(|(open, first_fret, frets, course)| NeckString {
            open: Pitch::new(open).expect("in range"),
            first_fret,
            last_fret: first_fret + frets,
            course,
        })
}
