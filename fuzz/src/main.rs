//! One target, named by the variable `FIFTHPEG_TARGET`, under LLVM's libFuzzer:
//! see `scripts/fuzz`.

#![no_main]

use std::sync::OnceLock;

use fifthpeg_targets::{TARGETS, Target, find};
use libfuzzer_sys::fuzz_target;

fn target() -> &'static Target {
    static TARGET: OnceLock<&Target> = OnceLock::new();
    TARGET.get_or_init(|| {
        let name = std::env::var("FIFTHPEG_TARGET").unwrap_or_default();
        find(&name).unwrap_or_else(|| {
            let names: Vec<_> = TARGETS.iter().map(|target| target.name).collect();
            panic!("set FIFTHPEG_TARGET to one of {}", names.join(", "))
        })
    })
}

fuzz_target!(|bytes: &[u8]| (target().run)(bytes));
