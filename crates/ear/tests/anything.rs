//! Whatever a microphone gives, the ear neither falls nor tells nonsense.

mod common;

use common::{Scene, ear, hz};
use fifthpeg_ear::Heard;
use proptest::prelude::*;

fn odd_sample() -> impl Strategy<Value = f32> {
    prop_oneof![
        8 => -1.0f32..1.0,
        1 => Just(0.0),
        1 => prop_oneof![Just(f32::NAN), Just(f32::INFINITY), Just(-1e30), Just(1e-40)],
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    #[test]
    fn any_samples_blocks_and_gaps(
        odd in prop::collection::vec(odd_sample(), 500..4000),
        rate_hz in prop_oneof![Just(16_000u32), Just(44_100), Just(48_000), Just(192_000)],
        block in 1usize..3000,
        gap in 0u64..200_000,
        midi in 50u8..84,
    ) {
        let mut scene = Scene::new(rate_hz, 1.0);
        scene.pluck(0.3, hz(midi), 0.2, 0.0, u64::from(midi));
        let mut ear = ear(rate_hz, 50, 84);
        let mut events = Vec::new();
        for part in [&odd, &scene.samples, &odd, &scene.samples] {
            for samples in part.chunks(block) {
                ear.hear(samples);
                events.extend(std::iter::from_fn(|| ear.poll()));
            }
            ear.skip(gap);
        }
        let end = ear.position() as f64;
        prop_assert!(ear.level_db().is_finite());
        let mut named = Vec::new();
        for event in events {
            match event {
                Heard::Pluck(pluck) => {
                    prop_assert!(pluck.onset > -500.0 && pluck.onset < end);
                    prop_assert!(pluck.onset < pluck.decided_at as f64);
                    prop_assert!((47..=87).contains(&pluck.pitch.midi()));
                    prop_assert!(pluck.cents.abs() <= 50.0 && pluck.level_db.is_finite());
                    named.push(pluck.id);
                }
                Heard::Settled(settled) => {
                    prop_assert!(named.contains(&settled.id) && settled.cents.is_finite());
                }
                Heard::Withdrawn { id, .. } => prop_assert!(named.contains(&id)),
                _ => {}
            }
        }
    }
}
