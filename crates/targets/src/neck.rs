//! Neck files and reaches, as people write them.

use fifthpeg_core::{Neck, Reach, ReachSpec, ReachStep};

use crate::assert_may_be_shown;

/// A neck file.
pub fn file(bytes: &[u8]) {
    let Ok(text) = core::str::from_utf8(bytes) else {
        return;
    };
    let neck = match Neck::from_toml(text) {
        Ok(neck) => neck,
        Err(why) => return assert_may_be_shown(&why.to_string()),
    };
    let again = Neck::build(neck.description().clone()).expect("a neck that was good before");
    assert_eq!(again.description(), neck.description());
    for at in neck.positions() {
        let pitch = neck.pitch_at(at).expect("a place of the neck sounds");
        assert!(neck.places(pitch).contains(&at));
        assert!(neck.lowest() <= pitch && pitch <= neck.highest());
    }
    for step in ReachStep::all() {
        // Not every neck has every reach.
        let _ = Reach::resolve(&neck, &step.into());
    }
}

/// A reach.
pub fn reach(bytes: &[u8]) {
    let Ok(text) = core::str::from_utf8(bytes) else {
        return;
    };
    match text.parse::<ReachSpec>() {
        Ok(spec) => {
            let again = spec.to_string().parse::<ReachSpec>();
            assert_eq!(again.as_ref().ok(), Some(&spec), "{spec} {again:?}");
            let neck = Neck::ready("banjo-open-g").expect("a ready neck");
            if let Err(why) = Reach::resolve(&neck, &spec) {
                assert_may_be_shown(&why.to_string());
            }
        }
        Err(why) => assert_may_be_shown(&why.to_string()),
    }
}
