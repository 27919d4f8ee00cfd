//! Once made, an ear allocates nothing: it may sit in a thread that must not
//! wait for memory.

mod common;

use common::{RATE_HZ, Scene, ear, hz};

#[test]
fn hearing_and_polling_allocate_nothing() {
    let mut scene = Scene::new(RATE_HZ, 6.0);
    scene.noise(0.002, 5);
    for i in 0..20u64 {
        scene.pluck(
            0.3 + 0.25 * i as f64,
            hz(50 + (i * 5 % 34) as u8),
            0.1,
            -6.0,
            i,
        );
    }
    let mut ear = ear(RATE_HZ, 50, 84);
    let mut events = 0;
    let counted = allocation_counter::measure(|| {
        for block in scene.samples.chunks(480) {
            ear.hear(block);
            while ear.poll().is_some() {
                events += 1;
            }
        }
        ear.skip(100);
    });
    assert!(events > 15, "{events}");
    assert_eq!(counted.count_total, 0);
}
