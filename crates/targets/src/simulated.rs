//! Whole lessons in virtual time, where the bytes say what people do and what
//! goes wrong.

use arbitrary::{Result, Unstructured};
use fifthpeg_sim::act::Act;
use fifthpeg_sim::run_acts;

/// Most acts of one lesson.
const MOST_ACTS: usize = 120;

/// A lesson.
pub fn lesson(bytes: &[u8]) {
    let Ok((seed, acts)) = read(bytes) else {
        return;
    };
    let outcome = run_acts(seed, &acts);
    assert_eq!(outcome.failure, None, "seed {seed}, {acts:?}");
}

fn read(bytes: &[u8]) -> Result<(u64, Vec<(u16, Act)>)> {
    let mut bytes = Unstructured::new(bytes);
    let seed = u64::from(bytes.arbitrary::<u8>()?);
    let mut acts = Vec::new();
    while !bytes.is_empty() && acts.len() < MOST_ACTS {
        acts.push((bytes.int_in_range(0..=4000)?, bytes.arbitrary()?));
    }
    Ok((seed, acts))
}
